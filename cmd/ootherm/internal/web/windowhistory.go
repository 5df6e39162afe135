package web

import (
	"fmt"
	"math"
	"slices"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/chart"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// toldMost is how many of the windows that were told a page draws.
const toldMost = 5

// narrowed draws the windows of a clutch as they were told before, one under the other, on
// the axis of its other figures. It is nil where fewer than two were.
func (s boxPages) narrowed(c snapshot.Clutch, box string, all []snapshot.Shown, at time.Time) *chart.Figure {
	var days []snapshot.Shown
	for _, w := range all {
		if w.Box == box && w.Clutch == c.Clutch && (len(w.Eggs) == 0 || len(c.Eggs) > 0 && slices.Contains(w.Eggs, c.Eggs[0].Egg)) {
			days = append(days, w)
		}
	}
	if len(days) < 2 {
		return nil
	}
	first, last := days[0], days[len(days)-1]
	f := s.told(pick(days, toldMost), s.clutchAxis(c, at, days), at)
	width := func(w snapshot.Shown) string {
		return words.Span(w.Window.LateAfter.Sub(w.Window.CheckFrom).Round(24 * time.Hour))
	}
	f.Caption = fmt.Sprintf("On %s the window was %s wide, on %s %s. Each row is the window as it was told on that day. All have the same area: a narrow one is tall.",
		s.Reader.Date(first.At), width(first), s.Reader.Date(last.At), width(last))
	f.Plot.Label = "Clutch " + c.Clutch + ". " + f.Caption
	return f
}

// told draws windows as they were told, a row each.
func (s boxPages) told(days []snapshot.Shown, x chart.Scale, at time.Time) *chart.Figure {
	r := s.Reader
	f := &chart.Figure{Plot: chart.Plot{X: x, Now: chart.Seconds(at), Ticks: s.monthTicks(x)},
		Table: chart.Table{Title: "The windows told before", Head: []string{"Told on", "Check from", "Likely", "Late after"}, Hidden: true}}
	for _, d := range days {
		w := d.Window
		likely, word := math.NaN(), r.ShortDate(d.At)
		cells := []string{word, r.ShortDate(w.CheckFrom), "", r.ShortDate(w.LateAfter)}
		if !w.Likely.IsZero() {
			likely = chart.Seconds(w.Likely)
			cells[2] = r.ShortDate(w.Likely)
		}
		f.Plot.Panels = append(f.Plot.Panels, chart.Panel{High: 1, Height: 22, Name: word + ": " + words.Span(w.LateAfter.Sub(w.CheckFrom).Round(24*time.Hour)),
			Items: []chart.Item{chart.Window{From: chart.Seconds(w.CheckFrom), Likely: likely, To: chart.Seconds(w.LateAfter)}}})
		f.Table.Rows = append(f.Table.Rows, chart.Row{At: math.NaN(), Cells: cells})
	}
	return f
}

// pick leaves about most of a list, evenly, the first and the last among them.
func pick[T any](all []T, most int) []T {
	if len(all) <= most {
		return all
	}
	out := make([]T, 0, most)
	for i := range most {
		out = append(out, all[i*(len(all)-1)/(most-1)])
	}
	return out
}

// clutchAxis is the axis of all figures of a clutch: from laid to the last day of its windows.
func (s boxPages) clutchAxis(c snapshot.Clutch, at time.Time, told []snapshot.Shown) chart.Scale {
	from, to := c.Laid.Earliest, at
	reach := func(t time.Time) {
		if t.After(to) {
			to = t
		}
	}
	if c.Window != nil {
		reach(c.Window.LateAfter)
	}
	for _, w := range told {
		reach(w.Window.LateAfter)
	}
	pad := to.Sub(from) / 50
	return chart.Span(from.Add(-pad), to.Add(pad))
}

// monthTicks are the months of an axis.
func (s boxPages) monthTicks(x chart.Scale) []chart.Tick {
	const phone = 0.12 // three letters and a gap on a phone
	return chart.Thin(chart.Months(time.UnixMilli(int64(1000*x.From)), time.UnixMilli(int64(1000*x.To)), s.Reader.Place, func(t time.Time) string { return t.Format("Jan") }), x, phone)
}

// shown gives what was shown of a clutch, nothing where it cannot be had: the page
// stands without it.
func (s boxPages) shown(clutch string) []snapshot.Shown {
	if s.Shown == nil {
		return nil
	}
	all, err := s.Shown.Shown(clutch)
	if err != nil {
		s.Log.Error("the windows shown before could not be read", "clutch", clutch, "err", err)
	}
	return all
}
