package app

import (
	"slices"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/app/words"
	"example.com/ootherm/cmd/ootherm/internal/config"
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

// profiles are the names of the profiles.
func (p Plan) profiles() []string {
	var names []string
	for _, x := range p.Profiles {
		names = append(names, x.Name)
	}
	return names
}

// eggG is how heavy an egg of a kind may be, grams; 0 and 0 where that is not known.
func (p Plan) eggG(kind string) (least, most float64) {
	x, _ := p.profile(kind)
	return x.EggG.Low, x.EggG.High
}

// ProbePlan is one probe; its name is its identity.
type ProbePlan struct {
	Name   string
	Bus    string        // which wire it shares with others; empty: none
	Offset float64       // K, added to the raw temperature
	Silent time.Duration // without a believed reading for so long it is told

	Thermometer bool // it measures no humidity, whatever happens; else it may
}

// SenderPlan is one way messages go.
type SenderPlan struct {
	Name       string
	Priorities []string       // which it takes; empty: all
	After      time.Duration  // only critical alarms that nobody acknowledged by then; zero: all at once
	AllWell    *time.Duration // after midnight, when a line says each day how it stands; nil: none does
}

// sender is a way by its name.
func (p Plan) sender(name string) SenderPlan {
	for _, x := range p.Senders {
		if x.Name == name {
			return x
		}
	}
	return SenderPlan{Name: name}
}

// takes reports whether a message is for a sender at all.
func (p SenderPlan) takes(m alert.Message) bool {
	if p.After > 0 && (m.Priority != alert.Critical || m.Over) {
		return false
	}
	return len(p.Priorities) == 0 || slices.Contains(p.Priorities, string(m.Priority))
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
	Rate     float64  // K an hour; a faster change is a warning; 0: none is
	Apart    float64  // K; probes further apart are a warning; 0: none are
	Single   *Dose    // one stay beyond it for so long is critical
	Total    *Dose    // as much in all, since the first of the eggs there was placed
}

// Dose is how long a zone may be at a limit or past it.
type Dose struct {
	Low, High *float64 // C; either may be absent
	For       time.Duration
}

// Band is a range with its deadband and delays, by hour and season if set. Either
// end may be absent.
type Band = config.Band

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

// thermometer reports whether a probe measures no humidity, by its configuration.
func (p Plan) thermometer(probe string) bool {
	return slices.ContainsFunc(p.Probes, func(x ProbePlan) bool { return x.Name == probe && x.Thermometer })
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
