package web

import (
	"errors"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/web/page"
)

// refused is an error that is the sender's to mend.
type refused struct{}

func (refused) Error() string        { return "internal wording" }
func (refused) ErrorMessage() string { return "that alarm is over" }

func post(h http.Handler, target, kind, body string, change ...func(*http.Request)) *httptest.ResponseRecorder {
	r := httptest.NewRequest(http.MethodPost, target, strings.NewReader(body))
	r.Host, r.RemoteAddr = "127.0.0.1:8080", "127.0.0.1:40000"
	r.Header.Set("Content-Type", kind)
	for _, c := range change {
		c(r)
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

const (
	form   = "application/x-www-form-urlencoded"
	jsonly = "application/json"
)

func TestActions(t *testing.T) {
	const key = "temperature-high.warning/room"
	for name, c := range map[string]struct {
		form   string // empty: only as JSON
		json   string
		status int // of the JSON
		want   page.Action
	}{
		"seen":              {"do=acknowledge&for=1h&alarm=" + key, `{"do":"acknowledge","alarm":"` + key + `"}`, 204, page.Action{Do: page.Acknowledge, Alarm: key}},
		"quiet":             {"do=shelve&for=1h&alarm=" + key, `{"do":"shelve","alarm":"` + key + `","for":"1h"}`, 204, page.Action{Do: page.Shelve, Alarm: key, For: time.Hour}},
		"quiet for long":    {"do=shelve&for=24h&alarm=" + key, `{"do":"shelve","alarm":"` + key + `","for":"24h"}`, 204, page.Action{Do: page.Shelve, Alarm: key, For: 24 * time.Hour}},
		"quiet by a button": {"do=shelve+8h&alarm=" + key, `{"do":"shelve","alarm":"` + key + `","for":"8h"}`, 204, page.Action{Do: page.Shelve, Alarm: key, For: 8 * time.Hour}},
		"end of quiet":      {"do=unshelve&alarm=" + key, `{"do":"unshelve","alarm":"` + key + `"}`, 204, page.Action{Do: page.Unshelve, Alarm: key}},
		"a whole zone":      {"do=out-of-service&zone=room&who=Ann", `{"do":"out-of-service","zone":"room","who":"Ann"}`, 204, page.Action{Do: page.OutOfService, Zone: "room", Who: "Ann"}},
		"back":              {"do=in-service&zone=room", `{"do":"in-service","zone":"room"}`, 204, page.Action{Do: page.InService, Zone: "room"}},
		"for ever":          {"do=shelve&alarm=" + key, `{"do":"shelve","alarm":"` + key + `"}`, 422, page.Action{}},
		"too long":          {"do=shelve&for=25h&alarm=" + key, `{"do":"shelve","alarm":"` + key + `","for":"25h"}`, 422, page.Action{}},
		"negative":          {"do=shelve&for=-1h&alarm=" + key, `{"do":"shelve","alarm":"` + key + `","for":"-1h"}`, 422, page.Action{}},
		"unknown":           {"do=explode&alarm=" + key, `{"do":"explode","alarm":"` + key + `"}`, 422, page.Action{}},
		"of nothing":        {"do=acknowledge", `{"do":"acknowledge"}`, 422, page.Action{}},
		"of two things":     {"do=acknowledge&alarm=a&zone=b", `{"do":"acknowledge","alarm":"a","zone":"b"}`, 422, page.Action{}},
		"not JSON":          {"", `{`, 400, page.Action{}},
		"unknown key":       {"", `{"do":"acknowledge","alarm":"a","box":"b"}`, 400, page.Action{}},
	} {
		e := &ear{}
		o := options(season())
		o.Writer = e
		h := handler(t, o)
		taken := 0
		if c.status == 204 {
			taken = 1
		}
		check := func(how string, w *httptest.ResponseRecorder, status int) {
			t.Helper()
			if w.Code != status {
				t.Errorf("%s, %s: status %d, want %d: %s", name, how, w.Code, status, w.Body)
			}
			if len(e.acts) != taken || taken == 1 && e.acts[0] != c.want {
				t.Errorf("%s, %s: the station heard %+v, want %+v", name, how, e.acts, c.want)
			}
			e.acts = nil
		}
		check("JSON", post(h, "/api/v1/act", jsonly, c.json), c.status)
		if c.form == "" {
			continue
		}
		status := http.StatusSeeOther
		if c.status != 204 {
			status = c.status
		}
		check("form", post(h, "/act", form, c.form), status)
	}
}

func TestWhatTheStationRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		err    error
		status int
		want   string
	}{
		"the sender's to mend": {refused{}, 422, "that alarm is over"},
		"ours":                 {errors.New("disk gone"), 500, "its log says why"},
	} {
		o := options(season())
		o.Writer = &ear{err: c.err}
		h := handler(t, o)
		for _, w := range []*httptest.ResponseRecorder{
			post(h, "/act", form, "do=acknowledge&alarm=a"), post(h, "/api/v1/act", jsonly, `{"do":"acknowledge","alarm":"a"}`),
			post(h, "/api/v1/book", "application/x-ndjson", "{}\n"),
		} {
			if w.Code != c.status || !strings.Contains(w.Body.String(), c.want) {
				t.Errorf("%s: %d %q, want %d %q", name, w.Code, w.Body, c.status, c.want)
			}
			if strings.Contains(w.Body.String(), "app:") {
				t.Errorf("%s: the person is shown %q", name, w.Body)
			}
		}
	}
}

