package zones

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/chart"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// The heights of a zone's panels, CSS pixels.
const (
	temperatureHeight = 104.0
	humidityHeight    = 44.0
)

// safeShown is how near a reading comes to a safe limit, in kelvin, for the limit to be
// drawn: one far away would flatten the line. Our choice.
const safeShown = 2.0

// Figure draws a zone's last day: temperature, below it humidity, with what is wanted, what is
// safe and the alarms of the time. It is nil where nothing was measured.
func (s *Views) Figure(z snapshot.Zone, t Trace, alarms []snapshot.PastAlarm) *chart.Figure {
	f := s.draw(z, t, alarms)
	if f == nil {
		return nil
	}
	f.Plot.Ticks = s.dayTicks(t.from, t.to)
	s.describe(f, z, s.dayCaption(t)+outsideHumidity(z, t))
	f.Table = s.tableOf(z, t)
	return f
}

// draw draws a trace without its ticks, its words and its table.
func (s *Views) draw(z snapshot.Zone, t Trace, alarms []snapshot.PastAlarm) *chart.Figure {
	if math.IsNaN(t.lowest) {
		return nil
	}
	f := &chart.Figure{Plot: chart.Plot{X: chart.Span(t.from, t.to), Now: math.NaN()}}
	f.Plot.Panels = append(f.Plot.Panels, s.temperaturePanel(z, t, alarms, f.Plot.X))
	if p, ok := s.humidityPanel(z, t); ok {
		f.Plot.Panels = append(f.Plot.Panels, p)
	}
	return f
}

// describe gives a drawing its words.
func (s *Views) describe(f *chart.Figure, z snapshot.Zone, caption string) {
	f.Caption, f.Plot.Label = caption, z.Zone+". "+caption
	if band := s.Reader.Band(z.Wanted.Low, z.Wanted.High); band != "" {
		f.Caption += " Tinted: wanted."
		f.Plot.Label += " Wanted " + band + "."
	}
}

// temperaturePanel is the temperatures of a trace on an axis, with the zone's limits and its
// alarms.
func (s *Views) temperaturePanel(z snapshot.Zone, t Trace, alarms []snapshot.PastAlarm, x chart.Scale) chart.Panel {
	known := func(v *float64) float64 {
		if v == nil {
			return math.NaN()
		}
		return *v
	}
	wantedLow, wantedHigh, safeLow, safeHigh := known(z.Wanted.Low), known(z.Wanted.High), known(z.Safe.Low), known(z.Safe.High)
	if !(t.lowest < safeLow+safeShown) {
		safeLow = math.NaN()
	}
	if !(t.highest > safeHigh-safeShown) {
		safeHigh = math.NaN()
	}
	low, high := chart.Room(2, t.lowest, t.highest, wantedLow, wantedHigh, safeLow, safeHigh) // under 2 K a steady room looks like a storm
	p := chart.Panel{Low: low, High: high, Height: temperatureHeight}
	if z.Wanted.Low != nil || z.Wanted.High != nil {
		p.Items = append(p.Items, chart.Band{Style: chart.Wanted, Low: wantedLow, High: wantedHigh})
	}
	if !math.IsNaN(safeLow) {
		p.Items = append(p.Items, chart.Band{Style: chart.Unsafe, Low: math.NaN(), High: safeLow}, chart.Limit{Style: chart.SafeLimit, At: safeLow, Word: "safe limit"})
	}
	if !math.IsNaN(safeHigh) {
		p.Items = append(p.Items, chart.Band{Style: chart.Unsafe, Low: safeHigh, High: math.NaN()}, chart.Limit{Style: chart.SafeLimit, At: safeHigh, Word: "safe limit"})
	}
	if z.SetPoint != nil {
		p.Items = append(p.Items, chart.Limit{Style: chart.SetPoint, At: *z.SetPoint})
	}
	ranges, line := make([]chart.Range, len(t.mid)), make([]chart.Point, len(t.mid))
	for i := range t.mid {
		x := t.at(i)
		ranges[i], line[i] = chart.Range{X: x, Low: t.low[i], High: t.high[i]}, chart.Point{X: x, Y: t.mid[i]}
	}
	p.Items = append(p.Items, chart.Spread{Style: chart.Between, Ranges: ranges}, chart.Line{Style: chart.Temperature, Points: line})
	for _, m := range s.alarmMarks(z, t, alarms, x) {
		m.Y = high - (high-low)*9/temperatureHeight
		if m.Symbol == chart.Cold {
			m.Y = low + high - m.Y // at the other edge, where it was too cold
		}
		p.Items = append(p.Items, m)
	}
	for _, v := range []float64{wantedHigh, wantedLow, safeLow, safeHigh} {
		if !math.IsNaN(v) {
			p.Labels = append(p.Labels, chart.Label{At: v, Text: s.short(v)})
		}
	}
	if z.Wanted.Low == nil && z.Wanted.High == nil {
		p.Labels = append(p.Labels, chart.Label{At: t.highest, Text: s.short(t.highest)}, chart.Label{At: t.lowest, Text: s.short(t.lowest)})
	}
	return p
}

