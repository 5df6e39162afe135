package incident

import (
	"fmt"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/thermal"
)

// clutch is what a group felt in the span, and what that did to its hatch.
func (q Query) clutch(p stayInSpan) (snapshot.IncidentClutch, error) {
	g, last := p.Clutch, p.stays[len(p.stays)-1]
	c := snapshot.IncidentClutch{Clutch: g.Clutch, Dam: snapshot.OptText(strings.Join(g.Dams, " or ")), Profile: snapshot.OptText(g.Profile), Box: last.Box, Zone: last.Zone, Eggs: g.Eggs}
	var felt, week thermal.Exposure
	for _, y := range p.stays {
		e, err := q.Felt(y)
		if err != nil {
			return c, fmt.Errorf("what %s felt: %w", g.Clutch, err)
		}
		felt = felt.Plus(e)
	}
	for _, y := range cutTo(g.Stays, q.From.Add(-7*24*time.Hour), q.From) {
		e, err := q.Felt(y)
		if err != nil {
			return c, fmt.Errorf("what %s felt before: %w", g.Clutch, err)
		}
		week = week.Plus(e)
	}
	c.Seconds, c.Missing = (felt.Measured() + felt.Missing()).Seconds(), felt.Missing().Seconds()
	c.Felt, c.Usual = snapshot.OptFloat(felt.Mean()), snapshot.OptFloat(week.Mean())
	if p.Rate != nil && felt.Measured() > 0 && week.Measured() > 0 {
		share, _, _ := felt.Bridged(p.Rate)
		aday := week.Share(p.Rate) / (week.Measured().Hours() / 24)
		if aday > 0 {
			c.Moved = snapshot.OptFloat(c.Seconds/86400 - share/aday)
		}
	}
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
