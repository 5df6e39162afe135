// Package calendar gives the days on which somebody should look as a calendar feed. It must not
// decide which days these are.
package calendar

import (
	"crypto/sha256"
	"crypto/subtle"
	"encoding/hex"
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
	ical "github.com/arran4/golang-ical"
)

const (
	aliveCheck = 14 * 24 * time.Hour  // when the review counts a hatchling
	nearly     = 3 * 24 * time.Hour   // a check that was missed stays as long; our choice
	ahead      = 366 * 24 * time.Hour // days further ahead are left out; our choice
	// refresh is how often a calendar should ask: windows move by hours (our choice).
	refresh = "PT1H"
	// maxNames of one kind stand in the title of a day; our choice.
	maxNames = 3
)

// Feed gives the days on which somebody should look, for a calendar.
type Feed struct{ *page.Site }

func (s Feed) Serve(w http.ResponseWriter, r *http.Request) {
	secret, ok := strings.CutSuffix(r.PathValue("secret"), ".ics")
	if !ok || subtle.ConstantTimeCompare([]byte(secret), []byte(s.Calendar)) != 1 {
		http.Error(w, "No calendar is at this address; the book's page tells the right one.", http.StatusNotFound)
		return
	}
	n, b := s.Source.Now(), s.Book.Book()
	if n == nil || b == nil {
		w.Header().Set("Retry-After", "60")
		http.Error(w, "The station is still opening its files; ask again in a minute.", http.StatusServiceUnavailable)
		return
	}
	remind, err := reminder(r.URL.Query().Get("remind"))
	if err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	c := s.events(n, b, remind)
	sum := sha256.Sum256([]byte(c.Serialize()))
	number, err := s.Revisions.Number(hex.EncodeToString(sum[:]), n.At)
	if err != nil {
		s.Log.Error("the calendar could not be numbered", "err", err)
		http.Error(w, "The calendar could not be numbered; the station's log says why.", http.StatusInternalServerError)
		return
	}
	for _, e := range c.Events() {
		// The time of the revision, so that a feed that is the same has the same bytes.
		e.SetDtStampTime(revisionsBegin.Add(time.Duration(number) * time.Minute))
		e.SetSequence(number)
	}
	w.Header().Set("Content-Type", "text/calendar; charset=utf-8")
	// RFC 5545, 3.1: lines end in CR LF and have at most 75 octets.
	_, _ = w.Write([]byte(c.Serialize(ical.WithNewLine("\r\n"), ical.WithLineLength(75)))) // a client that went away needs no answer
}

// calendarPath is the address of the calendar with a secret.
func Path(secret string) string { return "/calendar/" + secret + ".ics" }

// revisionsBegin is the time of revision 0 of a feed; each minute is one.
var revisionsBegin = time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)

// reminder is when on its day an event reminds, as the feed's address asks with remind=08:00.
// It is negative where it does not.
func reminder(text string) (time.Duration, error) {
	if text == "" {
		return -1, nil
	}
	at, err := time.Parse("15:04", text)
	if err != nil {
		return 0, fmt.Errorf("remind=%q is no time of day; write it like 08:00", text)
	}
	return time.Duration(at.Hour())*time.Hour + time.Duration(at.Minute())*time.Minute, nil
}

// task is one thing that a day asks for.
type task struct {
	lead     string // what to do
	name     string // with what: a clutch, a box, a dam, an egg
	category string
	words    string // more of it; may be empty
}

// days collects what each day asks for.
type days struct {
	site  *page.Site
	today time.Time
	all   map[time.Time][]task
}

// of is the day of a time where the station is, as midnight in UTC.
func (d days) of(t time.Time) time.Time {
	y, m, day := t.In(d.site.Place()).Date()
	return time.Date(y, m, day, 0, 0, 0, 0, time.UTC)
}

// add has each day from one time through another ask for a task, as far as they are to come.
func (d days) add(from, to time.Time, x task) {
	first, last := d.of(from), d.of(to)
	if first.Before(d.today) {
		first = d.today
	}
	if end := d.today.Add(ahead); last.After(end) {
		last = end
	}
	for t := first; !t.After(last); t = t.AddDate(0, 0, 1) {
		d.all[t] = append(d.all[t], x)
	}
}

