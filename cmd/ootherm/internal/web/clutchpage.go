package web

import (
	"cmp"
	"context"
	"fmt"
	"html/template"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/bookpages"
	"example.com/ootherm/cmd/ootherm/internal/web/notes"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
)

// clutchPage is a clutch: its dates first, then its eggs, then how it came to them.
type clutchPage struct {
	page.Frame
	notes.Log
	Name, About string
	Dams        []notes.Door       // each leads to her page
	Parts       []clutchPart       // where its eggs wait, the most pressing first
	Ended       *endedView         // nil while an egg waits
	Eggs        []bookpages.EggRow // those that are in no box now
	Doors       []notes.Door
}

// clutchPart is the eggs of a clutch in one box.
type clutchPart struct {
	page.Badge
	clutchName
	Answer, Sub    string
	Missing        []mendView
	Dates          []dateView
	Shares         string // what the dates mean
	Eggs           []bookpages.EggRow
	Heat, Narrowed template.HTML
	Felt           bookpages.Felt
	Why            *whyView
	Because        []string
	Differ         string
	rank           order
}

// clutchName is which eggs a part of a page is about.
type clutchName struct{ Name, Href, Dam, Box, BoxHref, Zone string }

// dateView is one of the three dates of a window.
type dateView struct {
	Word, Date, Away string
	Middle           bool
}

// whyView is the width of a window by its causes.
type whyView struct {
	Title, Remedy string
	Rows          []whyRow
}

type whyRow struct{ Cause, Wide, Days string }

// endedView is how a clutch ended, and how far off its forecast was.
type endedView struct {
	Answer, Sub string
	Dates       []dateView
	Figure      template.HTML
	Held        string
	Felt        bookpages.Felt
}

func (s boxPages) clutch(w http.ResponseWriter, r *http.Request) {
	n := s.State(w, r)
	if n == nil {
		return
	}
	name := r.PathValue("clutch")
	v := clutchPage{Frame: s.Frame(n, "Clutch "+name), Name: name}
	v.Here = "boxes"
	x := clutchMaker{boxPages: s, n: n, eggs: bookpages.EggsFor(s.Site, r, n, page.ClutchHref(name)), shown: s.shown(name)}
	found := false
	for _, box := range n.Boxes {
		for _, c := range box.Clutches {
			if c.Clutch != name {
				continue
			}
			found = true
			v.Dams, v.About = s.damDoors(strings.Split(words.OrEmpty(c.Dam), " or ")), s.about(words.OrEmpty(c.Profile), c.Laid.Earliest, c.Laid.Latest, n.At)
			if len(page.Waiting(c)) > 0 {
				v.Parts = append(v.Parts, x.part(r.Context(), box, c))
			}
		}
	}
	slices.SortStableFunc(v.Parts, func(a, b clutchPart) int { return a.rank.compare(b.rank) })
	if x.eggs.Book != nil {
		found = x.fromBook(&v, r) || found
	}
	if !found {
		s.Message(w, r, http.StatusNotFound, "No such clutch", fmt.Sprintf("No clutch is called %q. The first page lists those that wait, and those that are over.", name))
		return
	}
	s.Render(w, http.StatusOK, "clutch", v)
}

// about says what kind a clutch is of, and when it was laid.
func (s boxPages) about(kind string, earliest, latest, at time.Time) string {
	laid := "laid " + s.Reader.Days(earliest, latest) + ", " + words.Count(daysBetween(latest, at), "day", "days") + " ago"
	return words.Capital(strings.Join(slices.DeleteFunc([]string{kind, laid}, func(s string) bool { return s == "" }), ", ")) + "."
}

// clutchMaker makes the parts of a clutch's page.
type clutchMaker struct {
	boxPages
	n     *snapshot.Snapshot
	eggs  bookpages.Eggs
	shown []snapshot.Shown
}

