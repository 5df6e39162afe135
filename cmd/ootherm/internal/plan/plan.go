// Package plan turns the configuration into the domain's terms: probes, zones with their
// bands, senders, species. A plan does not change while the station runs. The package must
// not open a probe, a file or a sender.
package plan

import (
	"fmt"
	"math"
	"slices"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/profile"
)

// Plan lists what a station watches and how. It does not change while the station runs.
type Plan struct {
	Name     string
	Units    words.Units
	Location *time.Location
	URL      string        // of the page
	Every    time.Duration // between two polls
	Flush    time.Duration // between two flushes of the readings to the card
	Probes   []Probe
	Zones    []Zone
	Senders  []Sender
	Profiles []profile.Profile // the species built in and the breeder's own
}

// ProfileNames returns the names of all profiles.
func (p Plan) ProfileNames() []string {
	var names []string
	for _, x := range p.Profiles {
		names = append(names, x.Name)
	}
	return names
}

// EggG returns the range of an egg's mass in a profile, in grams, or 0 and 0 if it is not
// known.
func (p Plan) EggG(kind string) (least, most float64) {
	x, _ := p.Profile(kind)
	return x.EggG.Low, x.EggG.High
}

// Bands returns the temperatures, Celsius, that eggs of a profile want and those that are safe for
// them; nil where an end is not known.
func (p Plan) Bands(kind string) (wanted, safe snapshot.Band) {
	x, _ := p.Profile(kind)
	band := func(b profile.Band) (y snapshot.Band) {
		if b != (profile.Band{}) {
			y.Low, y.High = snapshot.OptFloat(b.Low), snapshot.OptFloat(b.High)
		}
		return y
	}
	return band(x.Wanted), band(x.Safe)
}

// Probe is one probe. Its name is its identity.
type Probe struct {
	Name        string
	Bus         string        // the bus that it shares with other probes; empty: none
	Offset      float64       // K, added to the raw temperature
	SilentAfter time.Duration // an alarm after this time without a believed reading
	Thermometer bool          // it measures no humidity; if false, it may
}

// Sender is one way to send messages.
type Sender struct {
	Name       string
	Priorities []string       // that it takes; empty: all
	After      time.Duration  // above 0: only critical alarms that are not acknowledged after this time
	AllWell    *time.Duration // time of the daily report, after midnight; nil: none
}

// Sender returns the sender of a name. An unknown name gives a sender that takes all
// messages.
func (p Plan) Sender(name string) Sender {
	for _, x := range p.Senders {
		if x.Name == name {
			return x
		}
	}
	return Sender{Name: name}
}

// Takes reports whether a sender takes a message of this priority.
func (x Sender) Takes(m alert.Message) bool {
	if x.After > 0 && (m.Priority != alert.Critical || m.Over) {
		return false
	}
	return len(x.Priorities) == 0 || slices.Contains(x.Priorities, string(m.Priority))
}

// Zone is one room, shelf or incubator.
type Zone struct {
	Name     string
	Kind     string // room, shelf, incubator
	Probes   []string
	SetPoint *float64 // C
	Wanted   *Band    // C; a warning outside it
	Safe     *Band    // C; critical outside it; nil: the strictest of the profiles in the zone
	Humidity *Band    // ratio; a warning outside it
	Rate     float64  // K per hour; a faster change is a warning; 0: off
	Apart    float64  // K; a larger difference between probes is a warning; 0: off
	Single   *Dose    // one stay past the limit for this time is critical
	Total    *Dose    // all stays since the first egg was placed; their sum is critical
}

// Dose is a time that a zone may spend at a limit or past it.
type Dose struct {
	Low, High *float64 // C; either may be absent
	For       time.Duration
}

// Band is a range with its deadband and delays, by hour and season if set. Either end may
// be absent.
type Band = config.Band

// GapLimit returns the longest time between two believed readings that still counts as
// measured. It is ten minutes, because the medium of a box does not follow the air faster
// (our choice), or two polls if that is longer.
func (p Plan) GapLimit() time.Duration { return max(10*time.Minute, 2*p.Every) }

// Fresh returns the age up to which a reading counts as the present value: three polls
// (our choice).
func (p Plan) Fresh() time.Duration { return 3 * p.Every }

// SilentAfter returns the time without a believed reading after which a probe raises an
// alarm. It is at least the three polls after which a reading is stale.
func (p Plan) SilentAfter(probe string) time.Duration {
	for _, x := range p.Probes {
		if x.Name == probe {
			return max(x.SilentAfter, p.Fresh())
		}
	}
	return p.Fresh()
}

// Thermometer reports whether the configuration says that a probe measures no humidity.
func (p Plan) Thermometer(probe string) bool {
	return slices.ContainsFunc(p.Probes, func(x Probe) bool { return x.Name == probe && x.Thermometer })
}

// Profile returns the profile of a name and reports whether there is one.
func (p Plan) Profile(name string) (profile.Profile, bool) {
	for _, x := range p.Profiles {
		if x.Name == name {
			return x, true
		}
	}
	return profile.Profile{}, false
}

// Arrests reports whether the eggs of a profile rest before they develop, and whether its
// durations then count from the end of that.
func (p Plan) Arrests(name string) (arrested, fromEnd bool) {
	x, _ := p.Profile(name)
	return x.ArrestedDevelopment, x.CountsFromResumption()
}

// RequireProbes returns an error if the plan has no probe. The error names the
// configuration file at path.
func (p Plan) RequireProbes(path string) error {
	if len(p.Probes) > 0 {
		return nil
	}
	return usererr.Usage(fmt.Errorf("%s has no probes and no zones, so there is nothing to watch; ootherm probes prints the sections to paste for what is connected, or move the file away and run ootherm setup, which asks a few questions", path))
}

// LampKind is the kind of sender that carries no messages.
const LampKind = "lamp"

// MaxClockSkew limits how far in the future an entry may lie, because the clocks of a phone
// and the station differ (our choice).
const MaxClockSkew = 10 * time.Minute

// Safe returns a zone's safe band, with all its spells. If the zone has none, it is the
// strictest band of the profiles whose eggs are in the zone, or nil.
func (p Plan) Safe(z Zone, profiles []string) *Band {
	if z.Safe != nil {
		return z.Safe
	}
	b := &Band{Deadband: 0.5 / 1.8, OnDelay: 10 * time.Minute, OffDelay: 5 * time.Minute}
	for _, name := range profiles {
		x, ok := p.Profile(name)
		if !ok || x.Safe == (profile.Band{}) {
			continue
		}
		if x := x.Safe.Low; !math.IsInf(x, 0) && (b.Low == nil || x > *b.Low) {
			b.Low = &x
		}
		if x := x.Safe.High; !math.IsInf(x, 0) && (b.High == nil || x < *b.High) {
			b.High = &x
		}
	}
	if b.Low == nil && b.High == nil {
		return nil
	}
	return b
}

// Local returns a time in the station's time zone.
func (p Plan) Local(t time.Time) time.Time {
	if p.Location == nil {
		return t.UTC()
	}
	return t.In(p.Location)
}
