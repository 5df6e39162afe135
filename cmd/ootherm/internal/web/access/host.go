package access

import (
	"fmt"
	"net"
	"net/http"
	"net/url"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/web/page"
)

// known reports whether the request asks for this station by a name of its own.
// A page elsewhere can make a browser ask us under a name of its choosing by
// pointing that name here (DNS rebinding); it cannot do so with a number, nor
// through the socket.
func (s *Entrance) known(r *http.Request) bool {
	if page.BySocket(r) {
		return true
	}
	host := r.Host
	if h, _, err := net.SplitHostPort(host); err == nil {
		host = h
	}
	host = strings.ToLower(strings.TrimSuffix(strings.Trim(host, "[]"), "."))
	return host == "localhost" || net.ParseIP(host) != nil || s.host != "" && host == strings.ToLower(s.host)
}

// hostOf is the host of the configured address; empty where none is configured.
func hostOf(address string) (string, error) {
	if address == "" {
		return "", nil
	}
	u, err := url.Parse(address)
	if err != nil {
		return "", fmt.Errorf("the station's url: %w", err)
	}
	if u.Hostname() == "" {
		return "", fmt.Errorf("the station's url %q names no host; write it like http://eggroom.local:8080", address)
	}
	return u.Hostname(), nil
}