// summary is what a box's page says of a clutch in it.
func (m clutchMaker) summary(b snapshot.Box, c snapshot.Clutch) clutchPart {
	v := clutchPart{clutchName: clutchName{c.Clutch, page.ClutchHref(c.Clutch), words.OrEmpty(c.Dam), b.Box, page.BoxHref(b.Box), b.Zone}}
	v.Badge, v.rank = stateView(c)
	v.Answer, v.Sub = m.answer(c, v.rank.stage)
	if v.rank.stage == stageNone {
		v.Missing = m.mends(b, c)
	}
	if c.Window != nil {
		v.Dates = m.dates(*c.Window)
		v.Shares = "In 10 of 100 clutches like this the first egg hatches before the first date. Half of such eggs hatch by the second, 95 of 100 by the third."
		if c.Window.Likely.IsZero() {
			v.Shares = "In 10 of 100 clutches like this the first egg hatches before the first date. 95 of 100 such eggs hatch by the last."
		}
	}
	for _, e := range c.Eggs {
		v.Eggs = append(v.Eggs, m.eggs.Row(e.Egg, words.OrEmpty(e.Slot), e.Fate))
	}
	v.Felt.Outside = m.Reader.Excursions(c.Outside)
	return v
}

// part is what a clutch's own page says of it.
func (m clutchMaker) part(ctx context.Context, b snapshot.Box, c snapshot.Clutch) clutchPart {
	at, v := m.n.At, m.summary(b, c)
	v.Because, v.Differ = m.because(b, c), words.Differ(c.Window, c.LineWindow)
	var told []snapshot.Shown
	for _, w := range m.shown {
		if w.Box == b.Box && (len(w.Eggs) == 0 || len(c.Eggs) > 0 && slices.Contains(w.Eggs, c.Eggs[0].Egg)) {
			told = append(told, w)
		}
	}
	if f := m.heat(c, told, at); f != nil {
		v.Heat = f.HTML()
	}
	if f := m.narrowed(c, b.Box, m.shown, at); f != nil {
		v.Narrowed = f.HTML()
	}
	m.addFelt(ctx, &v, b, c, told)
	v.Why = whyOf(c)
	return v
}

// answer is how long it is to the hatch, in one line and one sentence.
func (m clutchMaker) answer(c snapshot.Clutch, stage int) (answer, sub string) {
	if c.Developed != nil {
		sub = words.Percent(*c.Developed) + " developed. "
	}
	switch w := c.Window; stage {
	case stageLate:
		return "Late since " + m.Reader.ShortDate(w.LateAfter), sub + "It may still hatch: look daily, and note it lost when you are sure."
	case stageHatching:
		return "Look now", sub + words.Capital(hatching(c)) + "."
	case stageLook:
		return "Check daily", sub + words.Capital(m.Reader.Likely(*w)) + "."
	case stageAway:
		if fromToday(m.Site, order{stage, w.CheckFrom}, m.n.At) {
			return "Check from today", sub + words.Capital(m.Reader.Likely(*w)) + "."
		}
		to := w.Likely
		if to.IsZero() {
			to = w.CheckFrom
		}
		return words.Count(max(0, m.daysTo(to)), "day", "days") + " to go", sub + "Nothing to do until " + m.Reader.Date(w.CheckFrom) + "."
	}
	return "No window yet", sub
}

// daysTo are the local days from today to a time.
func (m clutchMaker) daysTo(t time.Time) int {
	midnight := func(t time.Time) time.Time {
		y, mo, d := t.In(m.Place()).Date()
		return time.Date(y, mo, d, 0, 0, 0, 0, time.UTC)
	}
	return daysBetween(midnight(m.n.At), midnight(t))
}

func (m clutchMaker) dates(w snapshot.Window) []dateView {
	one := func(word string, t time.Time, middle bool) dateView {
		v := dateView{Word: word, Date: m.Reader.ShortDate(t), Middle: middle}
		switch d := m.daysTo(t); {
		case t.IsZero():
			v.Date, v.Away = "any day", "or not at all"
		case d == 0:
			v.Away = "today"
		case d > 0:
			v.Away = "in " + words.Count(d, "day", "days")
		default:
			v.Away = words.Count(-d, "day", "days") + " ago"
		}
		return v
	}
	return []dateView{one("check from", w.CheckFrom, false), one("likely", w.Likely, true), one("late after", w.LateAfter, false)}
}

