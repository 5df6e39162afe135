package web

import (
	"errors"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
)

const feedSecret = "a-secret-of-the-feed"

// counted numbers contents from 1.
type counted struct {
	n       int
	content string
	fail    error
}

func (c *counted) Number(content string, _ time.Time) (int, error) {
	if c.fail != nil {
		return 0, c.fail
	}
	if content != c.content {
		c.n, c.content = c.n+1, content
	}
	return c.n, nil
}

func feed(t *testing.T, n func(*page.Options)) string {
	t.Helper()
	d, _ := bookDesk(t, oneHatched)
	o := options(season())
	o.Writer, o.Book, o.Calendar, o.Access, o.Revisions = d, d, feedSecret, secret("four warm eggs"), new(counted)
	n(&o)
	w := ask(handler(t, o), "/calendar/"+feedSecret+".ics")
	if w.Code != 200 || !strings.HasPrefix(w.Header().Get("Content-Type"), "text/calendar") {
		t.Fatalf("status %d, %q", w.Code, w.Header().Get("Content-Type"))
	}
	return w.Body.String()
}

// manyNames are dams whose names have characters of one to four octets at every
// place of a line.
func manyNames() *snapshot.Snapshot {
	n := season()
	d := n.Dams[0]
	for i := range 80 {
		d.Dam = strings.Repeat("x", i) + "ä漢🦎, die Gescheckte; \"é\"" + strings.Repeat("ß漢🦎", 12)
		n.Dams = append(n.Dams, d)
	}
	return n
}

// The form of RFC 5545, section 3.1, checked octet by octet: lines end in CR LF,
// have at most 75 octets, and are folded between characters.
func TestCalendarLines(t *testing.T) {
	body := feed(t, func(o *page.Options) { o.Source = fixed{manyNames()} })
	lines := strings.Split(body, "\r\n")
	if lines[len(lines)-1] != "" || strings.Contains(strings.ReplaceAll(body, "\r\n", ""), "\n") || strings.Contains(strings.ReplaceAll(body, "\r\n", ""), "\r") {
		t.Error("a line does not end in CR LF")
	}
	folded := false
	for _, l := range lines {
		if len(l) > 75 {
			t.Errorf("%d octets: %s", len(l), l)
		}
		if !utf8.ValidString(l) {
			t.Errorf("a character is cut in two: %q", l)
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
	c := new(counted)
	at := func(days int) string {
		n := season()
		n.At = n.At.AddDate(0, 0, days)
		return feed(t, func(o *page.Options) { o.Source, o.Revisions = fixed{n}, c })
	}
	first, again, later := at(0), at(0), at(1)
	a, b := pick(first, "UID:"), pick(later, "UID:")
	if len(a) < 12 || strings.Join(a[1:], " ") != strings.Join(b, " ") { // today's is over
		t.Errorf("the names are %v, a day later %v", a, b)
	}
	if first != again {
		t.Error("the same feed has other bytes")
	}
	seen := map[string]bool{}
	for _, u := range a {
		if seen[u] {
			t.Errorf("%s is there twice", u)
		}
		seen[u] = true
	}
	for body, want := range map[string]string{first: "SEQUENCE:1", again: "SEQUENCE:1", later: "SEQUENCE:2"} {
		for _, got := range append(pick(body, "SEQUENCE:"), want) {
			if got != want {
				t.Errorf("%s, want %s", got, want)
			}
		}
		if n := len(pick(body, "SEQUENCE:")); n != len(pick(body, "UID:")) {
			t.Errorf("%d of %d events are numbered", n, len(a))
		}
	}
}

func TestCalendarThatCannotBeNumbered(t *testing.T) {
	d, _ := bookDesk(t)
	o := options(season())
	o.Book, o.Calendar = d, feedSecret
	if _, err := New(o); err == nil {
		t.Error("a calendar that nothing numbers is served")
	}
	o.Revisions = &counted{fail: errors.New("the card is full")}
	if w := get(handler(t, o), "/calendar/"+feedSecret+".ics"); w.Code != 500 || strings.Count(w.Body.String(), "BEGIN:VEVENT") > 0 {
		t.Errorf("status %d: %s", w.Code, w.Body)
	}
}

func TestCalendarNeedsItsSecret(t *testing.T) {
	d, _ := bookDesk(t)
	o := options(season())
	o.Book, o.Calendar, o.Access, o.Revisions = d, feedSecret, secret("four warm eggs"), new(counted)
	h := handler(t, o)
	for _, path := range []string{"/calendar/guess.ics", "/calendar/.ics", "/calendar/" + feedSecret, "/calendar/" + feedSecret[:5] + ".ics"} {
		if w := ask(h, path); w.Code != 404 {
			t.Errorf("%s: status %d", path, w.Code)
		}
	}
}

// A day that asks for something has one event, however many clutches wait: what it asks for is
// in its title, with a link to the station and a category for each kind of task.
func TestADayHasOneEvent(t *testing.T) {
	body := strings.ReplaceAll(feed(t, func(*page.Options) {}), "\r\n ", "")
	days := map[string]int{}
	for event := range strings.SplitSeq(body, "BEGIN:VEVENT") {
		_, start, found := strings.Cut(event, "DTSTART;VALUE=DATE:")
		if !found {
			continue
		}
		days[start[:8]]++
		if !strings.Contains(event, "\r\nURL:http://eggroom.local:8080\r\n") || !strings.Contains(event, "\r\nCATEGORIES:") || strings.Contains(event, "VALARM") {
			t.Errorf("an event without its link or its category, or with a reminder that was not asked for: %s", event)
		}
	}
	if len(days) < 12 || days["20260609"] != 1 {
		t.Errorf("%v", days)
	}
	for day, n := range days {
		if n != 1 || day < "20260609" {
			t.Errorf("%s has %d events", day, n)
		}
	}
	for _, want := range []string{"REFRESH-INTERVAL;VALUE=DURATION:PT1H\r\n", "X-PUBLISHED-TTL:PT1H\r\n", "SUMMARY:Late: Lovage L1. ", "Overdue to lay: Lovage", "Weigh box: B2"} {
		if !strings.Contains(body, want) {
			t.Errorf("the feed lacks %s", want)
		}
	}
}

// The address says whether and when the calendar reminds.
func TestReminders(t *testing.T) {
	d, _ := bookDesk(t, oneHatched)
	o := options(season())
	o.Writer, o.Book, o.Calendar, o.Access, o.Revisions = d, d, feedSecret, secret("four warm eggs"), new(counted)
	h := handler(t, o)
	body := ask(h, "/calendar/"+feedSecret+".ics?remind=08:30").Body.String()
	if n := strings.Count(body, "BEGIN:VALARM"); n == 0 || n != strings.Count(body, "BEGIN:VEVENT") || n != strings.Count(body, "TRIGGER:PT510M\r\n") || n != strings.Count(body, "ACTION:DISPLAY\r\n") {
		t.Errorf("%d reminders in %s", n, body)
	}
	if w := ask(h, "/calendar/"+feedSecret+".ics?remind=soon"); w.Code != 400 {
		t.Errorf("status %d", w.Code)
	}
}