func TestBookIsHeardWhole(t *testing.T) {
	e := &ear{}
	o := options(season())
	o.Writer = e
	h := handler(t, o)
	lines := `{"key":"a1","at":"2026-04-01T08:00:00Z","entry":"dam","dam":"Sorrel"}` + "\n" + `{"key":"a2","at":"2026-04-01T08:00:00Z","entry":"box","box":"B1","zone":"room"}` + "\n"
	if w := post(h, "/api/v1/book", "application/x-ndjson; charset=utf-8", lines); w.Code != 204 {
		t.Errorf("status %d: %s", w.Code, w.Body)
	}
	if len(e.notes) != 1 || e.notes[0] != lines {
		t.Errorf("the station heard %q", e.notes)
	}
	if w := post(h, "/api/v1/book", form, lines); w.Code != http.StatusUnsupportedMediaType {
		t.Errorf("as a form: status %d", w.Code)
	}
	if w := post(h, "/api/v1/book", "application/x-ndjson", strings.Repeat("{}\n", 20_001)); w.Code != http.StatusRequestEntityTooLarge {
		t.Errorf("more lines than a book has: status %d", w.Code)
	}
	if w := post(h, "/api/v1/book", "application/x-ndjson", strings.Repeat("x", page.MaxBook+1)); w.Code != http.StatusRequestEntityTooLarge {
		t.Errorf("too large: status %d: %s", w.Code, w.Body)
	}
	if len(e.notes) != 1 {
		t.Errorf("what was refused was noted: %d notes", len(e.notes))
	}
}

func TestOnlyFromHere(t *testing.T) {
	header := func(k, v string) func(*http.Request) {
		return func(r *http.Request) { r.Header.Set(k, v) }
	}
	from := func(addr string) func(*http.Request) { return func(r *http.Request) { r.RemoteAddr = addr } }
	for name, c := range map[string]struct {
		change func(*http.Request)
		ok     bool
	}{
		"the page itself":         {header("Sec-Fetch-Site", "same-origin"), true},
		"a command":               {func(*http.Request) {}, true},
		"by IPv6":                 {from("[::1]:4000"), true},
		"another site":            {header("Sec-Fetch-Site", "cross-site"), false},
		"a sibling site":          {header("Sec-Fetch-Site", "same-site"), false},
		"an old browser, foreign": {header("Origin", "http://evil.example"), false},
		"another machine":         {from("192.168.1.9:4000"), false},
		"an address that is none": {from("?"), false},
		"a foreign name":          {func(r *http.Request) { r.Host = "evil.example" }, false},
	} {
		for _, target := range []string{"/act", "/api/v1/act", "/api/v1/book"} {
			e := &ear{}
			o := options(season())
			o.Writer = e
			kind, body := jsonly, `{"do":"acknowledge","alarm":"a"}`
			if target == "/act" {
				kind, body = form, "do=acknowledge&alarm=a"
			}
			w := post(handler(t, o), target, kind, body, c.change)
			if heard := len(e.acts)+len(e.notes) > 0; heard != c.ok {
				t.Errorf("%s to %s: status %d, heard %v, want %v", name, target, w.Code, heard, c.ok)
			}
		}
	}
	// Whoever may not write is shown no buttons.
	o := options(season())
	o.Writer = &ear{}
	r := httptest.NewRequest(http.MethodGet, "/", nil)
	r.Host, r.RemoteAddr = "eggroom.local", "192.168.1.9:4000"
	w := httptest.NewRecorder()
	handler(t, o).ServeHTTP(w, r)
	if elementsOf(t, w).has("form", "method=post") {
		t.Error("another machine is shown buttons that will be refused")
	}
}

func FuzzForm(f *testing.F) {
	f.Add("do=shelve&for=1h&alarm=a")
	f.Add("do=acknowledge&zone=room&alarm=%00")
	f.Add("do=shelve&for=9999999999999999h&alarm=a")
	f.Add("%zz")
	o := options(season())
	e := &ear{}
	o.Writer = e
	h := handler(f, o)
	f.Fuzz(func(t *testing.T, body string) {
		e.acts = nil
		w := post(h, "/act", form, body)
		switch w.Code {
		case http.StatusSeeOther:
			a := e.acts[0]
			if a.Do == page.Shelve && (a.For <= 0 || a.For > 24*time.Hour) || a.Do != page.Shelve && a.For != 0 || (a.Alarm == "") == (a.Zone == "") {
				t.Errorf("%q: heard as %+v", body, a)
			}
		case 400, 422:
			if len(e.acts) != 0 {
				t.Errorf("%q: refused and heard", body)
			}
		default:
			t.Errorf("%q: status %d", body, w.Code)
		}
		if v, err := url.ParseQuery(body); err == nil && v.Get("do") == "" && w.Code == http.StatusSeeOther {
			t.Errorf("%q: nothing was to be done, and was", body)
		}
	})
}
