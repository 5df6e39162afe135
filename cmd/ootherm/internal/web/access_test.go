package web

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"
)

// What a caller meets from outside, as package access documents it.
const (
	cookieName          = "ootherm"
	stays               = 30 * 24 * time.Hour
	tries, networkTries = 5, 25
	triesIn             = 15 * time.Minute
	maxChecks           = 8
	maxStrangersFields  = 100
)

type secret string

func (s secret) Right(text string) (bool, error) {
	if s == "" {
		return false, errors.New("gone")
	}
	return text == string(s), nil
}

func (s secret) Version() (string, error) { return string(s), nil }

func (s secret) ValidToken(text string) (bool, error) { return text == "token of "+string(s), nil }

// changing is a passphrase that a test changes.
type changing struct{ secret }

const phone = "192.0.2.7:5555"

func far(r *http.Request) { r.RemoteAddr = phone }

func ask(h http.Handler, target string, change ...func(*http.Request)) *httptest.ResponseRecorder {
	r := httptest.NewRequest(http.MethodGet, target, nil)
	r.Host = "127.0.0.1:8080"
	for _, c := range append([]func(*http.Request){far}, change...) {
		c(r)
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

func enter(h http.Handler, text string, change ...func(*http.Request)) *httptest.ResponseRecorder {
	return post(h, "/login", form, url.Values{"passphrase": {text}, "to": {"/b/B1"}}.Encode(), append([]func(*http.Request){far}, change...)...)
}

func closed(t *testing.T, p secret) (*desk, http.Handler, *time.Time) {
	d, _ := bookDesk(t, twoEggs)
	o := options(season())
	clock := at
	o.Metrics = http.HandlerFunc(func(http.ResponseWriter, *http.Request) {})
	o.Writer, o.Book, o.Access, o.Clock = d, d, p, func() time.Time { return clock }
	return d, handler(t, o), &clock
}

// From elsewhere nothing is shown and nothing written before the passphrase.
func TestNobodyComesInWithoutThePassphrase(t *testing.T) {
	d, h, clock := closed(t, "four warm eggs")
	before := d.b.Len()
	for target, want := range map[string]int{"/": 303, "/b/B1": 303, "/c/S1": 303, "/note": 303, "/note/found": 303, "/help": 303, "/help/alarm-kinds": 303, "/none": 303,
		"/api/v1/now": 401, "/api/v1/readings": 401, "/api/v1/book": 401, "/healthz": 200, "/login": 200, "/style.css": 200, "//api/v1/now": 301} {
		w := ask(h, target)
		if w.Code != want && !(target == "//api/v1/now" && w.Code == 303) {
			t.Errorf("%s: status %d, want %d", target, w.Code, want)
		}
		if strings.Contains(w.Body.String(), "Sorrel") || strings.Contains(w.Body.String(), "egg room") {
			t.Errorf("%s tells of the station", target)
		}
	}
	note := "dam=Sorrel&key=x&at=2026-06-09T09:15"
	line := `{"key":"x","at":"2026-06-09T09:15:00Z","entry":"note","text":"x"}`
	try := func(change ...func(*http.Request)) (status []int) {
		change = append([]func(*http.Request){far}, change...)
		return []int{post(h, "/note/looked", form, note, change...).Code, post(h, "/note", form, "undo=c", change...).Code,
			post(h, "/act", form, "do=acknowledge&alarm=x", change...).Code, post(h, "/api/v1/book", "application/x-ndjson", line, change...).Code}
	}
	forged := func(r *http.Request) { r.AddCookie(&http.Cookie{Name: cookieName, Value: "guess"}) }
	for _, status := range append(try(), try(forged)...) {
		if status != http.StatusUnauthorized {
			t.Errorf("a write without the passphrase: status %d", status)
		}
	}
	if w := enter(h, "four cold eggs"); w.Code != http.StatusForbidden || len(w.Result().Cookies()) != 0 {
		t.Errorf("a wrong one: status %d, cookies %v", w.Code, w.Result().Cookies())
	}
	w := enter(h, "four warm eggs")
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/b/B1" || len(w.Result().Cookies()) != 1 {
		t.Fatalf("the right one: status %d to %q", w.Code, w.Header().Get("Location"))
	}
	c := w.Result().Cookies()[0]
	if !c.HttpOnly || c.SameSite != http.SameSiteStrictMode || c.Path != "/" || len(c.Value) < 40 {
		t.Errorf("the cookie is %+v", c)
	}
	known := func(r *http.Request) { r.AddCookie(c) }
	for _, target := range []string{"/", "/note", "/api/v1/book"} {
		if w := ask(h, target, known); w.Code != 200 {
			t.Errorf("%s with the passphrase: status %d", target, w.Code)
		}
	}
	// Another site that makes this very browser send is still refused.
	for _, site := range []string{"cross-site", "same-site"} {
		for _, status := range try(known, func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", site) }) {
			if status != http.StatusForbidden {
				t.Errorf("a write from a %s page: status %d", site, status)
			}
		}
	}
	if d.b.Len() != before {
		t.Fatalf("%d entries, %d before: something was written", d.b.Len(), before)
	}
	if w := post(h, "/note/looked", form, note, far, known); w.Code != http.StatusSeeOther || d.b.Len() != before+1 {
		t.Errorf("a write with the passphrase: status %d: %s", w.Code, w.Body)
	}
	*clock = at.Add(stays)
	if w := ask(h, "/api/v1/now", known); w.Code != http.StatusUnauthorized {
		t.Errorf("after thirty days: status %d", w.Code)
	}
	*clock = at
	if w := ask(h, "/", known); !elementsOf(t, w).has("form", "action=/logout") {
		t.Errorf("the page does not let one leave: %s", w.Body)
	}
	if w := get(h, "/login"); elementsOf(t, w).has("form", "action=/logout") {
		t.Error("who is not in is asked to leave")
	}
	if w := post(h, "/logout", form, "", far, known); w.Code != http.StatusSeeOther {
		t.Errorf("leaving: status %d", w.Code)
	}
	if w := ask(h, "/api/v1/now", known); w.Code != http.StatusUnauthorized {
		t.Errorf("after leaving: status %d", w.Code)
	}
}

// A proxy on this machine makes everybody look like this machine, with or without
// saying so: once there is a passphrase, that is not enough to come in.
func TestProxyOnThisMachineIsAskedToo(t *testing.T) {
	d, h, _ := closed(t, "four warm eggs")
	before := d.b.Len()
	near := func(r *http.Request) { r.RemoteAddr = "127.0.0.1:5555" }
	handed := func(r *http.Request) { r.Header.Set("X-Forwarded-For", "192.0.2.7") }
	socket := func(r *http.Request) {
		*r = *r.WithContext(context.WithValue(r.Context(), http.LocalAddrContextKey, &net.UnixAddr{Name: "x", Net: "unix"}))
	}
	for _, c := range []struct {
		who    string
		target string
		change []func(*http.Request)
		want   int
	}{
		{"a proxy that is silent", "/", []func(*http.Request){near}, http.StatusSeeOther},
		{"a proxy that is silent", "/api/v1/now", []func(*http.Request){near}, http.StatusUnauthorized},
		{"a proxy that tells", "/api/v1/now", []func(*http.Request){near, handed}, http.StatusUnauthorized},
		{"a proxy that tells", "/metrics", []func(*http.Request){near, handed}, http.StatusUnauthorized},
		{"a scrape from here", "/metrics", []func(*http.Request){near}, http.StatusOK},
		{"a scrape from elsewhere", "/metrics", nil, http.StatusUnauthorized},
		{"the socket", "/api/v1/now", []func(*http.Request){socket}, http.StatusOK},
	} {
		if w := ask(h, c.target, c.change...); w.Code != c.want {
			t.Errorf("%s asks for %s: status %d, want %d", c.who, c.target, w.Code, c.want)
		}
	}
	line := `{"key":"x","at":"2026-06-09T09:15:00Z","entry":"note","text":"x"}`
	if w := post(h, "/api/v1/book", "application/x-ndjson", line, near); w.Code != http.StatusUnauthorized || d.b.Len() != before {
		t.Errorf("a write through a silent proxy: status %d, %d entries, %d before", w.Code, d.b.Len(), before)
	}
}

// A station that was restarted knows no browser: what was typed comes back
// after the passphrase. A page of another site cannot have it typed.
func TestWhatWasTypedComesBackAfterThePassphrase(t *testing.T) {
	d, h, _ := closed(t, "four warm eggs")
	before := d.b.Len()
	const typed = "box=B1&total_g=108.5&key=k&at=2026-06-09T09:15&evil=x"
	w := post(h, "/note/weighed", form, typed, far)
	if w.Code != http.StatusUnauthorized || d.b.Len() != before || elementsOf(t, w).sent().Get("to") != "/note/weighed?box=B1&total_g=108.5" {
		t.Errorf("status %d: %s", w.Code, w.Body)
	}
	w = post(h, "/note/weighed", form, typed, far, func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") })
	if w.Code != http.StatusUnauthorized || !strings.HasPrefix(w.Header().Get("Content-Type"), "text/plain") {
		t.Errorf("from another site: status %d: %s", w.Code, w.Body)
	}
	for what, sent := range map[string]string{"far too much": strings.Repeat("9", 9<<10), "too many fields": strings.Repeat("&a", maxStrangersFields)} {
		w = post(h, "/note/weighed", form, "box=B1&total_g="+sent, far)
		if w.Code != http.StatusUnauthorized || elementsOf(t, w).sent().Get("to") != "/note" {
			t.Errorf("%s: status %d", what, w.Code)
		}
		if w = post(h, "/login", form, "passphrase=four+warm+eggs&a="+sent, far); w.Code != http.StatusBadRequest {
			t.Errorf("%s at the login: status %d", what, w.Code)
		}
	}
}

// After five wrong tries even the right passphrase waits, for this address and
// its IPv6 neighbours alone.
func TestGuessesAreFew(t *testing.T) {
	_, h, clock := closed(t, "four warm eggs")
	from := func(a string) func(*http.Request) { return func(r *http.Request) { r.RemoteAddr = a } }
	for i := range tries {
		if w := enter(h, "guess", from("[2001:db8::1]:99")); w.Code != http.StatusForbidden {
			t.Fatalf("try %d: status %d", i+1, w.Code)
		}
	}
	if w := enter(h, "four warm eggs", from("[2001:db8::1]:98")); w.Code != http.StatusTooManyRequests || w.Header().Get("Retry-After") == "" {
		t.Errorf("from the same address: status %d", w.Code)
	}
	if w := enter(h, "four warm eggs", from("[2001:db8::2]:99")); w.Code != http.StatusSeeOther {
		t.Errorf("from a neighbour: status %d", w.Code)
	}
	for i := tries; i < networkTries; i++ {
		if w := enter(h, "guess", from(fmt.Sprintf("[2001:db8::1:%x]:99", i))); w.Code != http.StatusForbidden {
			t.Fatalf("try %d of the network: status %d", i+1, w.Code)
		}
	}
	if w := enter(h, "four warm eggs", from("[2001:db8::2]:99")); w.Code != http.StatusTooManyRequests {
		t.Errorf("after the tries of the whole network: status %d", w.Code)
	}
	if w := enter(h, "four warm eggs", from("[2001:db8:0:1::2]:99")); w.Code != http.StatusSeeOther {
		t.Errorf("from another: status %d", w.Code)
	}
	*clock = at.Add(triesIn)
	if w := enter(h, "four warm eggs", from("[2001:db8::1]:99")); w.Code != http.StatusSeeOther {
		t.Errorf("a quarter of an hour later: status %d", w.Code)
	}
}

// Another passphrase puts out every browser that gave the old one.
func TestAnotherPassphraseEndsSessions(t *testing.T) {
	d, _ := bookDesk(t, twoEggs)
	o := options(season())
	p := &changing{"four warm eggs"}
	o.Writer, o.Book, o.Access, o.Clock = d, d, p, func() time.Time { return at }
	h := handler(t, o)
	c := enter(h, "four warm eggs").Result().Cookies()[0]
	known := func(r *http.Request) { r.AddCookie(c) }
	if w := ask(h, "/api/v1/now", known); w.Code != http.StatusOK {
		t.Errorf("before the change: status %d", w.Code)
	}
	p.secret = "four cold eggs"
	if w := ask(h, "/api/v1/now", known); w.Code != http.StatusUnauthorized {
		t.Errorf("after the change: status %d", w.Code)
	}
}

// waiting is a passphrase whose checks wait for the test.
type waiting struct {
	secret
	begun, release chan struct{}
}

func (p waiting) Right(text string) (bool, error) {
	p.begun <- struct{}{}
	<-p.release
	return p.secret.Right(text)
}

// A full queue of checks answers 503 and counts no try.
func TestChecksAreFew(t *testing.T) {
	d, _ := bookDesk(t, twoEggs)
	o := options(season())
	p := waiting{"four warm eggs", make(chan struct{}), make(chan struct{})}
	o.Writer, o.Book, o.Access, o.Clock = d, d, p, func() time.Time { return at }
	h := handler(t, o)
	done := make(chan int)
	for i := range maxChecks {
		go func() {
			w := enter(h, "four warm eggs", func(r *http.Request) { r.RemoteAddr = fmt.Sprintf("192.0.2.%d:9", 100+i) })
			done <- w.Code
		}()
		<-p.begun
	}
	for range tries + 1 {
		if w := enter(h, "four warm eggs"); w.Code != http.StatusServiceUnavailable || w.Header().Get("Retry-After") == "" {
			t.Errorf("one more: status %d", w.Code)
		}
	}
	close(p.release)
	for range maxChecks {
		if code := <-done; code != http.StatusSeeOther {
			t.Errorf("one that waited: status %d", code)
		}
	}
	go func() { <-p.begun }()
	if w := enter(h, "four warm eggs"); w.Code != http.StatusSeeOther {
		t.Errorf("after the queue is empty: status %d", w.Code)
	}
}

// A passphrase that cannot be checked lets nobody in.
func TestPassphraseThatCannotBeChecked(t *testing.T) {
	_, h, _ := closed(t, "")
	if w := enter(h, "four warm eggs"); w.Code != http.StatusInternalServerError || len(w.Result().Cookies()) != 0 {
		t.Errorf("a passphrase that cannot be checked lets in: status %d", w.Code)
	}
}

// A button of an alarm that is pressed without the passphrase leads back to the alarm after it;
// one from another site does not.
func TestButtonWithoutThePassphrase(t *testing.T) {
	_, h, _ := closed(t, "four warm eggs")
	w := post(h, "/act", form, "do=acknowledge&alarm=temperature-high.warning%2Froom", far)
	page := elementsOf(t, w)
	if w.Code != http.StatusUnauthorized || page.sent().Get("to") != "/alarm?key=temperature-high.warning%2Froom" || !strings.Contains(w.Body.String(), "Press the button again after it.") {
		t.Errorf("status %d, to %q", w.Code, page.sent().Get("to"))
	}
	if w := post(h, "/act", form, "do=shelve&zone=room", far); elementsOf(t, w).sent().Get("to") != "/" {
		t.Error("a button of no alarm does not lead to the first page")
	}
	if w := post(h, "/act", form, "do=acknowledge&alarm=x", far, with("Sec-Fetch-Site", "cross-site")); !strings.HasPrefix(w.Header().Get("Content-Type"), "text/plain") {
		t.Errorf("another site's button gets %s", w.Header().Get("Content-Type"))
	}
}
