package web

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"
	"sync"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/bookpages"
	"example.com/ootherm/cmd/ootherm/internal/web/chart"
	"example.com/ootherm/cmd/ootherm/internal/web/notes"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
)

// lineView is the room's time line: every clutch from laid to its window, and every dam's
// next clutch.
type lineView struct {
	Title      string
	Head, Grid template.HTML
	Boxes      []lineBox
	Dams       []lineRow
	Empty      []notes.Door // boxes in which no egg waits
	Key        []keyView
}

// lineBox is the rows of one box.
type lineBox struct {
	Name, Href, Zone string
	Rows             []lineRow
	rank             order
}

// lineRow is one clutch, or one dam.
type lineRow struct {
	page.Badge
	Href, Name, Dam  string
	Eggs             template.HTML
	Window           string
	Likely, SoFar    string
	Heard            string // what the drawing shows, for those who hear the page
	Drawing          template.HTML
	Missing          []mendView
	Dates, Last, Vet string // of a dam
	rank             order
}

// keyView explains one mark.
type keyView struct {
	Icon template.HTML
	Text string
}

// How far the time line reaches: back to the oldest clutch that waits, at most backMost of
// its length; and forward to the last window, at least ahead. Our choice.
const (
	backMost  = 0.42
	leastBack = 14 * 24 * time.Hour
	ahead     = 45 * 24 * time.Hour
)

// timeline is the axis of the room's time line.
func (s firstPage) timeline(n *snapshot.Snapshot) chart.TimeLine {
	from, to := n.At.Add(-leastBack), n.At.Add(ahead)
	reach := func(a, b time.Time) {
		if a.Before(from) {
			from = a
		}
		if b.After(to) {
			to = b
		}
	}
	for _, b := range n.Boxes {
		for _, c := range b.Clutches {
			if _, rank := stateView(c); rank.stage == stageDone {
				continue
			}
			reach(c.Laid.Earliest, n.At)
			if c.Window != nil {
				reach(n.At, c.Window.LateAfter)
			}
		}
	}
	for _, d := range n.Dams {
		if d.Latest != nil {
			reach(n.At, *d.Latest)
		}
	}
	if most := time.Duration(float64(to.Sub(n.At)) * backMost / (1 - backMost)); n.At.Sub(from) > most {
		from = n.At.Add(-most)
	}
	to = to.Add(to.Sub(from) / 50) // the point of the last egg is not at the edge
	return chart.NewTimeLine(from.Add(-to.Sub(from)/50), n.At, to, s.Reader.Place)
}

// line is the time line of the room.
func (s firstPage) line(n *snapshot.Snapshot) lineView {
	t := s.timeline(n)
	v := lineView{Head: t.Head("today"), Grid: t.Grid()}
	fates := fatesOf(s.Site)
	courses := s.courses.of(s.Site, n.At)
	clutches, eggs := 0, 0
	for _, b := range n.Boxes {
		x := lineBox{Name: b.Box, Href: page.BoxHref(b.Box), Zone: b.Zone, rank: order{stage: stageDone}}
		for _, c := range b.Clutches {
			row := s.clutchRow(t, b, c, n.At, fates, courses[courseKey{c.Clutch, b.Box}])
			if row.rank.stage == stageDone {
				continue
			}
			clutches, eggs = clutches+1, eggs+len(page.Waiting(c))
			x.Rows = append(x.Rows, row)
			if row.rank.compare(x.rank) < 0 {
				x.rank = row.rank
			}
		}
		if len(x.Rows) == 0 {
			v.Empty = append(v.Empty, notes.Door{Href: x.Href, Title: x.Name})
			continue
		}
		slices.SortStableFunc(x.Rows, func(a, b lineRow) int { return a.rank.compare(b.rank) })
		v.Boxes = append(v.Boxes, x)
	}
	slices.SortStableFunc(v.Boxes, func(a, b lineBox) int { return a.rank.compare(b.rank) })
	v.Title = "In the room: no eggs"
	if clutches > 0 {
		v.Title = "In the room: " + words.Count(clutches, "clutch", "clutches") + ", " + words.Count(eggs, "egg", "eggs")
	}
	for _, d := range s.lay(n) {
		v.Dams = append(v.Dams, s.damRow(t, d))
	}
	if clutches > 0 || len(v.Dams) > 0 {
		v.Key = lineKey()
	}
	return v
}

