package daemon

import (
	"net"

	"example.com/ootherm/cmd/ootherm/internal/config"
)

// NetworkAddresses returns the IPv4 addresses of this machine on its networks, as far as
// they are known.
func NetworkAddresses() (addresses []string) {
	all, err := net.InterfaceAddrs()
	if err != nil {
		return nil
	}
	for _, a := range all {
		if ip, ok := a.(*net.IPNet); ok && ip.IP.To4() != nil && ip.IP.IsGlobalUnicast() {
			addresses = append(addresses, ip.IP.String())
		}
	}
	return addresses
}

// setReachableURL gives a page that listens on every address, and for which no url is
// configured, the URL of one of these addresses: nothing reaches 0.0.0.0.
func setReachableURL(s *config.Station, addresses []string) {
	host, port, err := net.SplitHostPort(s.Listen)
	if s.Addressed || err != nil || host != "" && !net.ParseIP(host).IsUnspecified() {
		return
	}
	reachable := "127.0.0.1"
	if len(addresses) > 0 {
		reachable = addresses[0]
	}
	s.URL = "http://" + net.JoinHostPort(reachable, port)
}