// addFelt adds what the eggs felt, and the alarms where they were.
func (m clutchMaker) addFelt(ctx context.Context, v *clutchPart, b snapshot.Box, c snapshot.Clutch, told []snapshot.Shown) {
	stays := []book.Stay{{Zone: b.Zone, Probe: words.OrEmpty(b.Probe), Offset: b.Offset, From: c.Laid.Latest}}
	var wanted bookpages.Wanted
	if m.eggs.Book != nil && len(c.Eggs) > 0 {
		for _, x := range slices.Backward(c.Eggs) { // the first of those that are still there
			e, ok := m.eggs.Book.Egg(x.Egg)
			if n := len(e.Stays); ok && n > 0 && e.Stays[n-1].To.IsZero() {
				stays = e.Stays
			}
		}
		if x, ok := m.eggs.Book.Clutch(c.Clutch); ok {
			wanted = bookpages.OfClutch(x)
		}
	}
	outside, x := v.Felt.Outside, m.clutchAxis(c, m.n.At, told)
	v.Felt = m.things.FeltBy(ctx, m.n, words.OrEmpty(c.Profile), stays, m.n.At, x, m.monthTicks(x), wanted)
	v.Felt.Outside = outside
	var felt []string
	if c.EquivalentCelsius != nil {
		felt = append(felt, "Same as a constant "+page.Tied(m.Reader.Temperature(*c.EquivalentCelsius))+".")
	}
	if c.Observed != nil {
		felt = append(felt, "Recorded "+page.Tied(words.Percent(*c.Observed))+" of the time.")
	}
	v.Felt.Text = strings.Join(felt, " ")
}

// whyOf is the width of a window by its causes; nil where it has none.
func whyOf(c snapshot.Clutch) *whyView {
	if c.Why == nil || c.Window == nil || !(c.Why.Days >= minWhyDays) {
		return nil
	}
	v := &whyView{Title: "Why it is " + words.Count(int(math.Round(c.Why.Days)), "day", "days") + " wide"}
	most := 0.0
	for _, p := range c.Why.Parts {
		most = max(most, p.Days)
	}
	for _, p := range c.Why.Parts {
		if p.Days >= minWhyDays {
			v.Rows = append(v.Rows, whyRow{words.Capital(words.WidthCause(p.Cause)), fmt.Sprintf("%.0f%%", 100*p.Days/most), words.Count(int(math.Round(p.Days)), "day", "days")})
		}
	}
	if r := c.Why.Remedy; r != nil {
		if text := words.Remedy(*r); text != "" {
			v.Remedy = words.Capital(text) + "."
		}
	}
	return v
}

// minWhyDays is the least part that is named: what is less is no day.
const minWhyDays = 0.5

// fromBook adds what the book knows of a clutch: what was noted, eggs in no box, and how it
// ended. It is false where the book has no such clutch.
func (m clutchMaker) fromBook(v *clutchPage, r *http.Request) bool {
	c, ok := m.eggs.Book.Clutch(v.Name)
	if !ok {
		return false
	}
	v.Name = c.ID
	if len(c.Dams) > 0 {
		v.Dams = m.damDoors(c.Dams)
	}
	v.About = m.about(c.Profile, c.Laid.After, c.Laid.By, m.n.At)
	waiting := ""
	for _, e := range c.Eggs {
		if e.Fate == book.Waiting || e.Fate == book.Pipped {
			waiting = cmp.Or(waiting, e.ID)
		}
		shown := slices.ContainsFunc(v.Parts, func(p clutchPart) bool {
			return slices.ContainsFunc(p.Eggs, func(x bookpages.EggRow) bool { return x.Name == e.ID })
		})
		if !shown {
			v.Eggs = append(v.Eggs, m.eggs.Row(e.ID, e.Slot, string(e.Fate)))
		}
	}
	back := page.ClutchHref(c.ID)
	v.Log = notes.Pages{Site: m.Site}.LogOf(r, m.eggs.Book, back, bookpages.OfClutch(c))
	if m.eggs.Noting() {
		if waiting != "" {
			v.Doors = append(v.Doors, bookpages.Door("egg-moved", "Egg moved", url.Values{"egg": {waiting}, "back": {back}}))
		}
		v.Doors = append(v.Doors, bookpages.Door("note", "A note", url.Values{"about": {c.ID}, "back": {back}}))
	}
	if over(c) {
		v.Ended = m.ending(r.Context(), c)
	}
	return true
}

// damDoors lead to the pages of dams; without a book they lead nowhere.
func (s boxPages) damDoors(names []string) (all []notes.Door) {
	for _, name := range names {
		d := notes.Door{Title: name}
		if s.Book != nil && name != "" {
			d.Href = page.DamHref(name)
		}
		all = append(all, d)
	}
	return all
}
