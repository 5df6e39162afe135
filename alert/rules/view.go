package rules

import (
	"math"
	"slices"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/episode"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/thermal/book"
)

// View is what the rules see of a station in one step.
type View struct {
	Now      time.Time
	Started  time.Time     // of the station
	Off      time.Duration // how long the station was off before that; 0: hardly, or not known
	Every    time.Duration // between two polls
	Book     int           // counts the changes of what the book says
	Forecast time.Time     // when the windows were computed

	Probes   map[string]*Probe
	Zones    []Zone
	Buses    []Bus // with more than one probe
	Boxes    []Box // in use
	Clutches []Clutch
	Health   Health
}

// Probe is one probe.
type Probe struct {
	Name        string
	Celsius     float64   // the last that was believed; NaN before the first
	Humidity    float64   // the same, as a ratio
	Good        time.Time // when that was; zero: not since the start
	Before      time.Time // when a reading was last believed before the start; zero: not known
	Fresh       bool      // the last counts as the present value
	SilentAfter time.Duration
	Thermometer bool    // it measures no humidity
	Moist       bool    // it measures humidity, as far as is known, or should
	StepKelvin  float64 // how far the temperature jumped, and is level since; 0: it did not
	MayJump     bool    // it changed as by a jump some minutes ago, and is level so far

	LatelyKelvin float64 // how far the temperature changed in the last minutes; NaN: not known
}

// jumped reports whether the temperature of a probe jumped to a side, and is level since. That
// comes from a probe that was moved or from a door, and what it will be does not follow from it.
func (p *Probe) jumped(high bool) bool {
	return high && p.StepKelvin > 0 || !high && p.StepKelvin < 0
}

// Lately is how far back the present rate of a probe is taken.
const Lately = 6 * time.Minute

// hasten is what is foretold of a limit where the temperature goes there much faster now than the
// change over half an hour or more that foretold it: as fast as now, the limit is passed sooner.
func (p *Probe) hasten(now time.Time, c alert.Projection) alert.Projection {
	rate, gap := p.LatelyKelvin/Lately.Hours(), c.Limit-p.Celsius
	if !(math.Abs(rate) >= max(fastKelvinPerHour, hastenRatio*math.Abs(c.PerHour))) || rate*gap <= 0 {
		return c
	}
	if at := now.Add(time.Duration(gap / rate * float64(time.Hour))); at.Before(c.At) {
		c.At, c.PerHour = at, rate
		if at.Before(c.Earliest) {
			c.Earliest = at
		}
	}
	return c
}

// hastenRatio is how much faster a temperature changes now than it did where that is foretold by
// the present rate (our choice).
const hastenRatio = 1.5

// Band is a range in force in C or as a ratio. Either end may be absent.
type Band struct {
	Low, High         *float64
	Deadband          float64
	OnDelay, OffDelay time.Duration
}

// Limit is one end of a band, that is there, as the limit of an alarm.
func (b *Band) Limit(high bool, again time.Duration) alert.Limit {
	l := alert.Limit{High: high, Deadband: b.Deadband, OnDelay: b.OnDelay, OffDelay: b.OffDelay, ReAlarm: again}
	if high {
		l.At = *b.High
	} else {
		l.At = *b.Low
	}
	return l
}

// Has reports whether a band is there and has an end.
func (b *Band) Has(high bool) bool {
	return b != nil && (high && b.High != nil || !high && b.Low != nil)
}

// Zone is one room, shelf or incubator.
type Zone struct {
	Name          string
	Wanted, Safe  *Band          // in force now, C; nil: none
	Humidity      *Band          // in force now, ratio; nil: none
	AsksHumidity  bool           // a band of humidity is in force at some hour
	Rate          float64        // K an hour that are too fast; 0: not watched
	Apart         float64        // K between probes that are too much; 0: not watched
	Single, Total *ExposureLimit // of one stay and of all together; nil: not watched
	Probes        []*Probe
	Boxed         []*Probe // of boxes with eggs here, that no zone lists
	Trend         Trend
	Turn          Turn
	Eggs          bool    // eggs wait here
	Since         History // where no eggs are: since the last left
}

// Trend is how a zone's temperature goes; see [alert.Trend]. It is computed when a rule asks.
type Trend interface {
	PerHour() float64
	RecentPerHour(now time.Time) float64
	Rebound(now time.Time) (above, below float64)
}