// events has one event for each day that asks for something. A day keeps its name.
func (s Feed) events(n *snapshot.Snapshot, b *book.Book, remind time.Duration) *ical.Calendar {
	c := ical.NewCalendarFor("ootherm")
	c.SetMethod(ical.MethodPublish)
	c.SetXWRCalName(n.Station.Name)
	c.SetRefreshInterval(refresh) // RFC 7986 section 5.7
	c.SetXPublishedTTL(refresh)
	if s.URL != "" {
		c.SetUrl(s.URL)
	}
	sum := sha256.Sum256([]byte("calendar " + s.Calendar))
	station := hex.EncodeToString(sum[:6])
	all := days{site: s.Site, all: map[time.Time][]task{}}
	all.today = all.of(n.At)
	s.windows(n, all)
	s.layBoxes(n, all)
	s.weighings(n, all)
	aliveChecks(n.At, b, all)
	for _, day := range slices.SortedFunc(maps.Keys(all.all), time.Time.Compare) {
		tasks := all.all[day]
		e := c.AddEvent("day-" + day.Format(time.DateOnly) + "@" + station + ".ootherm")
		e.SetAllDayStartAt(day)
		e.SetAllDayEndAt(day.AddDate(0, 0, 1)) // not included, 3.6.1
		e.SetSummary(title(tasks))
		e.SetDescription(details(tasks))
		if s.URL != "" {
			e.SetURL(s.URL)
		}
		for _, category := range categoriesOf(tasks) {
			e.AddCategory(category)
		}
		e.SetTimeTransparency(ical.TransparencyTransparent) // the day stays free in the calendar
		if remind >= 0 {
			a := e.AddAlarm()
			a.SetAction(ical.ActionDisplay)
			a.SetProperty(ical.ComponentPropertyDescription, title(tasks))
			a.SetTrigger(fmt.Sprintf("PT%dM", int(remind.Minutes()))) // after the day begins
		}
	}
	return c
}

// title names the tasks of a day, those of one kind together: "Check daily: S1, T2. Weigh
// box: B2".
func title(tasks []task) string {
	names, leads := map[string][]string{}, []string{}
	for _, x := range tasks {
		if names[x.lead] == nil {
			leads = append(leads, x.lead)
		}
		names[x.lead] = append(names[x.lead], x.name)
	}
	for i, lead := range leads {
		all := names[lead]
		text := strings.Join(all[:min(len(all), maxNames)], ", ")
		if more := len(all) - maxNames; more > 0 {
			text += fmt.Sprintf(" and %d more", more)
		}
		leads[i] = lead + ": " + text
	}
	return strings.Join(leads, ". ")
}

// details has a line for each task of a day.
func details(tasks []task) string {
	var lines []string
	for _, x := range tasks {
		lines = append(lines, strings.TrimSpace(x.lead+": "+x.name+". "+x.words))
	}
	return strings.Join(lines, "\n")
}

// categoriesOf are the kinds of the tasks of a day.
func categoriesOf(tasks []task) (all []string) {
	for _, x := range tasks {
		if !slices.Contains(all, x.category) {
			all = append(all, x.category)
		}
	}
	return all
}

// layBoxes has each day ask for a look for each dam that may lay.
func (s Feed) layBoxes(n *snapshot.Snapshot, all days) {
	for _, d := range n.Dams {
		if d.LookFrom == nil || d.Likely == nil || d.Latest == nil {
			continue
		}
		if d.Due == "overdue" { // it stays until something is noted
			all.add(n.At, n.At, task{"Overdue to lay", d.Dam, "lay box",
				"Was expected by " + s.Reader.Date(*d.Latest) + ". A female straining or overdue: a reptile vet the same day."})
			continue
		}
		all.add(*d.LookFrom, *d.Latest, task{"Look into the lay box", d.Dam, "lay box", "Likely " + s.Reader.Date(*d.Likely) + ", " + words.OrEmpty(d.Because) + "."})
	}
}

