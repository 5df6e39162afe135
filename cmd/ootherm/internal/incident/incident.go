// Package incident looks back at a span of hours or days: what the zones did, which
// alarms there were, and what it did to each clutch. It reads what a station handed over
// in one step, beside the station. It must not know how readings, windows and alarms are
// stored, or how an incident is shown.
//
// # Decisions
//
//   - What a span did to a hatch is its development less that of as long a time as the
//     week before, in days of that week. The message of an alarm's end gives the same figure.
//     The windows are shown beside it because they also move with the climate to come.
package incident

import (
	"context"
	"fmt"
	"iter"
	"slices"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
)

// maxSpan is the longest span of an incident: its readings are read one by one (our
// choice).
const maxSpan = 31 * 24 * time.Hour

// Query is a span and all that is needed to look back at it. Nothing in it changes, so
// any goroutine may use it.
type Query struct {
	From, To time.Time
	Zone     string // empty: all
	Plan     plan.Plan
	Clutches []Clutch
	Fresh    time.Duration // the age at which a reading no longer counts
	Gap      time.Duration // a longer span between two readings was not measured
	// Readings gives the believed readings of probes, corrected, in the order of their
	// times.
	Readings func(probes []string, from, to time.Time) iter.Seq2[Reading, error]
	// Hourly gives the hours of a probe that reach into a span, corrected, in order; nil: all
	// readings are read.
	Hourly func(probe string, from, to time.Time) iter.Seq2[Hour, error]
	// Felt sums what eggs felt in a stay.
	Felt func(book.Stay) (thermal.Exposure, error)
	// Shown gives the windows that were shown of a clutch.
	Shown func(clutch string) ([]snapshot.Shown, error)
	// Alarms gives the alarms that lasted at some time of a span.
	Alarms func(from, to time.Time) ([]snapshot.PastAlarm, error)
}

// Reading is one reading of one probe: Celsius, and a ratio that is NaN where the probe
// gave none.
type Reading struct {
	Probe             string
	At                time.Time
	Celsius, Humidity float64
}

// Clutch is the eggs of one clutch in one box.
type Clutch struct {
	Clutch, Profile, Box string
	Dams                 []string
	Stays                []book.Stay
	Eggs                 int          // that still waited when the span began
	Rate                 thermal.Rate // nil where its species has none
}

// stayInSpan is a clutch's time in boxes within the span.
type stayInSpan struct {
	Clutch
	stays []book.Stay // cut to the span
}

// Look reads the past of the span.
func (q Query) Look(ctx context.Context) (snapshot.Incident, error) {
	zones, err := q.zones()
	if err != nil {
		return snapshot.Incident{}, err
	}
	n := snapshot.Incident{From: q.From, To: q.To, Zones: []snapshot.IncidentZone{}, Alarms: []snapshot.PastAlarm{}, Clutches: []snapshot.IncidentClutch{}}
	clutches, profiles := q.clutches()
	q.Felt = feltOnce(q.Felt)
	for _, z := range zones {
		v, err := q.zone(ctx, z, q.Plan.Safe(z, profiles[z.Name]))
		if err != nil {
			return snapshot.Incident{}, err
		}
		n.Zones = append(n.Zones, v)
	}
	alarms, err := q.Alarms(q.From, q.To)
	if err != nil {
		return snapshot.Incident{}, err
	}
	for _, a := range alarms {
		if a.Zone == nil || slices.ContainsFunc(zones, func(z plan.Zone) bool { return z.Name == *a.Zone }) {
			n.Alarms = append(n.Alarms, a)
		}
	}
	for i, z := range zones {
		if n.Zones[i].Jumps, err = q.jumps(ctx, z, n.Alarms); err != nil {
			return snapshot.Incident{}, err
		}
	}
	for _, p := range clutches {
		if err := ctx.Err(); err != nil {
			return snapshot.Incident{}, err
		}
		c, err := q.clutch(p)
		if err != nil {
			return snapshot.Incident{}, err
		}
		n.Clutches = append(n.Clutches, c)
	}
	return n, nil
}

// zones gives the zones that were asked for, or why the query makes no sense.
func (q Query) zones() (zones []plan.Zone, err error) {
	var names []string
	for _, z := range q.Plan.Zones {
		names = append(names, z.Name)
		if q.Zone == "" || z.Name == q.Zone {
			zones = append(zones, z)
		}
	}
	switch {
	case len(zones) == 0:
		err = usererr.New(fmt.Sprintf("the configuration has no zone %q; it has %s", q.Zone, words.List(names)))
	case !q.From.Before(q.To):
		err = usererr.New("the span ends before it begins, or is still to come")
	case q.To.Sub(q.From) > maxSpan:
		err = usererr.New(fmt.Sprintf("the span is longer than %.0f days; a season has its review", maxSpan.Hours()/24))
	}
	return zones, err
}

// clutches gives the clutches that lay in the zones that were asked for, and the
// profiles of the eggs in each zone.
func (q Query) clutches() (all []stayInSpan, profiles map[string][]string) {
	profiles = map[string][]string{}
	for _, c := range q.Clutches {
		p := stayInSpan{Clutch: c, stays: cutTo(c.Stays, q.From, q.To)}
		for _, y := range p.stays {
			profiles[y.Zone] = append(profiles[y.Zone], c.Profile)
		}
		if !slices.ContainsFunc(p.stays, func(y book.Stay) bool { return q.Zone == "" || y.Zone == q.Zone }) {
			continue
		}
		all = append(all, p)
	}
	return all, profiles
}

// cutTo gives the parts of stays that lie within a span.
func cutTo(stays []book.Stay, from, to time.Time) []book.Stay {
	var cut []book.Stay
	for _, y := range stays {
		if y.From.Before(from) {
			y.From = from
		}
		if y.To.IsZero() || y.To.After(to) {
			y.To = to
		}
		if y.From.Before(y.To) {
			cut = append(cut, y)
		}
	}
	return cut
}

// feltOnce sums what eggs felt once for all clutches that lay in the same place: boxes without
// a probe share their zone.
func feltOnce(felt func(book.Stay) (thermal.Exposure, error)) func(book.Stay) (thermal.Exposure, error) {
	type place struct {
		zone, probe string
		offset      float64
		from, to    int64 // Unix nanoseconds
	}
	known := map[place]thermal.Exposure{}
	return func(y book.Stay) (thermal.Exposure, error) {
		at := place{y.Zone, y.Probe, y.Offset, y.From.UnixNano(), y.To.UnixNano()}
		if e, ok := known[at]; ok {
			return e, nil
		}
		e, err := felt(y)
		if err == nil {
			known[at] = e
		}
		return e, err
	}
}