// lineKey explains the marks of the time line.
func lineKey() []keyView {
	t := chart.TimeLine{X: chart.Scale{From: 0, To: 20 * 86400}, Now: math.NaN()}
	at := func(days float64) float64 { return days * 86400 }
	return []keyView{
		{t.Row(chart.Begun{At: at(2)}, chart.Wedge{Done: []chart.Point{{X: at(2), Y: 0}, {X: at(18), Y: 1}}}), "developing, from laid to today"},
		{t.Row(chart.Window{From: at(2), Likely: at(9), To: at(18)}), "hatch window: blunt end, check from; line, likely; point, late after. Yolk: the likelier half. Taller means surer."},
		{t.Row(chart.LayBox{From: at(3), Likely: at(10), To: at(17)}), "next clutch"},
		{chart.Icon(chart.Waiting), "waiting"}, {chart.Icon(chart.Pipped), "pipped"}, {chart.Icon(chart.Hatched), "hatched"}, {chart.Icon(chart.Lost), "lost"},
	}
}

// fates gives what became of an egg and when, by its name; nil where there is no book.
func fatesOf(s *page.Site) func(egg string) (book.Fate, time.Time) {
	if s.Book == nil {
		return nil
	}
	b := s.Book.Book()
	if b == nil {
		return nil
	}
	return func(egg string) (book.Fate, time.Time) {
		e, _ := b.Egg(egg)
		return e.Fate, e.FateAt
	}
}

// eggIcons are a clutch's eggs as small shapes.
func eggIcons(eggs []snapshot.Egg) template.HTML {
	var all []chart.Symbol
	for _, e := range eggs {
		all = append(all, bookpages.Symbol(e.Fate))
	}
	return chart.Icon(all...)
}

// clutchRow is a clutch's row: from laid to its window.
func (s firstPage) clutchRow(t chart.TimeLine, b snapshot.Box, c snapshot.Clutch, at time.Time, fates func(string) (book.Fate, time.Time), course []chart.Point) lineRow {
	r := s.Reader
	v := lineRow{Href: page.ClutchHref(c.Clutch), Name: c.Clutch, Dam: words.OrEmpty(c.Dam), Eggs: eggIcons(c.Eggs)}
	v.Badge, v.rank = stateView(c)
	now, laid := chart.Seconds(at), chart.Seconds(c.Laid.Latest)
	items := []chart.Item{chart.Begun{At: laid}}
	if c.Developed != nil {
		var done []chart.Point
		if len(course) == 0 || course[0].X > laid { // the first window was shown later
			done = append(done, chart.Point{X: laid, Y: 0})
		}
		items = append(items, chart.Wedge{Done: append(append(done, course...), chart.Point{X: now, Y: *c.Developed})})
		v.SoFar = words.Percent(*c.Developed)
	}
	if w := c.Window; w != nil {
		from, likely, late := chart.Seconds(w.CheckFrom), math.NaN(), chart.Seconds(w.LateAfter)
		if !w.Likely.IsZero() {
			likely = chart.Seconds(w.Likely)
			v.Likely = r.ShortDate(w.Likely)
		}
		items = append(items, chart.Wait{From: now, To: from}, chart.Window{From: from, Likely: likely, To: late}, chart.Late{From: late, To: now})
		v.Window = r.ShortDays(w.CheckFrom, w.LateAfter)
		switch v.rank.stage {
		case stageLate:
			v.Window = "since " + r.ShortDate(w.LateAfter)
		case stageLook, stageHatching:
			v.Window = "to " + r.ShortDate(w.LateAfter)
		}
	}
	if v.rank.stage == stageNone {
		v.Missing = s.boxes.mends(b, c)
	}
	if fates != nil {
		for _, e := range c.Eggs {
			if fate, when := fates(e.Egg); fate != book.Waiting && !when.IsZero() {
				items = append(items, chart.Mark{Symbol: bookpages.Symbol(string(fate)), X: chart.Seconds(when), Y: math.NaN()})
			}
		}
	}
	v.Heard = eggs(c.Eggs)
	v.Drawing = t.Row(items...)
	return v
}

// damRow is a dam's row: her last clutch, and when to look for the next.
func (s firstPage) damRow(t chart.TimeLine, d damView) lineRow {
	v := lineRow{Badge: d.Badge, Name: d.Name, Dates: d.Dates, Last: d.Last}
	if s.Book != nil {
		v.Href = page.DamHref(d.Name)
	}
	if d.Overdue {
		v.Vet = "A female straining or overdue: a reptile vet the same day."
	}
	var items []chart.Item
	for i, at := range d.laid {
		if i+1 < len(d.laid) && chart.Seconds(d.laid[i+1]) < t.X.From {
			continue // one mark at the left edge stands for all before it
		}
		items = append(items, chart.Begun{At: chart.Seconds(at)})
	}
	if d.due != nil {
		v.Window = s.Reader.ShortDays(d.due.from, d.due.to)
		switch d.rank {
		case layLook, laySeen:
			v.Window = "to " + s.Reader.ShortDate(d.due.to)
		case layOverdue:
			v.Window = "since " + s.Reader.ShortDate(d.due.to)
		}
		v.Likely = s.Reader.ShortDate(d.due.likely)
		if n := len(d.laid); n > 0 {
			items = append(items, chart.Wait{From: chart.Seconds(d.laid[n-1]), To: chart.Seconds(d.due.from)})
		}
		items = append(items, chart.LayBox{From: chart.Seconds(d.due.from), Likely: chart.Seconds(d.due.likely), To: chart.Seconds(d.due.to)})
	}
	v.Drawing = t.Row(items...)
	return v
}

