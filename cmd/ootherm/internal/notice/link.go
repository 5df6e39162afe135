package notice

import (
	"net/netip"
	"net/url"

	"example.com/ootherm/cmd/ootherm/internal/plan"
)

// linkScope is what a message says behind a link that does not work everywhere.
func linkScope(link string) string {
	u, err := url.Parse(link)
	if err != nil {
		return ""
	}
	if a, err := netip.ParseAddr(u.Hostname()); err == nil && a.IsLoopback() || u.Hostname() == "localhost" {
		return " (works on the station itself alone)"
	}
	if plan.IsLocalLink(link) {
		return " (works only at home)"
	}
	return ""
}
