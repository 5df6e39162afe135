package page

import (
	"net"
	"net/http"
	"net/netip"
)

// MaxBook and MaxForm limit the bytes of a request's body. Many seasons of a book, and the
// longest text of a form, are much shorter (our choice).
const MaxBook, MaxForm = 16 << 20, 256 << 10

// CrossOrigin refuses what another site made a browser send.
func CrossOrigin() *http.CrossOriginProtection {
	cross := http.NewCrossOriginProtection()
	cross.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		http.Error(w, "This was sent from another site and was not done.", http.StatusForbidden)
	}))
	return cross
}

// Accept hands on a request that changes something: from here, from whom it may come, and no
// larger than most bytes.
func (s *Site) Accept(most int64, h http.HandlerFunc) http.Handler {
	return CrossOrigin().Handler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !s.Trusted(r) {
			http.Error(w, "This can only be done on the station itself; nothing was changed.", http.StatusForbidden)
			return
		}
		r.Body = http.MaxBytesReader(w, r.Body, most)
		h(w, r)
	}))
}

// Here reports whether the request comes from this machine.
func Here(r *http.Request) bool {
	if BySocket(r) {
		return true
	}
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	return err == nil && net.ParseIP(host).IsLoopback()
}

func BySocket(r *http.Request) bool {
	a, ok := r.Context().Value(http.LocalAddrContextKey).(net.Addr)
	return ok && a.Network() == "unix"
}

// Address returns the address of the other machine, or an invalid one.
func Address(r *http.Request) netip.Addr {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return netip.Addr{}
	}
	a, err := netip.ParseAddr(host)
	if err != nil {
		return netip.Addr{}
	}
	return a.Unmap().WithZone("")
}