// weighings has a day ask for the weighing of each box whose water is known.
func (s Feed) weighings(n *snapshot.Snapshot, all days) {
	for _, x := range n.Boxes {
		if x.Medium == nil || x.Medium.WeighNext == nil {
			continue
		}
		due, more := *x.Medium.WeighNext, ""
		if due.Before(n.At) {
			more = "Due since " + s.Reader.Date(due) + "."
			due = n.At // it stays due until it is weighed
		}
		all.add(due, due, task{"Weigh box", x.Box, "water", more})
	}
}

// aliveChecks has a day ask for each hatchling that is two weeks old then. A check that was
// missed stays for three days.
func aliveChecks(now time.Time, b *book.Book, all days) {
	for _, cl := range b.Clutches() {
		for _, e := range cl.Eggs {
			check := e.FateAt.Add(aliveCheck)
			if e.Fate != book.Hatched || check.Add(nearly).Before(now) {
				continue
			}
			if check.Before(now) {
				check = now
			}
			if !slices.ContainsFunc(e.Hatchling, func(h book.Event) bool { return h.What == book.Died }) {
				all.add(check, check, task{"14 days old", "hatchling " + e.ID, "hatchling", "Alive, shed, eating? Note it."})
			}
		}
	}
}

// windows has each day of the window of a clutch ask for a look, over all the boxes that its
// eggs are in.
func (s Feed) windows(n *snapshot.Snapshot, all days) {
	spans, order := windowSpans(n)
	for _, name := range order {
		x := spans[name]
		who := strings.TrimSpace(x.dam + " " + name)
		more := "Box " + x.boxes + ". " + words.Capital(s.Reader.Likely(x.window)) + ". It moves with the warmth; do not turn, wash or cut eggs on the strength of a forecast."
		lead := x.lead()
		if lead != lookDaily { // it asks today, and stays until something is noted
			all.add(n.At, n.At, task{lead, who, "hatch", more})
			x.from = all.today.AddDate(0, 0, 1)
			if y := x.window.CheckFrom; y.After(x.from) {
				x.from = y
			}
		}
		all.add(x.from, x.to, task{lookDaily, who, "hatch", more})
	}
}

// lookDaily is what a day of a hatch window asks for.
const lookDaily = "Look for hatchlings"

// windowSpan is the window of a clutch, over all its boxes.
type windowSpan struct {
	window     snapshot.Window
	from, to   time.Time
	dam, boxes string
	states     []string
}

// lead is what the clutch asks for today, by the most pressing of the clutch's states.
func (x *windowSpan) lead() string {
	lead := lookDaily
	for _, say := range [...]struct{ state, lead string }{
		{snapshot.StateLate, "Late"}, {snapshot.StateCheckDaily, "Check daily"}, {snapshot.StateHatching, "Hatching, look now"},
	} { // the last of them is the most pressing
		if slices.Contains(x.states, say.state) {
			lead = say.lead
		}
	}
	return lead
}

// windowSpans gives the windows of the clutches that wait, and the order of their names.
func windowSpans(n *snapshot.Snapshot) (spans map[string]*windowSpan, order []string) {
	spans, order = map[string]*windowSpan{}, nil
	for _, b := range n.Boxes {
		for _, c := range b.Clutches {
			if c.Window == nil || len(page.Waiting(c)) == 0 {
				continue
			}
			x, ok := spans[c.Clutch]
			if !ok {
				x = &windowSpan{*c.Window, c.Window.CheckFrom, c.Window.LateAfter, words.OrEmpty(c.Dam), b.Box, []string{words.OrEmpty(c.State)}}
				spans[c.Clutch], order = x, append(order, c.Clutch)
				continue
			}
			x.states = append(x.states, words.OrEmpty(c.State))
			x.boxes += ", " + b.Box
			if c.Window.CheckFrom.Before(x.from) {
				x.from, x.window = c.Window.CheckFrom, *c.Window
			}
			if c.Window.LateAfter.After(x.to) {
				x.to = c.Window.LateAfter
			}
		}
	}
	return spans, order
}
