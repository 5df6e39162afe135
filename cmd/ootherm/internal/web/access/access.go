// Package access decides who may come in: it asks for the passphrase, keeps sessions, counts
// wrong tries, checks the tokens of programs and the names that the station is asked for by.
// It must not know what a page shows.
package access

import (
	"bytes"
	"crypto/rand"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/netip"
	"net/url"
	"strings"
	"sync"
	"time"
	"unicode"

	"example.com/ootherm/cmd/ootherm/internal/forms"
	"example.com/ootherm/cmd/ootherm/internal/listener"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
)

const (
	cookieName = "ootherm"
	stays      = 30 * 24 * time.Hour // a phone stays known; our choice
	sessions   = 64                  // phones and desks known at a time; our choice
	// As many wrong tries from one address in a quarter of an hour are enough:
	// at 480 a day a passphrase of four words outlasts the house. Our choice.
	tries, triesIn = 5, 15 * time.Minute
	// A home has one IPv6 network (/64), so that one device does not lock out the others.
	// At 2,400 a day a passphrase of four words still outlasts the house. Our choice.
	networkTries = 25
	// Checks that run or wait: each takes a fraction of a second of one core, and 19 MiB
	// while it runs. Our choice.
	maxChecks = 8
	addresses = 1024 // remembered at a time
)

// Entrance asks for the passphrase, and keeps out who has not given it.
type Entrance struct {
	*page.Site
	host    string // of the configured address
	door    door
	refused refusals
}

// door is who may come in. Sessions are kept hashed: who reads the memory of the
// station cannot become a phone. They end with the station.
type door struct {
	mu     sync.Mutex
	known  map[[sha256.Size]byte]session
	failed map[netip.Prefix]failures
	checks int // of a passphrase, that run or wait
}

// session is a browser that gave the passphrase.
type session struct {
	until   time.Time
	version string // of the passphrase that it gave; another one ends the session
}

type failures struct {
	n     int
	until time.Time
}

// trusted reports whether a request may read and write: it comes through the
// socket, or from a browser that gave the passphrase. While there is none, this
// machine is trusted. Once there is, it is not: a proxy or a tunnel on it would
// make a caller from anywhere look like this machine.
func (s *Entrance) Trusted(r *http.Request) bool {
	if page.BySocket(r) || s.Access == nil && page.Here(r) {
		return true
	}
	if r.URL.Path == "/metrics" && page.Here(r) && !handedOn(r) {
		return true // a Prometheus here cannot log in; it reads figures and no more
	}
	c, err := r.Cookie(cookieName)
	if err != nil || s.Access == nil {
		return false
	}
	s.door.mu.Lock()
	x, ok := s.door.known[sha256.Sum256([]byte(c.Value))]
	s.door.mu.Unlock()
	if !ok || !s.Clock().Before(x.until) {
		return false
	}
	version, err := s.Access.Version()
	return err == nil && version == x.version
}

// handedOn reports whether a proxy says that it asks for somebody else.
func handedOn(r *http.Request) bool {
	for _, name := range []string{"Forwarded", "X-Forwarded-For", "X-Forwarded-Host", "X-Forwarded-Proto", "X-Real-Ip", "Via"} {
		if len(r.Header.Values(name)) > 0 {
			return true
		}
	}
	return false
}

// free is what anybody may ask for: the health, the calendar, which has a secret
// of its own, and what the page for the passphrase is made of.
func free(path string) bool {
	return path == "/healthz" || path == "/login" || strings.HasPrefix(path, "/calendar/") || page.IsFile(path)
}

// guard answers only to the station's own names, and tells the browser to run
// and fetch nothing but what comes from here.
func (s *Entrance) Guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", "default-src 'self'; script-src 'self'; object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		if !s.known(r) {
			http.Error(w, fmt.Sprintf("This station does not go by the name %q. Ask for it by its number, or set url in the configuration to the name you use.", r.Host), http.StatusMisdirectedRequest)
			return
		}
		if s.admit(w, r) {
			next.ServeHTTP(w, r)
		}
	})
}

