package web

import (
	"math"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/bookpages"
	"example.com/ootherm/cmd/ootherm/internal/web/chart"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
)

// The height of the panel of the heat, CSS pixels, and how far over what is needed it reaches
// at most.
const (
	heatHeight = 160.0
	heatMost   = 1.4
)

// heat draws how far the eggs are developed, what they need, and the window that this casts on
// the axis. It is nil where nothing is known.
func (m clutchMaker) heat(c snapshot.Clutch, told []snapshot.Shown, at time.Time) *chart.Figure {
	if c.Developed == nil || math.IsNaN(*c.Developed) {
		return nil
	}
	now, done := chart.Seconds(at), *c.Developed
	line := []chart.Point{{X: chart.Seconds(c.Laid.Latest), Y: 0}}
	table := chart.Table{Title: "Developed, day by day", Head: []string{"Day", "Developed"}, Hidden: true}
	x := m.clutchAxis(c, at, told)
	for _, w := range pick(told, 24) {
		line = append(line, chart.Point{X: chart.Seconds(w.At), Y: w.Developed})
		table.Rows = append(table.Rows, chart.Row{At: x.Share(chart.Seconds(w.At)), Cells: []string{m.Reader.ShortDate(w.At), words.Percent(w.Developed)}})
	}
	line = append(line, chart.Point{X: now, Y: done})
	table.Rows = append(table.Rows, chart.Row{At: x.Share(now), Cells: []string{"now", words.Percent(done)}})
	p := chart.Panel{High: max(1.1, done+0.05), Height: heatHeight, Labels: []chart.Label{{At: 1, Text: "100 %"}, {At: 0.5, Text: "50 %"}}}
	strip := chart.Panel{High: 1, Height: 26}
	f := &chart.Figure{Table: table, Caption: "Line: developed so far."}
	if d := c.DegreeDays; d != nil {
		f.Caption += " " + page.Tied(words.Capital(m.Reader.DegreeDays(d.SoFar, d.Required, d.Base))) + "."
	}
	if w := c.Window; w != nil {
		likely := math.NaN()
		if !w.Likely.IsZero() {
			likely = chart.Seconds(w.Likely)
		}
		check, late := chart.Seconds(w.CheckFrom), chart.Seconds(w.LateAfter)
		if likely > now && done < 1 {
			rise := (1 - done) / (likely - now)
			least, most := done+rise*max(0, check-now), min(heatMost, done+rise*(late-now))
			p.High = max(p.High, most+0.05)
			p.Items = append(p.Items, chart.Band{Style: chart.Need, Low: least, High: most},
				chart.Line{Style: chart.Coming, Points: []chart.Point{{X: now, Y: done}, {X: late, Y: done + rise*(late-now)}}},
				chart.Drop{Style: chart.Cast, X: check, Y: least}, chart.Drop{Style: chart.Cast, X: likely, Y: 1}, chart.Drop{Style: chart.Cast, X: late, Y: most})
			f.Caption += " Dashed: as it goes on. Where it meets what such eggs need (tinted), the window falls on the dates below."
		}
		strip.Items = append(strip.Items, chart.Window{From: check, Likely: likely, To: late})
	}
	p.Items = append(p.Items, chart.Limit{Style: chart.SetPoint, At: 1, Word: "needed"}, chart.Line{Style: chart.Temperature, Points: line}, chart.Word{X: now, Y: done, Text: words.Percent(done)})
	if m.eggs.Book != nil {
		for _, e := range c.Eggs {
			if x, ok := m.eggs.Book.Egg(e.Egg); ok && x.Fate != book.Waiting {
				strip.Items = append(strip.Items, chart.Mark{Symbol: bookpages.Symbol(e.Fate), X: chart.Seconds(x.FateAt), Y: math.NaN(), Title: e.Egg + " " + words.Fate(e.Fate)})
			}
		}
	}
	f.Plot = chart.Plot{Label: "Clutch " + c.Clutch + ". " + words.Percent(done) + " developed. " + f.Caption, X: x, Panels: []chart.Panel{p, strip}, Ticks: m.monthTicks(x), Now: now, NowText: "today"}
	return f
}
