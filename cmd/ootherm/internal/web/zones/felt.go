package zones

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/chart"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// Felt draws the temperatures of stays on an axis of time, day by day, with the limits of a
// zone and what was noted. It is nil where nothing was measured. Stays follow one another.
func (s *Views) Felt(ctx context.Context, x Subject, stays []Stay, alarms []snapshot.PastAlarm, axis chart.Scale) (*chart.Figure, error) {
	if len(stays) == 0 {
		return nil, nil
	}
	from, to := stays[0].From, stays[len(stays)-1].To
	cell, length := "day", Day
	if to.Sub(from) <= byHour {
		cell, length = "hour", time.Hour
	}
	t, err := hourlyTrace(ctx, s.Past, stays, from, to, max(1, int((to.Sub(from)+length-1)/length)))
	if err != nil || math.IsNaN(t.lowest) {
		return nil, err
	}
	f := &chart.Figure{Plot: chart.Plot{X: axis, Now: math.NaN(), Panels: []chart.Panel{s.temperaturePanel(x.Zone, t, alarms, axis)}}, Table: s.pastTable(t, cell)}
	f.Table.Hidden = true
	for i := range f.Table.Rows { // of the longer axis
		at := t.from.Add(time.Duration(f.Table.Rows[i].At * float64(t.to.Sub(t.from))))
		f.Table.Rows[i].At = axis.Share(chart.Seconds(at))
	}
	spread, extremes := "lowest to highest", s.extremeDays(t)
	if slices.ContainsFunc(stays, func(s Stay) bool { return len(s.Probes) > 1 }) {
		spread, extremes = "coldest to warmest probe", strings.NewReplacer("Lowest", "Coldest probe", "highest", "warmest probe").Replace(extremes)
	}
	caption := fmt.Sprintf("Line: mean of each %s; grey: %s. %s", cell, spread, extremes)
	if g := t.gaps(); g > 0 {
		caption += " " + words.Count(g, "gap", "gaps") + " without readings."
	}
	s.describe(f, x.Zone, caption)
	s.addMarks(f, x, from, to.Add(time.Second)) // with what ended the last stay
	return f, nil
}

// How long a span may be to be drawn by its readings, and how long a cell of it is at least:
// stored readings may be a minute apart, and a cell needs one (our choice).
const (
	shortSpan = 2 * Day
	leastCell = 3 * time.Minute
)

// Between draws a span of a subject: by its readings where it is short, else by its hours or
// its days. It is nil where nothing was measured.
func (s *Views) Between(ctx context.Context, x Subject, alarms []snapshot.PastAlarm, from, to time.Time) (*chart.Figure, error) {
	if to.Sub(from) > shortSpan {
		return s.past(ctx, x, alarms, from, to)
	}
	n := max(1, min(cells, int(to.Sub(from)/max(leastCell, 2*s.Every))))
	t, err := traceOf(ctx, s.Past, x.probes(), from, to, n)
	if err != nil {
		return nil, err
	}
	f := s.draw(x.Zone, t, alarms)
	if f == nil {
		return nil, nil
	}
	every := 6
	if to.Sub(from) <= Day/2 {
		every = 2
	}
	r := s.Reader
	f.Plot.Ticks = chart.Thin(chart.Hours(from, to, r.Place, every, r.Clock), f.Plot.X, hourRoom)
	if len(f.Plot.Ticks) < 2 {
		f.Plot.Ticks = []chart.Tick{{At: f.Plot.X.From, Text: r.Clock(from)}, {At: f.Plot.X.To, Text: r.Clock(to)}}
	}
	s.describe(f, x.Zone, s.extremes(t))
	f.Table = s.tableOf(x.Zone, t)
	f.Table.Title = x.Zone.Zone + " in this time"
	s.addMarks(f, x, from, to)
	return f, nil
}
