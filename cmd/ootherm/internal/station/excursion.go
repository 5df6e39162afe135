package station

import (
	"errors"
	"math"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/rebuild"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/profile"
)

// limit is one end of a species' band.
type limit struct {
	band string
	at   float64 // C
	warm bool    // warmer is past it
}

func limitsOf(p profile.Profile) []limit {
	var all []limit
	for _, b := range [...]struct {
		name string
		of   profile.Band
	}{{"safe", p.Safe}, {"wanted", p.Wanted}} {
		if b.of == (profile.Band{}) {
			continue
		}
		if !math.IsInf(b.of.High, 1) {
			all = append(all, limit{b.name, b.of.High, true})
		}
		if !math.IsInf(b.of.Low, -1) {
			all = append(all, limit{b.name, b.of.Low, false})
		}
	}
	return all
}

// A course follows eggs of one species through the limits of its bands, with how
// far along they were at the time. What was not measured moves them on, and is
// neither inside nor outside.
type course struct {
	limits []limit
	excess []thermal.Excess // one a limit
	rate   thermal.Rate
	before float64 // share of the way, when the first stay began
	share  float64 // and since
	last   thermal.Sample
}

func newCourse(p profile.Profile, rate thermal.Rate, before float64) *course {
	c := &course{limits: limitsOf(p), rate: rate, before: before}
	for _, l := range c.limits {
		if l.warm {
			c.excess = append(c.excess, thermal.Over(l.at))
		} else {
			c.excess = append(c.excess, thermal.Under(l.at))
		}
	}
	return c
}

// step takes the next sample; one before the last is left out.
func (c *course) step(s thermal.Sample, gap time.Duration) {
	if math.IsNaN(s.Celsius) || s.At.Before(c.last.At) {
		return
	}
	last := c.last
	c.last = s
	d := s.At.Sub(last.At)
	if last.At.IsZero() || d <= 0 {
		return
	}
	if d <= gap {
		for i := range c.excess {
			c.excess[i] = c.excess[i].Span(last, s, c.before+c.share)
		}
	}
	c.share += c.rate.PerDay((last.Celsius+s.Celsius)/2) * d.Hours() / 24
}

// course rebuilds a course from the readings of some stays. What cannot be read counts
// as not measured; the errors say why.
func (r reckoner) course(c *course, stays []book.Stay, upTo time.Time) (*course, error) {
	var failed []error
	for _, stay := range stays {
		to := upTo.Add(1) // the sample at that very time too: nobody brings it again
		if !stay.To.IsZero() && stay.To.Before(to) {
			to = stay.To
		}
		for s, err := range r.boxed(stay.Offset).samples(sourceOf(stay), stay.From, to) {
			if err != nil {
				failed = append(failed, err)
				continue
			}
			c.step(s, r.gap)
		}
	}
	return c, errors.Join(failed...)
}

// rebuildCourses gives every group that waits its course: those that stayed keep theirs,
// the others are rebuilt from the readings by the worker, after the exposures.
// How far along the eggs were is told by what is believed when that is done, and
// before they were placed as if they had been at their usual temperature: to a
// tenth of the way that is near enough.
func (s *Station) rebuildCourses() {
	for _, g := range s.groups() {
		p, ok := s.plan.Profile(g.profile)
		t := s.tracks[g.track]
		if !ok || t == nil || !g.waiting || t.courses[g.profile] != nil || len(limitsOf(p)) == 0 {
			continue
		}
		b, err := s.prior(p)
		if err != nil {
			continue // the clutch has no window, and says why
		}
		stays, rate := g.stays, b.Model()
		unplaced := stays[0].From.Sub(g.laid.Earliest) - g.laid.Latest.Sub(g.laid.Earliest)/2
		before := max(0, unplaced.Hours()/24*rate.PerDay(b.Usual))
		if !g.resumed.IsZero() {
			before = 0
		}
		gap := s.plan.GapLimit()
		c := rebuild.NewValue(newCourse(p, rate, before), func(c *course, x thermal.Sample) { c.step(x, gap) })
		t.courses[g.profile] = c
		rebuild.Build(&s.rebuilds, func(upTo time.Time) func() ([]*course, error) {
			r := s.reckoner()
			return func() ([]*course, error) {
				rebuilt, err := r.course(newCourse(p, rate, before), stays, upTo)
				return []*course{rebuilt}, err
			}
		}, s.forgetWindows, c)
	}
}

// outside is what a course came to, past each limit that was passed.
func (c *course) outside() []snapshot.Outside {
	all := []snapshot.Outside{}
	for i, l := range c.limits {
		sum := c.excess[i].Total()
		if sum.Cumulative == 0 {
			continue
		}
		o := snapshot.Outside{
			Band: l.band, Side: "cold", Limit: l.at, Seconds: sum.Cumulative.Seconds(), LongestSeconds: sum.Longest.Seconds(),
			Events: sum.Events, DegreeHours: sum.DegreeHours, Most: sum.Most, Stages: []snapshot.Stage{},
		}
		if l.warm {
			o.Side = "warm"
		}
		for k := range thermal.Stages {
			if x := c.excess[i].Stage(k); x.Cumulative > 0 {
				o.Stages = append(o.Stages, snapshot.Stage{
					From: float64(k) / thermal.Stages, To: float64(k+1) / thermal.Stages,
					Seconds: x.Cumulative.Seconds(), LongestSeconds: x.Longest.Seconds(), DegreeHours: x.DegreeHours,
				})
			}
		}
		all = append(all, o)
	}
	return all
}
