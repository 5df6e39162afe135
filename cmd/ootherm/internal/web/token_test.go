package web

import (
	"bytes"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"
)

// A token opens the metrics and what the JSON gives, as Bearer or as a password, and nothing
// else: no page, and nothing that writes.
func TestTokenReads(t *testing.T) {
	d, h, _ := closed(t, "four warm eggs")
	const token = "token of four warm eggs"
	bearer := func(text string) func(*http.Request) {
		return func(r *http.Request) { r.Header.Set("Authorization", "Bearer "+text) }
	}
	basic := func(text string) func(*http.Request) {
		return func(r *http.Request) { r.SetBasicAuth("anybody", text) }
	}
	for _, c := range []struct {
		target string
		login  func(*http.Request)
		want   int
	}{
		{"/metrics", bearer(token), 200},
		{"/metrics", basic(token), 200},
		{"/api/v1/now", bearer(token), 200},
		{"/api/v1/book", basic(token), 200},
		{"/metrics", bearer("guess"), 401},
		{"/metrics", basic("guess"), 401},
		{"/metrics", bearer(""), 401},
		{"/metrics", func(*http.Request) {}, 401},
		{"/", bearer(token), 303},
		{"/b/B1", basic(token), 303},
		{"/note/found", bearer(token), 303},
	} {
		if w := ask(h, c.target, far, c.login); w.Code != c.want {
			t.Errorf("%s: status %d, want %d", c.target, w.Code, c.want)
		} else if w.Code == 401 && w.Header().Get("WWW-Authenticate") == "" {
			t.Errorf("%s: nothing says how to log in", c.target)
		}
	}
	before := d.b.Len()
	line := `{"key":"x","at":"2026-06-09T09:15:00Z","entry":"note","text":"x"}`
	for _, w := range []*httptest.ResponseRecorder{
		post(h, "/api/v1/book", "application/x-ndjson", line, far, bearer(token)),
		post(h, "/api/v1/act", "application/json", `{"do":"acknowledge","alarm":"x"}`, far, bearer(token)),
		post(h, "/note/looked", form, "dam=Sorrel&key=x&at=2026-06-09T09:15", far, bearer(token)),
	} {
		if w.Code != 401 && w.Code != 403 {
			t.Errorf("a token writes: status %d", w.Code)
		}
	}
	if d.b.Len() != before {
		t.Error("a token wrote in the book")
	}
}

// A wrong token is in the log once an hour for each address, and never its text.
func TestWrongTokenIsLogged(t *testing.T) {
	var log bytes.Buffer
	d, _ := bookDesk(t, twoEggs)
	o, clock := options(season()), at
	o.Metrics = http.HandlerFunc(func(http.ResponseWriter, *http.Request) {})
	o.Writer, o.Book, o.Access, o.Clock = d, d, secret("four warm eggs"), func() time.Time { return clock }
	o.Log = slog.New(slog.NewTextHandler(&log, nil))
	h := handler(t, o)
	wrong := func(r *http.Request) { r.Header.Set("Authorization", "Bearer old-token") }
	for range 30 {
		ask(h, "/metrics", far, wrong)
		clock = clock.Add(time.Minute)
	}
	if n := strings.Count(log.String(), "not known or was revoked"); n != 1 || strings.Contains(log.String(), "old-token") {
		t.Errorf("%d lines in half an hour:\n%s", n, log.String())
	}
	clock = clock.Add(time.Hour)
	ask(h, "/metrics", far, wrong)
	if n := strings.Count(log.String(), "not known or was revoked"); n != 2 {
		t.Errorf("%d lines after another hour", n)
	}
}

// A program that was given no token is in the log too: otherwise only its own side knows why
// nothing is read.
func TestMissingTokenIsLogged(t *testing.T) {
	var log bytes.Buffer
	d, _ := bookDesk(t, twoEggs)
	o := options(season())
	o.Metrics = http.HandlerFunc(func(http.ResponseWriter, *http.Request) {})
	o.Writer, o.Book, o.Access = d, d, secret("four warm eggs")
	o.Log = slog.New(slog.NewTextHandler(&log, nil))
	h := handler(t, o)
	for range 3 {
		ask(h, "/metrics", far)
	}
	ask(h, "/", far)
	if n := strings.Count(log.String(), "a request without a token"); n != 1 || !strings.Contains(log.String(), "path=/metrics") {
		t.Errorf("%d lines: %s", n, log.String())
	}
}