// admit answers those who may not come in, and reports whether one may.
func (s *Entrance) admit(w http.ResponseWriter, r *http.Request) bool {
	if s.Access == nil || s.Trusted(r) || s.mayRead(r) {
		listener.Trust(w)
		return true
	}
	if free(r.URL.Path) {
		return true
	}
	if r.Method == http.MethodGet && !strings.HasPrefix(r.URL.Path, "/api/") && r.URL.Path != "/metrics" {
		http.Redirect(w, r, "/login?"+url.Values{"to": {r.URL.RequestURI()}}.Encode(), http.StatusSeeOther)
		return false
	}
	if s.Writer != nil && s.Book != nil && strings.HasPrefix(r.URL.Path, "/note/") && page.CrossOrigin().Check(r) == nil {
		s.login(w, http.StatusUnauthorized, s.typed(w, r), "The passphrase is needed first; nothing was noted. What you typed comes back after it.")
		return false
	}
	if r.URL.Path == "/act" && strings.HasPrefix(r.Header.Get("Content-Type"), "application/x-www-form-urlencoded") && page.CrossOrigin().Check(r) == nil {
		s.login(w, http.StatusUnauthorized, pressed(w, r), "The passphrase is needed first; nothing was done. Press the button again after it.")
		return false
	}
	challenge(w, r)
	http.Error(w, "The passphrase is needed first: open /login in the browser. A program needs a token: ootherm token make NAME. Nothing was changed.", http.StatusUnauthorized)
	return false
}

// typed is the address of a form with what was typed into it, for after the
// passphrase: a station that was restarted knows no browser any more.
func (s *Entrance) typed(w http.ResponseWriter, r *http.Request) string {
	f, ok := forms.Of(strings.TrimPrefix(r.URL.Path, "/note/"))
	sent, err := strangersForm(w, r)
	if !ok || err != nil {
		return "/note"
	}
	answers := url.Values{}
	for _, x := range f.Fields {
		if v, ok := sent[x.Name]; ok {
			answers[x.Name] = v
		}
	}
	return "/note/" + f.Kind + "?" + answers.Encode()
}

// pressed is the address of the alarm whose button was pressed; of no alarm, the first page.
func pressed(w http.ResponseWriter, r *http.Request) string {
	sent, err := strangersForm(w, r)
	if key := sent.Get("alarm"); err == nil && key != "" {
		return "/alarm?" + url.Values{"key": {key}}.Encode()
	}
	return "/"
}

// Limits of a form from somebody who is not trusted yet. Both are our choice: a form of the
// book is far under them.
const (
	maxStrangersForm   = 8 << 10 // bytes
	maxStrangersFields = 100
)

// strangersForm reads the form of somebody who is not trusted yet.
func strangersForm(w http.ResponseWriter, r *http.Request) (url.Values, error) {
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, maxStrangersForm))
	if err != nil {
		return nil, err
	}
	if bytes.Count(body, []byte("&")) >= maxStrangersFields {
		return nil, errors.New("the form has too many fields")
	}
	return url.ParseQuery(string(body))
}

type loginView struct {
	page.Frame
	To, Fault string
}

// page asks for the passphrase.
func (s *Entrance) ServePage(w http.ResponseWriter, r *http.Request) {
	s.login(w, http.StatusOK, r.URL.Query().Get("to"), "")
}

func (s *Entrance) login(w http.ResponseWriter, status int, to, fault string) {
	// Who is not in yet sees nothing of the station, not even its name.
	s.Render(w, status, "login", loginView{page.Frame{Title: "Passphrase", Station: "ootherm"}, inside(to), fault})
}