// Turn is the last change of a zone's wanted band by the hour. The thermostat changes with it.
type Turn struct {
	At                    time.Time // zero: there was none lately
	LowKelvin, HighKelvin float64   // by how much each end changed, K
}

// by is how much one end changed, K.
func (t Turn) by(high bool) float64 {
	if high {
		return t.HighKelvin
	}
	return t.LowKelvin
}

// Zone is the zone of a name; nil where there is none.
func (v *View) Zone(name string) *Zone {
	for i := range v.Zones {
		if v.Zones[i].Name == name {
			return &v.Zones[i]
		}
	}
	return nil
}

// watchers is the number of probes that watch a zone; watcher is one of them.
func (z *Zone) watchers() int { return len(z.Probes) + len(z.Boxed) }

func (z *Zone) watcher(i int) *Probe {
	if i < len(z.Probes) {
		return z.Probes[i]
	}
	return z.Boxed[i-len(z.Probes)]
}

// watchedBy reports whether a probe watches a zone.
func (z *Zone) watchedBy(name string) bool {
	for i := range z.watchers() {
		if z.watcher(i).Name == name {
			return true
		}
	}
	return false
}

// Jumped reports whether the temperature of a probe that watches a zone jumped to a side, and
// is level since.
func (z *Zone) Jumped(probe string, high bool) bool {
	for i := range z.watchers() {
		if p := z.watcher(i); p.Name == probe {
			return p.jumped(high)
		}
	}
	return false
}

// only reports whether a probe is all that a zone is watched by.
func (z *Zone) only(p *Probe) bool { return len(z.Probes) == 1 && z.Probes[0] == p }

// quantity is what of a probe a rule looks at, and how many of a zone's watchers count for it.
type quantity struct {
	of    func(*Probe) float64
	count func(*Zone) int
}

var (
	celsius  = quantity{func(p *Probe) float64 { return p.Celsius }, (*Zone).watchers}
	moisture = quantity{func(p *Probe) float64 { return p.Humidity }, (*Zone).humidityWatchers}
)

// humidityWatchers is how many watchers of a zone, its own first, count for its humidity. A
// closed box of eggs is wet inside, whatever the air beside it. So its probe counts only where
// no probe that the zone lists measures humidity.
func (z *Zone) humidityWatchers() int {
	if slices.ContainsFunc(z.Probes, func(p *Probe) bool { return p.Moist }) {
		return len(z.Probes)
	}
	return z.watchers()
}

// worst is the highest or the lowest fresh value of a zone, and its probe; nil where no probe
// has one. A probe that disagrees with its neighbours counts: it may be the one that is beside
// the trouble, and an alarm too many does less harm than one too few.
func (z *Zone) worst(of quantity, high bool) (v float64, who *Probe) {
	v = math.NaN()
	for i := range of.count(z) {
		p := z.watcher(i)
		x := of.of(p)
		if !p.Fresh || math.IsNaN(x) {
			continue
		}
		if who == nil || high && x > v || !high && x < v {
			v, who = x, p
		}
	}
	return v, who
}

// sources are the probes of a zone as the panel takes them.
func (z *Zone) sources(of quantity) (all []panel.Source) {
	for i := range of.count(z) {
		p := z.watcher(i)
		all = append(all, panel.Source{Name: p.Name, Value: of.of(p), At: p.Good, Silent: !p.Fresh})
	}
	return all
}

// Values are the fresh values of a zone that its bands of temperature or of humidity go by.
func (z *Zone) Values(humidity bool) (all []float64) {
	of := celsius
	if humidity {
		of = moisture
	}
	for i := range of.count(z) {
		if p := z.watcher(i); p.Fresh && !math.IsNaN(of.of(p)) {
			all = append(all, of.of(p))
		}
	}
	return all
}

// silent reports whether a probe of a zone gives nothing now.
func (z *Zone) silent(name string) bool {
	for i := range z.watchers() {
		if p := z.watcher(i); p.Name == name {
			return !p.Fresh
		}
	}
	return false
}

// nameOf is the name of a probe; empty for none.
func nameOf(p *Probe) string {
	if p == nil {
		return ""
	}
	return p.Name
}

