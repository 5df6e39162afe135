package web

import (
	"os"
	"os/exec"
	"strings"
	"testing"
)

const feedSecret = "a-secret-of-the-feed"

func feed(t *testing.T, n func(*Options)) string {
	t.Helper()
	d, _ := bookDesk(t, oneHatched, `{"key":"long","at":"2026-04-01T08:00:00Z","entry":"dam","dam":"Ährenglanz, die Gescheckte; mit einem Namen, der über jede Zeile reicht"}`,
		`{"key":"p","at":"2026-05-20T08:00:00Z","entry":"pairing","dam":"Ährenglanz, die Gescheckte; mit einem Namen, der über jede Zeile reicht","sire":"Juniper"}`)
	o := options(season())
	o.Writer, o.Book, o.Calendar, o.Access = d, d, feedSecret, secret("four warm eggs")
	n(&o)
	w := ask(handler(t, o), "/calendar/"+feedSecret+".ics")
	if w.Code != 200 || !strings.HasPrefix(w.Header().Get("Content-Type"), "text/calendar") {
		t.Fatalf("status %d, %q", w.Code, w.Header().Get("Content-Type"))
	}
	return w.Body.String()
}

// The form of RFC 5545, section 3.1, checked byte by byte.
func TestCalendarLines(t *testing.T) {
	body := feed(t, func(*Options) {})
	lines := strings.Split(body, "\r\n")
	if lines[len(lines)-1] != "" || strings.Contains(strings.ReplaceAll(body, "\r\n", ""), "\n") || strings.Contains(strings.ReplaceAll(body, "\r\n", ""), "\r") {
		t.Error("a line does not end in CR LF")
	}
	folded := false
	for _, l := range lines {
		if len(l) > 75 {
			t.Errorf("%d octets: %s", len(l), l)
		}
		folded = folded || strings.HasPrefix(l, " ")
	}
	if !folded {
		t.Error("no line was long enough to show folding")
	}
}

func TestCalendarKeepsItsNames(t *testing.T) {
	pick := func(body, prefix string) (all []string) {
		for _, l := range strings.Split(strings.ReplaceAll(body, "\r\n ", ""), "\r\n") {
			if strings.HasPrefix(l, prefix) {
				all = append(all, l)
			}
		}
		return all
	}
	first := feed(t, func(*Options) {})
	n := season()
	n.At = n.At.AddDate(0, 0, 1)
	later := feed(t, func(o *Options) { o.Source = fixed{n} })
	a, b := pick(first, "UID:"), pick(later, "UID:")
	if len(a) < 10 || strings.Join(a, " ") != strings.Join(b, " ") {
		t.Errorf("the names are %v, a day later %v", a, b)
	}
	seen := map[string]bool{}
	for _, u := range a {
		if seen[u] {
			t.Errorf("%s is there twice", u)
		}
		seen[u] = true
	}
	if x, y := pick(first, "SEQUENCE:"), pick(later, "SEQUENCE:"); len(x) != len(a) || x[0] >= y[0] {
		t.Errorf("the sequence is %v, a day later %v", x, y)
	}
}

// An independent parser reads the same days.
func TestCalendarThroughAnotherParser(t *testing.T) {
	const browser = "../../../../testdata/browser"
	if _, err := os.Stat(browser + "/node_modules/ical.js"); err != nil {
		t.Fatalf("%v; run npm install --no-package-lock in testdata/browser", err)
	}
	c := exec.Command("node", "calendar.mjs")
	c.Dir = browser
	c.Stdin = strings.NewReader(feed(t, func(*Options) {}))
	c.Stderr = os.Stderr
	out, err := c.Output()
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"Hatch window: Sorrel S1|2026-06-12|2026-06-21",
		"14 days old: hatchling S1-1|2026-06-22|2026-06-23",
		"Weigh box B1|2026-06-09|2026-06-10",
		"Lay box: look daily for Ährenglanz, die Gescheckte; mit einem Namen, der über jede Zeile reicht|2026-06-07|2026-07-05",
	} {
		if !strings.Contains(string(out), want+"\n") {
			t.Errorf("no %q in\n%s", want, out)
		}
	}
}

func TestCalendarNeedsItsSecret(t *testing.T) {
	d, _ := bookDesk(t)
	o := options(season())
	o.Book, o.Calendar, o.Access = d, feedSecret, secret("four warm eggs")
	h := handler(t, o)
	for _, path := range []string{"/calendar/guess.ics", "/calendar/.ics", "/calendar/" + feedSecret, "/calendar/" + feedSecret[:5] + ".ics"} {
		if w := ask(h, path); w.Code != 404 {
			t.Errorf("%s: status %d", path, w.Code)
		}
	}
}
