package app

import (
	"time"

	"example.com/ootherm/cmd/ootherm/internal/app/words"
	"example.com/ootherm/thermal/profile"
)

// Plan is what a station watches: the configuration in the words of the
// domains. It does not change while the station runs.
type Plan struct {
	Name     string
	Units    words.Units
	Location *time.Location
	URL      string        // of the page, for links
	Every    time.Duration // between two polls
	Flush    time.Duration // between two times that readings are made durable
	Probes   []ProbePlan
	Zones    []ZonePlan
	Senders  []SenderPlan
	Profiles []profile.Profile // the species built in and the breeder's own
}

// ProbePlan is one probe; its name is its identity.
type ProbePlan struct {
	Name   string
	Offset float64       // K, added to the raw temperature
	Silent time.Duration // without a believed reading for so long it is told
}

// SenderPlan is one way messages go.
type SenderPlan struct {
	Name       string
	Priorities []string // which it takes; empty: all
}

// ZonePlan is one room, shelf or incubator.
type ZonePlan struct {
	Name     string
	Kind     string // room, shelf, incubator
	Probes   []string
	SetPoint *float64 // C
	Wanted   *Band    // C; a warning outside it
	Safe     *Band    // C; critical outside it; nil: the strictest profile in the zone
	Humidity *Band    // ratio; a warning outside it
}

// Band is a range with its deadband and delays. Either end may be absent.
type Band struct {
	Low, High *float64
	Deadband  float64
	OnDelay   time.Duration
	OffDelay  time.Duration
}

// A span between two believed readings longer than the gap limit was not
// measured. Ten minutes: the medium of a box follows the air in no less (our
// choice); two polls where the polls are further apart than that.
func (p Plan) gapLimit() time.Duration { return max(10*time.Minute, 2*p.Every) }

// fresh is how old a reading may be and still stand for the present: three
// polls.
func (p Plan) fresh() time.Duration { return 3 * p.Every }

// silentAfter is how long a probe may give nothing before that is an alarm: what
// the plan says, and no less than the three polls after which its reading is
// stale.
func (p Plan) silentAfter(probe string) time.Duration {
	for _, x := range p.Probes {
		if x.Name == probe {
			return max(x.Silent, p.fresh())
		}
	}
	return p.fresh()
}

func (p Plan) profile(name string) (profile.Profile, bool) {
	for _, x := range p.Profiles {
		if x.Name == name {
			return x, true
		}
	}
	return profile.Profile{}, false
}

// arrests reports whether the eggs of a species rest before they develop.
func (p Plan) arrests(name string) bool {
	x, _ := p.profile(name)
	return x.ArrestedDevelopment
}
