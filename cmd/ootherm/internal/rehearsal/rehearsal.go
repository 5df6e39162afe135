// Package rehearsal answers "would it have called me?": it lays failures of a heater over a
// zone's own past and counts what the early warning would have called. It reads what a
// station handed over in one step, beside the station. It must not know how readings are
// stored, or how a rehearsal is shown.
//
// # Decisions
//
//   - The past is three weeks: a fortnight is what the early warning remembers, and a week
//     more shows it at work (our choice).
//   - It works on means of five minutes, as the early warning does. A rehearsal of a zone
//     then takes about a fifth of a second for each probe on a desktop, and some seconds on
//     the slowest Pi.
//   - The limits are those in force now, also where bands change by the hour.
package rehearsal

import (
	"context"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/backtest"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// Past is how far back a rehearsal looks.
const Past = 21 * 24 * time.Hour

// failures is how many are laid over the past, at each limit (our choice).
const failures = 25

// Query is a zone and all that is needed to rehearse its failures. Nothing in it changes, so
// any goroutine may use it.
type Query struct {
	Zone   string
	To     time.Time
	Place  *time.Location // whose clock the course of a day follows; nil: UTC
	Limits []Limit
	Probes []string // that watch the zone
	// Means gives the means of a probe's believed temperatures, corrected, for each bin of a
	// length from one time to another; NaN where nothing was measured.
	Means func(probe string, from, to time.Time, bin time.Duration) ([]float64, error)
}

// Limit is one end of a band.
type Limit struct {
	Band string // wanted or safe
	alert.Limit
}

// Look rehearses.
func (q Query) Look(ctx context.Context) (snapshot.Rehearsal, error) {
	end := q.To.Truncate(backtest.BinLength)
	r := backtest.Rehearsal{Begin: end.Add(-Past), Failures: failures, Seed: 1, Place: q.Place}
	out := snapshot.Rehearsal{Zone: q.Zone, From: r.Begin, To: end, Limits: []snapshot.RehearsedLimit{}}
	for _, p := range q.Probes {
		if err := ctx.Err(); err != nil {
			return snapshot.Rehearsal{}, err
		}
		means, err := q.Means(p, r.Begin, end, backtest.BinLength)
		if err != nil {
			return snapshot.Rehearsal{}, err
		}
		r.Probes = append(r.Probes, means)
	}
	out.From = r.First()
	for _, l := range q.Limits {
		x, err := r.Limit(ctx, l.Limit)
		if err != nil {
			return snapshot.Rehearsal{}, err
		}
		if at := x.LearningUntil; !at.IsZero() {
			out.LearningUntil = &at
		}
		out.Limits = append(out.Limits, limit(l, x))
	}
	return out, nil
}

func limit(l Limit, x backtest.Rehearsed) snapshot.RehearsedLimit {
	side := "cold"
	if l.High {
		side = "warm"
	}
	y := snapshot.RehearsedLimit{
		Band: l.Band, Side: side, Limit: l.At,
		Failures: x.Failures, Called: x.Called, Days: x.Days, FalseCalls: x.FalseCalls, Passed: x.Passed,
	}
	if x.Called > 0 {
		lead := x.Lead().Seconds()
		y.Lead = &lead
	}
	return y
}