// courseKey is a clutch in a box.
type courseKey struct{ clutch, box string }

// courses keeps how far each clutch was developed on the days it was shown. They are read
// from the windows shown before, at most every ten minutes of the station's time (our choice).
type courses struct {
	mu   sync.Mutex
	at   time.Time
	kept map[courseKey][]chart.Point
}

const coursesKept = 10 * time.Minute

// coursePoints is how many points a wedge has at most, for a page of at most 80 kB.
const coursePoints = 8

func (c *courses) of(s *page.Site, at time.Time) map[courseKey][]chart.Point {
	if s.Shown == nil {
		return nil
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.kept != nil && at.Sub(c.at).Abs() < coursesKept {
		return c.kept
	}
	all, err := s.Shown.Shown("")
	if err != nil {
		s.Log.Error("the windows shown before could not be read", "err", err)
		return nil
	}
	kept := map[courseKey][]chart.Point{}
	for _, w := range all {
		k := courseKey{w.Clutch, w.Box}
		kept[k] = append(kept[k], chart.Point{X: chart.Seconds(w.At), Y: w.Developed})
	}
	for k, points := range kept {
		kept[k] = pick(points, coursePoints)
	}
	c.at, c.kept = at, kept
	return kept
}

// finishedView is a clutch of which no egg waits.
type finishedView struct{ Href, Name, Text string }

// lastFinished is how far back the first page lists finished clutches: about a season (our
// choice).
const lastFinished = 200 * 24 * time.Hour

// finished are the clutches that are over, the last first.
func (s firstPage) finished(n *snapshot.Snapshot) (all []finishedView) {
	if s.Book == nil || s.Book.Book() == nil {
		for _, b := range n.Boxes {
			for _, c := range b.Clutches {
				if _, rank := stateView(c); rank.stage == stageDone {
					all = append(all, finishedView{page.ClutchHref(c.Clutch), strings.TrimSpace(c.Clutch + " " + words.OrEmpty(c.Dam)), eggs(c.Eggs)})
				}
			}
		}
		return all
	}
	clutches := slices.Clone(s.Book.Book().Clutches())
	slices.SortStableFunc(clutches, func(a, b book.Clutch) int { return lastFate(b).Compare(lastFate(a)) })
	for _, c := range clutches {
		if !over(c) || n.At.Sub(lastFate(c)) > lastFinished {
			continue
		}
		all = append(all, finishedView{page.ClutchHref(c.ID), strings.TrimSpace(c.ID + " " + strings.Join(c.Dams, " or ")), endedOf(s.Site, c)})
	}
	return all
}

// over reports whether no egg of a clutch waits.
func over(c book.Clutch) bool {
	return len(c.Eggs) > 0 && !slices.ContainsFunc(c.Eggs, func(e book.Egg) bool { return e.Fate == book.Waiting || e.Fate == book.Pipped })
}

// lastFate is when the last egg of a clutch hatched or was lost.
func lastFate(c book.Clutch) (at time.Time) {
	for _, e := range c.Eggs {
		if e.FateAt.After(at) {
			at = e.FateAt
		}
	}
	return at
}

// ended says what became of a clutch: "2 hatched 24 Nov, 60 days; 1 lost".
func endedOf(s *page.Site, c book.Clutch) string {
	var first time.Time
	hatched, lost := 0, 0
	for _, e := range c.Eggs {
		switch e.Fate {
		case book.Hatched:
			hatched++
			if first.IsZero() || e.FateAt.Before(first) {
				first = e.FateAt
			}
		case book.Lost:
			lost++
		}
	}
	var parts []string
	if hatched > 0 {
		parts = append(parts, fmt.Sprintf("%d hatched %s, %s after it was laid", hatched, s.Reader.ShortDate(first), words.Count(daysBetween(c.Laid.By, first), "day", "days")))
	}
	if lost > 0 {
		parts = append(parts, fmt.Sprintf("%d lost", lost))
	}
	return strings.Join(parts, ", ")
}

// daysBetween are whole days, rounded.
func daysBetween(a, b time.Time) int { return int(math.Round(b.Sub(a).Hours() / 24)) }