// alarmMarks are the alarms of a zone as marks. Those of one kind that lie near are one.
func (s *Views) alarmMarks(z snapshot.Zone, t Trace, alarms []snapshot.PastAlarm, x chart.Scale) (marks []chart.Mark) {
	for _, a := range alarms {
		if words.OrEmpty(a.Zone) != z.Zone || a.Priority == "notice" {
			continue
		}
		m := chart.Mark{Symbol: symbolOf(a.Alarm), X: chart.Seconds(a.Began), Title: words.Alarm(a.Alarm).Wrong + ", " + s.Reader.When(a.Began, t.to)}
		i := slices.IndexFunc(marks, func(o chart.Mark) bool {
			return o.Symbol == m.Symbol && math.Abs(x.Share(o.X)-x.Share(m.X)) < markApart
		})
		if i < 0 {
			marks = append(marks, m)
		} else {
			marks[i].Title += "; " + m.Title
		}
	}
	return marks
}

// humidityPanel is the humidities of a trace; false where there are none.
func (s *Views) humidityPanel(z snapshot.Zone, t Trace) (chart.Panel, bool) {
	line, values := make([]chart.Point, len(t.damp)), []float64(nil)
	for i, v := range t.damp {
		line[i] = chart.Point{X: t.at(i), Y: v}
		if !math.IsNaN(v) {
			values = append(values, v)
		}
	}
	if len(values) == 0 {
		return chart.Panel{}, false
	}
	low, high := math.NaN(), math.NaN()
	if z.HumidityBand.Low != nil {
		low = *z.HumidityBand.Low
	}
	if z.HumidityBand.High != nil {
		high = *z.HumidityBand.High
	}
	p := chart.Panel{Height: humidityHeight}
	p.Low, p.High = chart.Room(0.1, append(values, low, high)...)
	if !math.IsNaN(low) || !math.IsNaN(high) {
		p.Items = append(p.Items, chart.Band{Style: chart.Wanted, Low: low, High: high})
	} else {
		last := values[len(values)-1]
		p.Labels = []chart.Label{{At: last, Text: percentOf(last)}}
	}
	for _, v := range []float64{high, low} {
		if !math.IsNaN(v) {
			p.Labels = append(p.Labels, chart.Label{At: v, Text: percentOf(v)})
		}
	}
	p.Items = append(p.Items, chart.Line{Style: chart.Humidity, Points: line})
	return p, true
}

func percentOf(ratio float64) string { return fmt.Sprintf("%.0f %%", 100*ratio) }

// short is a temperature where there is little room: 76°.
func (s *Views) short(celsius float64) string {
	return strings.TrimSuffix(s.Reader.Degrees(celsius), ".0") + "°"
}

// dayTicks are every six hours of the station's own day, and now.
func (s *Views) dayTicks(from, to time.Time) (ticks []chart.Tick) {
	x := chart.Span(from, to)
	for _, k := range chart.Hours(from, to, s.Reader.Place, 6, s.Reader.Clock) {
		if at := x.Share(k.At); at > 0.07 && at < 0.8 { // no text over the edge or the word at the end
			ticks = append(ticks, k)
		}
	}
	return append(ticks, chart.Tick{At: x.To, Text: "now"})
}

func (s *Views) dayCaption(t Trace) string {
	r := s.Reader
	when := func(at time.Time) string {
		if s.Local(at)[:10] != s.Local(t.to)[:10] {
			return r.Clock(at) + " yesterday"
		}
		return r.Clock(at)
	}
	text := fmt.Sprintf("Last 24 h: lowest %s at %s, highest %s at %s.", r.Temperature(t.lowest), when(t.lowestAt), r.Temperature(t.highest), when(t.highestAt))
	if n := t.gaps(); n > 0 {
		text += " " + words.Count(n, "gap", "gaps") + " without readings."
	}
	return text
}

