package incident

import (
	"fmt"
	"math"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
)

// Exposures are what eggs felt in a span and in the week before it.
type Exposures struct{ Span, Week thermal.Exposure }

// Felt sums what eggs with these stays felt. Felt of one stay is told by felt.
func Felt(felt func(book.Stay) (thermal.Exposure, error), stays []book.Stay, from, to time.Time) (x Exposures, err error) {
	for _, y := range cutTo(stays, from, to) {
		e, err := felt(y)
		if err != nil {
			return x, err
		}
		x.Span = x.Span.Plus(e)
	}
	for _, y := range cutTo(stays, from.Add(-7*24*time.Hour), from) {
		e, err := felt(y)
		if err != nil {
			return x, err
		}
		x.Week = x.Week.Plus(e)
	}
	return x, nil
}

// MovedDays is by how many days the span moved the hatch: its development less that of as
// long a time like the week before, in days of that week; negative is earlier. It is NaN where
// that is not known.
func (x Exposures) MovedDays(rate thermal.Rate) float64 {
	if rate == nil || x.Span.Measured() == 0 || x.Week.Measured() == 0 {
		return math.NaN()
	}
	aday := x.Week.Share(rate) / (x.Week.Measured().Hours() / 24)
	if !(aday > 0) {
		return math.NaN()
	}
	share, _, _ := x.Span.Bridged(rate)
	return (x.Span.Measured()+x.Span.Missing()).Hours()/24 - share/aday
}

// clutch is what a group felt in the span, and what that did to its hatch.
func (q Query) clutch(p stayInSpan) (snapshot.IncidentClutch, error) {
	g, last := p.Clutch, p.stays[len(p.stays)-1]
	c := snapshot.IncidentClutch{Clutch: g.Clutch, Dam: snapshot.OptText(strings.Join(g.Dams, " or ")), Profile: snapshot.OptText(g.Profile), Box: last.Box, Zone: last.Zone, Eggs: g.Eggs}
	x, err := Felt(q.Felt, g.Stays, q.From, q.To)
	if err != nil {
		return c, fmt.Errorf("what %s felt: %w", g.Clutch, err)
	}
	c.Seconds, c.Missing = (x.Span.Measured() + x.Span.Missing()).Seconds(), x.Span.Missing().Seconds()
	c.Felt, c.Usual = snapshot.OptFloat(x.Span.Mean()), snapshot.OptFloat(x.Week.Mean())
	c.Moved = snapshot.OptFloat(x.MovedDays(p.Rate))
	windows, err := q.Shown(g.Clutch)
	if err != nil {
		return c, err
	}
	for _, w := range windows {
		if w.Box != g.Box && w.Box != p.stays[0].Box {
			continue
		}
		v := &snapshot.DayWindow{Day: w.Day, Window: w.Window}
		switch {
		case !w.At.After(q.From):
			c.Before, c.Developed = v, snapshot.OptFloat(w.Developed)
		case !w.At.Before(q.To) && c.After == nil:
			c.After = v
		}
	}
	return c, nil
}
