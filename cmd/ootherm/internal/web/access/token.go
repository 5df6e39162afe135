package access

import (
	"net/http"
	"net/netip"
	"strings"
	"sync"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/web/page"
)

// forPrograms reports whether a token opens a request: it reads metrics or JSON.
func forPrograms(r *http.Request) bool {
	return (r.Method == http.MethodGet || r.Method == http.MethodHead) &&
		(r.URL.Path == "/metrics" || strings.HasPrefix(r.URL.Path, "/api/"))
}

// sentToken is the token that a request brings, as Bearer (RFC 6750) or as the password of
// any user (Basic, RFC 7617). It is empty where there is none.
func sentToken(r *http.Request) string {
	if scheme, token, ok := strings.Cut(r.Header.Get("Authorization"), " "); ok && strings.EqualFold(scheme, "Bearer") {
		return strings.TrimSpace(token)
	}
	_, password, _ := r.BasicAuth()
	return password
}

// mayRead reports whether a request brings a token that opens it.
func (s *Entrance) mayRead(r *http.Request) bool {
	secret := sentToken(r)
	if s.Access == nil || !forPrograms(r) {
		return false
	}
	if secret == "" {
		if from := page.Address(r); s.refused.isNews(from, s.Clock()) {
			s.Log.Warn("a request without a token", "from", from.String(), "path", r.URL.Path)
		}
		return false
	}
	ok, err := s.Access.ValidToken(secret)
	if err != nil {
		s.Log.Error("a token could not be checked", "err", err)
		return false
	}
	if from := page.Address(r); !ok && s.refused.isNews(from, s.Clock()) {
		s.Log.Warn("a request with a token that is not known or was revoked", "from", from.String(), "path", r.URL.Path)
	}
	return ok
}

// challenge says in the answer's header how a program may log in.
func challenge(w http.ResponseWriter, r *http.Request) {
	if !forPrograms(r) {
		return
	}
	if _, _, basic := r.BasicAuth(); basic { // without one, a browser would open a dialog of its own
		w.Header().Set("WWW-Authenticate", `Basic realm="ootherm", charset="UTF-8"`)
		return
	}
	w.Header().Set("WWW-Authenticate", `Bearer realm="ootherm"`)
}

// refusals remembers whose tokens were refused, so that a program that tries every few
// seconds does not fill the log.
type refusals struct {
	mu   sync.Mutex
	last map[netip.Addr]time.Time
}

// isNews reports whether an address was not refused in the last hour (our choice).
func (x *refusals) isNews(from netip.Addr, at time.Time) bool {
	x.mu.Lock()
	defer x.mu.Unlock()
	for k, t := range x.last {
		if at.Sub(t) >= time.Hour || at.Before(t) {
			delete(x.last, k)
		}
	}
	if _, ok := x.last[from]; ok || len(x.last) >= addresses {
		return false
	}
	if x.last == nil {
		x.last = map[netip.Addr]time.Time{}
	}
	x.last[from] = at
	return true
}