// Bus is a wire that several probes share.
type Bus struct {
	Name   string
	Probes []*Probe
}

// BusProbes are the probes of a bus; nil where there is no such bus.
func (v *View) BusProbes(bus string) []*Probe {
	for _, b := range v.Buses {
		if b.Name == bus {
			return b.Probes
		}
	}
	return nil
}

// Box is a box in use.
type Box struct {
	Name      string
	Zone      string
	Eggs      bool // that wait or have pipped
	Stays     []book.Stay
	Histories []History // of those eggs
	Lost      *float64  // of the water it began with, at least so much is gone; nil: not known
	Foretold  Foretold
}

// Foretold is what is computed of a box's water since it was last weighed. Times is NaN where
// that is not known of the box.
type Foretold struct {
	Tended  time.Time // when it was last weighed or watered
	Unknown bool      // what it lost since is not known, or not computed yet
	Share   *float64  // of the water it began with, a weighing would find so much gone at least; nil: not known
	Times   float64   // how fast it dries, over the last day, as a ratio to the usual
}

// History is the stays of eggs, by an identity that is the same for the same stays.
type History struct {
	ID    string
	Stays []book.Stay // at least one
}

// Clutch is the eggs of a clutch that wait in one box, and their state. Eggs that came there
// apart may be in several.
type Clutch struct {
	Name, Box  string
	Known      bool // its state is
	CheckDaily bool // the first egg may hatch
	Hatching   bool // an egg of the clutch has pipped or hatched
	Late       bool
}

// Health is how the station itself is.
type Health struct {
	StorageFailing bool // readings or alarms could not be written
	StorageKnown   bool // they were tried
	Synchronised   bool // the clock is right

	WatchesSpace bool
	Free         uint64 // bytes left on the card
	FreeKnown    bool

	WatchesCopies bool
	CopyFailing   bool // the book does not leave the card

	HistoryDamaged bool // stored readings cannot be read
	HistoryKnown   bool // what the station needs of them was read

	WatchesSenders bool
	Senders        []Sender

	WatchesHeartbeat bool
	HeartbeatTried   bool // since the start
	HeartbeatFailing bool // its last attempt failed
}

// Sender is one way messages go.
type Sender struct {
	Name        string
	DailyReport bool // it sends a line each day
	Tried       bool // since the start
	Failing     bool // its last attempt failed
}

// returningKelvin is how far a value came back in ten minutes to be on its way back (our choice).
const returningKelvin = 0.2

// Situation is what a side of a place is now, and whether the temperature there falls.
func (s *Set) Situation(v *View, place alert.Key, side alert.Side) (now episode.Situation, falls bool) {
	now = episode.Situation{Value: math.NaN()}
	z := v.Zone(place.Zone)
	if z == nil {
		return now, false
	}
	high := side == alert.TooWarm || side == alert.TooDamp
	if side == alert.TooDry || side == alert.TooDamp {
		worst, who := z.worst(moisture, high)
		now.Value, now.Probe = worst, nameOf(who)
		now.Inside = z.Humidity.inside(now.Value)
		now.Back = now.Inside
		return now, false
	}
	worst, who := z.worst(celsius, high)
	now.Value, now.Probe = worst, nameOf(who)
	if who == nil {
		return now, false
	}
	band := z.Wanted
	if band == nil {
		band = z.Safe
	}
	now.Inside = band.inside(worst)
	now.Back = now.Inside
	if level, known := s.Level(v, z.Name, high); known {
		now.Back = level.Back
	}
	above, below := z.Trend.Rebound(v.Now)
	now.Returning = high && below >= returningKelvin || !high && above >= returningKelvin
	now.MayJump = who.MayJump
	now.Fast = math.Abs(z.Trend.RecentPerHour(v.Now)) >= fastKelvinPerHour
	return now, z.Trend.PerHour() < 0
}

// fastKelvinPerHour is how fast a value changes that may come from an open door rather than
// from a failed heater (our choice).
const fastKelvinPerHour = 4.0

// inside reports whether a value is within both ends of a band, as far as there are any.
func (b *Band) inside(v float64) bool {
	if b == nil || math.IsNaN(v) {
		return false
	}
	return !(b.Has(false) && b.Limit(false, 0).Beyond(v)) && !(b.Has(true) && b.Limit(true, 0).Beyond(v))
}