// outsideHumidity says how low and how high the humidity was, where it left its band.
func outsideHumidity(z snapshot.Zone, t Trace) string {
	low, high := math.Inf(1), math.Inf(-1)
	for _, v := range t.damp {
		if !math.IsNaN(v) {
			low, high = min(low, v), max(high, v)
		}
	}
	b := z.HumidityBand
	if low > high || (b.Low == nil || low >= *b.Low) && (b.High == nil || high <= *b.High) {
		return ""
	}
	if least, most := percentOf(low), percentOf(high); least != most {
		return " Humidity " + strings.TrimSuffix(least, " %") + "-" + most + "."
	}
	return " Humidity " + percentOf(high) + "."
}

// tableOf is the trace every two hours, for those who hear the page and for the pointer.
func (s *Views) tableOf(z snapshot.Zone, t Trace) chart.Table {
	table := chart.Table{Title: z.Zone + ", the last day", Head: []string{"Time", "Temperature", "Humidity"}, Hidden: true}
	n := len(t.mid)
	step := max(1, n/12)
	x := chart.Span(t.from, t.to)
	for i := step / 2; i < n; i += step {
		if math.IsNaN(t.mid[i]) {
			continue
		}
		at := t.from.Add(time.Duration((float64(i) + 0.5) / float64(n) * float64(t.to.Sub(t.from))))
		wet := ""
		if !math.IsNaN(t.damp[i]) {
			wet = percentOf(t.damp[i])
		}
		table.Rows = append(table.Rows, chart.Row{At: x.Share(chart.Seconds(at)), Cells: []string{s.Reader.Clock(at), s.Reader.Temperature(t.mid[i]), wet}})
	}
	return table
}

// symbolOf is the mark of an alarm.
func symbolOf(kind string) chart.Symbol {
	switch words.Alarm(kind).Shape {
	case words.Cold:
		return chart.Cold
	case words.Warm:
		return chart.Warm
	}
	return chart.Other
}

// hourRoom is what an hour and a gap take of the axis on a phone.
const hourRoom = 0.15

// Alarms are drawn with the last hours and, if it goes on, the hours to come.
const leadBack = 4 * time.Hour

// comingFigure draws the hours before an alarm and what comes if it goes on. It is nil where
// nothing is predicted or measured.
func (s *Views) ComingFigure(z snapshot.Zone, t Trace, c snapshot.Coming, at time.Time) *chart.Figure {
	if z.Celsius == nil || math.IsNaN(t.lowest) || !c.About.After(at) {
		return nil
	}
	latest := c.About.Add(c.About.Sub(c.Earliest))
	if c.Latest != nil {
		latest = *c.Latest
	}
	from, to := at.Add(-leadBack), latest.Add(20*time.Minute)
	cut := t.since(from)
	p := s.temperaturePanel(z, cut, nil, chart.Span(from, to))
	p.Low, p.High = chart.Room(1.5, cut.lowest, cut.highest, c.Limit, *z.Celsius)
	now := chart.Seconds(at)
	inner := *z.Celsius + (c.Limit-*z.Celsius)*c.Earliest.Sub(at).Seconds()/max(1, latest.Sub(at).Seconds())
	p.Items = append(p.Items,
		chart.Fan(chart.Point{X: now, Y: *z.Celsius}, chart.Range{X: chart.Seconds(c.Earliest), Low: min(c.Limit, inner), High: max(c.Limit, inner)}, chart.Range{X: chart.Seconds(latest), Low: c.Limit, High: c.Limit}),
		chart.Line{Style: chart.Coming, Points: []chart.Point{{X: now, Y: *z.Celsius}, {X: chart.Seconds(c.About), Y: c.Limit}}},
		chart.Drop{Style: chart.SafeLimit, X: chart.Seconds(c.About), Y: c.Limit})
	f := &chart.Figure{Plot: chart.Plot{X: chart.Span(from, to), Panels: []chart.Panel{p}, Now: now, NowText: "now"}}
	about := chart.Tick{At: chart.Seconds(c.About), Text: s.Reader.Clock(c.About)}
	for _, k := range chart.Thin(chart.Hours(from, to, s.Reader.Place, 2, s.Reader.Clock), f.Plot.X, hourRoom) {
		// At an edge a label moves inwards, onto its neighbour.
		if share := f.Plot.X.Share(k.At); share > 0.06 && share < 0.94 && math.Abs(share-f.Plot.X.Share(about.At)) > 0.22 {
			f.Plot.Ticks = append(f.Plot.Ticks, k)
		}
	}
	f.Plot.Ticks = append(f.Plot.Ticks, about)
	f.Plot.Label = fmt.Sprintf("%s, the last %s: now %s; if it goes on, %s at about %s.", z.Zone, words.Span(leadBack), s.Reader.Temperature(*z.Celsius), s.Reader.Temperature(c.Limit), s.Reader.Clock(c.About))
	return f
}
