package plan

import (
	"net/netip"
	"net/url"
	"strings"
)

// IsLocalLink reports whether a link works only in the local network: its host is this
// machine, a name of the local network, or an address that is not routed (RFC 1918,
// RFC 4193, RFC 6762).
func IsLocalLink(link string) bool {
	u, err := url.Parse(link)
	if err != nil {
		return false
	}
	host := strings.ToLower(u.Hostname())
	if a, err := netip.ParseAddr(host); err == nil {
		return a.IsPrivate() || a.IsLoopback() || a.IsLinkLocalUnicast()
	}
	return !strings.Contains(host, ".") || strings.HasSuffix(host, ".local") || strings.HasSuffix(host, ".home.arpa")
}
