package zones

import (
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
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/web/alarmpages"
	"example.com/ootherm/cmd/ootherm/internal/web/chart"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// How far the plots of a zone's page go back. A season's length and the longest span that may
// be asked for are our choice.
const (
	week    = 7 * Day
	season  = 183 * Day
	longest = 800 * Day
)

// History is the past of a zone or of a probe: its plots, its alarms, and the days that may be
// asked for.
type History struct {
	First, Last string // of the span that was asked for
	Wrong       string
	Plots       []PlotView
	Alarms      []alarmpages.PastLink
}

// PlotView is one plot of the past.
type PlotView struct {
	ID, Title string
	Figure    template.HTML
	Trouble   string
}

// Mark is something that was noted, in a drawing.
type Mark struct {
	At     time.Time
	Symbol chart.Symbol
	Title  string
	Lane   string // marks of one lane lie side by side under the drawing
	Key    string // what the symbol stands for
}

// Subject is what a history is of: a zone, or one probe of it. Marks gives what was noted of
// it in a span; nil: nothing is.
type Subject struct {
	Zone  snapshot.Zone
	Probe string // empty: all of the zone
	Marks func(from, to time.Time) []Mark
}

// key names a subject among the traces that are kept.
func (x Subject) key() string {
	if x.Probe != "" {
		return "probe " + x.Probe
	}
	return x.Zone.Zone
}

// marks are what was noted of a subject in a span.
func (x Subject) marks(from, to time.Time) []Mark {
	if x.Marks == nil {
		return nil
	}
	return x.Marks(from, to)
}

// HistoryOf is the day, the week and the season of a subject, or the days that a request asks
// for, and the status of the answer. It is false where the client went away.
func (s *Views) HistoryOf(r *http.Request, n *snapshot.Snapshot, x Subject) (v History, status int, ok bool) {
	status = http.StatusOK
	from, to, err := s.days(r.URL.Query(), n.At)
	if err != nil {
		status, v.Wrong = s.Refusal(err)
		v.Wrong = words.Capital(v.Wrong) + "."
		from, to = n.At.Add(-week), n.At
	}
	v.First, v.Last = from.In(s.Place()).Format(time.DateOnly), to.Add(-time.Second).In(s.Place()).Format(time.DateOnly)
	begin := n.At.Add(-season)
	if from.Before(begin) {
		begin = from
	}
	alarms := s.pastAlarms(x, begin, n.At, &v)
	if err := s.addPlots(r.Context(), &v, x, n.At, alarms, r.URL.Query(), from, to); err != nil {
		return v, status, false // the client went away
	}
	return v, status, true
}

// days are the local days of a query, inclusive; without them they are the last week.
func (s *Views) days(q url.Values, at time.Time) (from, to time.Time, err error) {
	from, to = at.Add(-week), at
	for name, into := range map[string]*time.Time{"from": &from, "to": &to} {
		text := q.Get(name)
		if text == "" {
			continue
		}
		t, err := time.ParseInLocation(time.DateOnly, text, s.Place())
		if err != nil {
			return from, to, usererr.New(fmt.Sprintf("%s: %q is no day; write it like 2026-03-01", name, text))
		}
		if *into = t; name == "to" {
			*into = t.AddDate(0, 0, 1)
		}
	}
	switch {
	case !from.Before(to):
		return from, to, usererr.New("the last day is before the first")
	case to.Sub(from) > longest:
		return from, to, usererr.New("this is longer than two years")
	}
	return from, to, nil
}

// pastAlarms are the alarms of a subject since a time; the last that are over are listed.
func (s *Views) pastAlarms(x Subject, from, at time.Time, v *History) (own []snapshot.PastAlarm) {
	if s.Incidents == nil {
		return nil
	}
	all, err := s.Incidents.Alarms(from, at)
	if err != nil {
		s.Log.Error("the alarms that were could not be read", "err", err)
		return nil
	}
	in := words.Incident{Reader: s.Reader, At: at}
	for _, a := range slices.Backward(all) {
		another := x.Probe != "" && a.Probe != nil && *a.Probe != x.Probe
		if words.OrEmpty(a.Zone) != x.Zone.Zone || a.Priority == "notice" || another {
			continue
		}
		own = append(own, a)
	}
	for _, a := range slices.Backward(alarmpages.Worst(own)) {
		if a.Ended != nil && len(v.Alarms) < alarmsListed {
			v.Alarms = append(v.Alarms, alarmpages.PastLink{Href: alarmpages.IncidentHref(a.Began.Add(-alarmpages.Aside), a.Ended.Add(alarmpages.Aside)), Text: in.Alarm(a)})
		}
	}
	return own
}

// alarmsListed is how many alarms a zone's page lists, the last first (our choice).
const alarmsListed = 20

// addPlots adds the day, the week and the season, or the span that was asked for. It fails
// where the client went away.
func (s *Views) addPlots(ctx context.Context, v *History, x Subject, at time.Time, alarms []snapshot.PastAlarm, q url.Values, from, to time.Time) error {
	add := func(id, title string, f *chart.Figure, err error) error {
		h := PlotView{ID: id, Title: title}
		switch {
		case err != nil && ctx.Err() != nil:
			return err
		case err != nil:
			s.Log.Error("the past of a zone could not be read", "zone", x.Zone.Zone, "probe", x.Probe, "err", err)
			h.Trouble = "This could not be read; the station's log says why."
		case f == nil:
			h.Trouble = "Nothing was measured."
		default:
			h.Figure = f.HTML()
		}
		v.Plots = append(v.Plots, h)
		return nil
	}
	if q.Get("from")+q.Get("to") != "" && v.Wrong == "" {
		f, err := s.past(ctx, x, alarms, from, to)
		return add("span", s.Reader.Days(from, to.Add(-time.Second)), f, err)
	}
	t, err := s.traceOf(ctx, x, at)
	var f *chart.Figure
	if err == nil {
		f = s.Figure(x.Zone, t, alarms)
		s.addMarks(f, x, t.from, t.to)
	}
	if err := add("day", "Day", f, err); err != nil {
		return err
	}
	for _, span := range []struct {
		id, title string
		back      time.Duration
	}{{"week", "Week", week}, {"season", "Season", season}} {
		f, err := s.past(ctx, x, alarms, at.Add(-span.back), at)
		if err := add(span.id, span.title, f, err); err != nil {
			return err
		}
	}
	return nil
}

// byHour is how long a span may be to be drawn hour by hour; a longer one is drawn day by day.
// A phone has about a pixel and a half for each hour of ten days.
const byHour = 10 * Day

// past draws a subject's hours or days.
func (s *Views) past(ctx context.Context, x Subject, alarms []snapshot.PastAlarm, from, to time.Time) (*chart.Figure, error) {
	// A cell is no shorter than a summary: one without a summary of its own would look like a gap.
	n, cell := int(to.Sub(from)/time.Hour), "hour"
	if to.Sub(from) > byHour {
		n, cell = int(to.Sub(from)/Day), "day"
	}
	z := x.Zone
	t, err := hourlyTrace(ctx, s.Past, []Stay{{Probes: x.probes(), From: from, To: to}}, from, to, max(1, n))
	if err != nil {
		return nil, err
	}
	within := slices.DeleteFunc(slices.Clone(alarms), func(a snapshot.PastAlarm) bool { return a.Began.Before(from) || !a.Began.Before(to) })
	f := s.draw(z, t, within)
	if f == nil {
		return nil, nil
	}
	r := s.Reader
	caption := fmt.Sprintf("Line: mean of each %s; grey: lowest to highest. %s", cell, s.extremeDays(t))
	if g := t.gaps(); g > 0 {
		caption += " " + words.Count(g, "gap", "gaps") + " without readings."
	}
	s.describe(f, z, caption)
	// Room for the text and a gap on a phone: a weekday with its date, or a month.
	ticks, room := chart.Months(from, to, r.Place, func(t time.Time) string { return t.Format("Jan") }), 0.13
	if cell == "hour" {
		ticks, room = chart.Days(from, to, r.Place, 1, func(t time.Time) string { return t.Format("Mon 2") }), 0.2
	}
	ticks = slices.DeleteFunc(ticks, func(k chart.Tick) bool { at := f.Plot.X.Share(k.At); return at < room/2 || at > 1-room/2 })
	f.Plot.Ticks = chart.Thin(ticks, f.Plot.X, room)
	if len(f.Plot.Ticks) == 0 {
		f.Plot.Ticks = []chart.Tick{{At: f.Plot.X.From, Text: r.ShortDate(from)}, {At: f.Plot.X.To, Text: r.ShortDate(to)}}
	}
	f.Table = s.pastTable(t, cell)
	s.addMarks(f, x, from, to)
	return f, nil
}

// extremeDays says on which days it was coldest and warmest. Summaries do not know the minute.
func (s *Views) extremeDays(t Trace) string {
	r := s.Reader
	low, high := r.Date(t.lowestAt), r.Date(t.highestAt)
	if low == high {
		return fmt.Sprintf("Lowest %s and highest %s, both on %s.", r.Temperature(t.lowest), r.Temperature(t.highest), low)
	}
	return fmt.Sprintf("Lowest %s on %s, highest %s on %s.", r.Temperature(t.lowest), low, r.Temperature(t.highest), high)
}

// extremes says how cold and how warm it was at the most, and when.
func (s *Views) extremes(t Trace) string {
	r := s.Reader
	return fmt.Sprintf("Lowest %s (%s), highest %s (%s).", r.Temperature(t.lowest), r.When(t.lowestAt, t.to), r.Temperature(t.highest), r.When(t.highestAt, t.to))
}

// probes are the probes of a subject.
func (x Subject) probes() (names []string) {
	for _, p := range x.Zone.Probes {
		if x.Probe == "" || p.Probe == x.Probe {
			names = append(names, p.Probe)
		}
	}
	return names
}

// The height of a lane of marks, CSS pixels, and how near two marks lie that are drawn as one,
// a share of the width: a mark on a phone.
const (
	laneHeight = 24.0
	markApart  = 0.05
)

// addMarks adds what was noted in a span as lanes under a drawing.
func (s *Views) addMarks(f *chart.Figure, x Subject, from, to time.Time) {
	if f == nil {
		return
	}
	marks := x.marks(from, to)
	if len(marks) == 0 {
		return
	}
	var lanes []chart.Panel
	at := map[string]int{}
	var keys []string
	for _, m := range marks {
		if !slices.Contains(keys, m.Key) {
			keys = append(keys, m.Key)
		}
		i, ok := at[m.Lane]
		if !ok {
			i, at[m.Lane] = len(lanes), len(lanes)
			lanes = append(lanes, chart.Panel{High: 1, Height: laneHeight, Labels: []chart.Label{{At: 0.5, Text: m.Lane}}})
		}
		lanes[i].Items = s.withMark(lanes[i].Items, f.Plot.X, m, to)
	}
	slices.SortFunc(lanes, func(a, b chart.Panel) int { return -strings.Compare(a.Labels[0].Text, b.Labels[0].Text) })
	f.Plot.Panels = slices.Insert(f.Plot.Panels, 1, lanes...)
	f.Caption += " Marks: " + strings.Join(keys, "; ") + "."
	f.Plot.Label += " " + words.Count(len(marks), "entry", "entries") + " of the book in this time."
}

// joinOrder is which of two symbols stands for both, the later one.
var joinOrder = []chart.Symbol{chart.Pipped, chart.Hatched}

// withMark adds a mark to those of a lane, or joins it to the last where that is near.
func (s *Views) withMark(lane []chart.Item, x chart.Scale, m Mark, to time.Time) []chart.Item {
	at, title := chart.Seconds(m.At), m.Title+", "+s.Reader.When(m.At, to)
	if n := len(lane); n > 0 {
		if last, ok := lane[n-1].(chart.Mark); ok && x.Share(at)-x.Share(last.X) < markApart {
			last.Title += "; " + title
			if slices.Index(joinOrder, m.Symbol) > slices.Index(joinOrder, last.Symbol) {
				last.Symbol = m.Symbol
			}
			lane[n-1] = last
			return lane
		}
	}
	return append(lane, chart.Mark{Symbol: m.Symbol, X: at, Y: math.NaN(), Title: title})
}

// rowsMost is how many rows the table of a zone's past has at most, about half a season of days
// (our choice).
const rowsMost = 100

// pastTable is the figures of a zone's past.
func (s *Views) pastTable(t Trace, cell string) chart.Table {
	r, x, n := s.Reader, chart.Span(t.from, t.to), len(t.mid)
	table := chart.Table{Title: "The figures", Head: []string{"Time", "Mean", "Lowest", "Highest", "Humidity"}}
	step := (n + rowsMost - 1) / rowsMost
	for i := step / 2; i < n; i += step {
		if math.IsNaN(t.mid[i]) {
			continue
		}
		at := time.UnixMilli(int64(1000 * t.at(i)))
		name, wet := r.ShortDate(at), ""
		if cell == "hour" {
			name += " " + r.Clock(at)
		}
		if !math.IsNaN(t.damp[i]) {
			wet = percentOf(t.damp[i])
		}
		table.Rows = append(table.Rows, chart.Row{At: x.Share(chart.Seconds(at)), Cells: []string{name, r.Temperature(t.mid[i]), r.Degrees(t.low[i]), r.Degrees(t.high[i]), wet}})
	}
	return table
}

// Stay is a time under some probes, in a place that is warmer than they are by an offset in
// kelvin.
type Stay struct {
	Probes   []string
	Offset   float64
	From, To time.Time
}

// hourlyTrace reads the hours of stays into cells of equal length. An hour belongs to the cell
// in which its middle lies.
func hourlyTrace(ctx context.Context, past page.Past, stays []Stay, from, to time.Time, n int) (Trace, error) {
	t := emptyTrace(from, to, n)
	warmth, moisture := newCells(n), newCells(n)
	for _, stay := range stays {
		for _, probe := range stay.Probes {
			for h, err := range past.Hourly(ctx, probe, stay.From, stay.To) {
				if err != nil {
					return Trace{}, fmt.Errorf("the hours of probe %s: %w", probe, err)
				}
				middle := h.From.Add(h.To.Sub(h.From) / 2)
				if math.IsNaN(h.Mean) || middle.Before(from) || !middle.Before(to) || middle.Before(stay.From) || !middle.Before(stay.To) {
					continue
				}
				i := min(n-1, int(float64(middle.Sub(from))/float64(to.Sub(from))*float64(n)))
				warmth.add(i, h.Mean+stay.Offset)
				if !math.IsNaN(h.Humidity) {
					moisture.add(i, h.Humidity)
				}
				t.widen(i, h.Least+stay.Offset, h.From)
				t.widen(i, h.Most+stay.Offset, h.From)
			}
			warmth.close()
			moisture.close()
		}
	}
	for i := range n {
		t.mid[i], t.damp[i] = medianOf(warmth.means[i]), medianOf(moisture.means[i])
	}
	return t, nil
}
