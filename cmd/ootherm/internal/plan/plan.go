// Package plan is a configuration in the terms of the domains: probes, zones with their
// bands, senders, species. It does not change while the station runs. It must not open a
// probe, a file or a sender.
package plan

import (
	"fmt"
	"math"
	"slices"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
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
	Probes   []Probe
	Zones    []Zone
	Senders  []Sender
	Profiles []profile.Profile // the species built in and the breeder's own
}

// profiles are the names of the profiles.
func (p Plan) ProfileNames() []string {
	var names []string
	for _, x := range p.Profiles {
		names = append(names, x.Name)
	}
	return names
}

// EggG is how heavy an egg of a kind may be, grams; 0 and 0 where that is not known.
func (p Plan) EggG(kind string) (least, most float64) {
	x, _ := p.Profile(kind)
	return x.EggG.Low, x.EggG.High
}

// Probe is one probe; its name is its identity.
type Probe struct {
	Name   string
	Bus    string        // which wire it shares with others; empty: none
	Offset float64       // K, added to the raw temperature
	Silent time.Duration // without a believed reading for so long it is told

	Thermometer bool // it measures no humidity, whatever happens; else it may
}

// Sender is one way messages go.
type Sender struct {
	Name       string
	Priorities []string       // which it takes; empty: all
	After      time.Duration  // only critical alarms that nobody acknowledged by then; zero: all at once
	AllWell    *time.Duration // after midnight, when a line says each day how it stands; nil: none does
}

// Sender is a way by its name.
func (p Plan) Sender(name string) Sender {
	for _, x := range p.Senders {
		if x.Name == name {
			return x
		}
	}
	return Sender{Name: name}
}

// Takes reports whether a message is for a sender at all.
func (p Sender) Takes(m alert.Message) bool {
	if p.After > 0 && (m.Priority != alert.Critical || m.Over) {
		return false
	}
	return len(p.Priorities) == 0 || slices.Contains(p.Priorities, string(m.Priority))
}

// Zone is one room, shelf or incubator.
type Zone struct {
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
func (p Plan) GapLimit() time.Duration { return max(10*time.Minute, 2*p.Every) }

// Fresh is how old a reading may be and still stand for the present: three
// polls.
func (p Plan) Fresh() time.Duration { return 3 * p.Every }

// SilentAfter is how long a probe may give nothing before that is an alarm: what
// the plan says, and no less than the three polls after which its reading is
// stale.
func (p Plan) SilentAfter(probe string) time.Duration {
	for _, x := range p.Probes {
		if x.Name == probe {
			return max(x.Silent, p.Fresh())
		}
	}
	return p.Fresh()
}

// Thermometer reports whether a probe measures no humidity, by its configuration.
func (p Plan) Thermometer(probe string) bool {
	return slices.ContainsFunc(p.Probes, func(x Probe) bool { return x.Name == probe && x.Thermometer })
}

func (p Plan) Profile(name string) (profile.Profile, bool) {
	for _, x := range p.Profiles {
		if x.Name == name {
			return x, true
		}
	}
	return profile.Profile{}, false
}

// Arrests reports whether the eggs of a species rest before they develop.
func (p Plan) Arrests(name string) bool {
	x, _ := p.Profile(name)
	return x.ArrestedDevelopment
}

// Watched refuses a configuration with nothing in it to watch.
func (p Plan) Watched(path string) error {
	if len(p.Probes) > 0 {
		return nil
	}
	return usererr.Usage(fmt.Errorf("%s has no probes and no zones, so there is nothing to watch; ootherm setup --config FILE writes one by a few questions, ootherm probes shows what is connected", path))
}

// LampKind is the one sender that carries no message.
const LampKind = "lamp"

// ahead is how far into the future an entry may lie: a phone's clock is not the
// station's (our choice).
const MaxClockSkew = 10 * time.Minute

// Safe gives a zone's safe band, with all its spells, with eggs of some profiles in it.
func (p Plan) Safe(z Zone, profiles []string) *Band {
	if z.Safe != nil {
		return z.Safe
	}
	b := &Band{Deadband: 0.5 / 1.8, OnDelay: 10 * time.Minute, OffDelay: 5 * time.Minute}
	for _, name := range profiles {
		p, ok := p.Profile(name)
		if !ok {
			continue
		}
		if p.Safe == (profile.Band{}) {
			continue
		}
		if x := p.Safe.Low; !math.IsInf(x, 0) && (b.Low == nil || x > *b.Low) {
			b.Low = &x
		}
		if x := p.Safe.High; !math.IsInf(x, 0) && (b.High == nil || x < *b.High) {
			b.High = &x
		}
	}
	if b.Low == nil && b.High == nil {
		return nil
	}
	return b
}

// Local gives a time on the zone's own clock.
func (p Plan) Local(t time.Time) time.Time {
	if p.Location == nil {
		return t.UTC()
	}
	return t.In(p.Location)
}