// inside keeps an address to this station.
func inside(to string) string {
	if !strings.HasPrefix(to, "/") || strings.HasPrefix(to, "//") || strings.Contains(to, `\`) || strings.ContainsFunc(to, unicode.IsControl) {
		return "/"
	}
	return to
}

func (s *Entrance) ServeLogin(w http.ResponseWriter, r *http.Request) {
	form, err := strangersForm(w, r)
	if err != nil {
		s.login(w, http.StatusBadRequest, "/", "The form could not be read.")
		return
	}
	to, at, from := form.Get("to"), s.Clock(), page.Address(r)
	if !s.door.beginCheck() {
		w.Header().Set("Retry-After", "10")
		s.login(w, http.StatusServiceUnavailable, to, "Too many passphrases are being checked. Try again in ten seconds.")
		return
	}
	defer s.door.endCheck()
	if !s.door.mayTry(from, at) {
		w.Header().Set("Retry-After", "900")
		s.login(w, http.StatusTooManyRequests, to, "Too many wrong tries. Wait a quarter of an hour.")
		return
	}
	version, err := s.Access.Version() // before the check, so that a change in between ends the session
	right := false
	if err == nil {
		right, err = s.Access.Right(form.Get("passphrase"))
	}
	if err != nil {
		s.Log.Error("the passphrase could not be checked", "err", err)
		s.login(w, http.StatusInternalServerError, to, "The passphrase could not be checked; the station's log says why.")
		return
	}
	if !right {
		s.Log.Warn("a wrong passphrase", "from", from.String())
		s.login(w, http.StatusForbidden, to, "That is not the passphrase.")
		return
	}
	token := rand.Text() + rand.Text()
	s.door.let(token, version, from, at)
	http.SetCookie(w, &http.Cookie{Name: cookieName, Value: token, Path: "/", MaxAge: int(stays / time.Second),
		HttpOnly: true, SameSite: http.SameSiteStrictMode, Secure: r.TLS != nil})
	http.Redirect(w, r, inside(to), http.StatusSeeOther)
}

func (s *Entrance) ServeLogout(w http.ResponseWriter, r *http.Request) {
	if c, err := r.Cookie(cookieName); err == nil {
		s.door.mu.Lock()
		delete(s.door.known, sha256.Sum256([]byte(c.Value)))
		s.door.mu.Unlock()
	}
	http.SetCookie(w, &http.Cookie{Name: cookieName, Path: "/", MaxAge: -1, HttpOnly: true, SameSite: http.SameSiteStrictMode})
	http.Redirect(w, r, "/login", http.StatusSeeOther)
}

// allowance is how many tries a network may make.
type allowance struct {
	network netip.Prefix
	tries   int
}

// allowances returns what is counted for an address: itself, and with IPv6 its /64.
func allowances(a netip.Addr) []allowance {
	all := []allowance{{netip.PrefixFrom(a, a.BitLen()), tries}}
	if a.Is6() {
		all = append(all, allowance{netip.PrefixFrom(a, 64).Masked(), networkTries})
	}
	return all
}

// beginCheck takes a place in the queue of checks. It reports false if the queue is full.
func (d *door) beginCheck() bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.checks >= maxChecks {
		return false
	}
	d.checks++
	return true
}

func (d *door) endCheck() {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.checks--
}

// mayTry counts a try before it is made, so that many at once are many. A right
// one is taken back.
func (d *door) mayTry(from netip.Addr, at time.Time) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.failed == nil {
		d.failed = map[netip.Prefix]failures{}
	}
	for k, f := range d.failed {
		if !at.Before(f.until) {
			delete(d.failed, k)
		}
	}
	all := allowances(from)
	for _, x := range all {
		f, ok := d.failed[x.network]
		if f.n >= x.tries || !ok && len(d.failed) >= addresses {
			return false
		}
	}
	for _, x := range all {
		f, ok := d.failed[x.network]
		if !ok {
			f.until = at.Add(triesIn)
		}
		f.n++
		d.failed[x.network] = f
	}
	return true
}

// let lets a browser in that gave a version of the passphrase. The tries of its address are
// forgotten; of its network, this one is.
func (d *door) let(token, version string, from netip.Addr, at time.Time) {
	d.mu.Lock()
	defer d.mu.Unlock()
	for i, x := range allowances(from) {
		if f, ok := d.failed[x.network]; ok && i > 0 && f.n > 1 {
			f.n--
			d.failed[x.network] = f
			continue
		}
		delete(d.failed, x.network)
	}
	if d.known == nil {
		d.known = map[[sha256.Size]byte]session{}
	}
	var oldest [sha256.Size]byte
	for k, x := range d.known {
		if !at.Before(x.until) {
			delete(d.known, k)
		} else if first, ok := d.known[oldest]; !ok || x.until.Before(first.until) {
			oldest = k
		}
	}
	if len(d.known) >= sessions {
		delete(d.known, oldest)
	}
	d.known[sha256.Sum256([]byte(token))] = session{at.Add(stays), version}
}

// New makes the entrance of a site. It fails where the configured address names no host.
func New(s *page.Site) (*Entrance, error) {
	host, err := hostOf(s.URL)
	if err != nil {
		return nil, err
	}
	return &Entrance{Site: s, host: host}, nil
}
