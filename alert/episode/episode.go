// Package episode decides which messages a failure leads to. An episode is one occurrence on a
// side of a zone's bands, or of a silent probe: it begins, will pass the safe limit, passes it,
// comes and goes, holds, and ends. The package is pure: a step takes a record and the alarms,
// and gives the next record and the messages. It must not know where a value comes from, how a
// message is worded or how a record is stored.
//
// # Decisions
//
//   - Every transition of an alarm is in the log and in the JSON. The episode decides which
//     of them become messages.
//   - After the first message of an episode, passing the wanted limit leads to no message.
//     The next ones tell of the safe limit, or repeat the alarm.
//   - ISA-18.2 treats a repeating alarm as a fault of its own. From the third time on, one
//     message tells of all, and the end is told after hours without another time.
//   - A warning waits while its value returns, as after a window was shut.
//   - An episode that comes every day at the same hour, as in a cold night or while a window is
//     open, leads to messages on three days. After that a message comes once a week, and on a
//     day that is unlike those three; see [Daily].
package episode

import (
	"strings"
	"time"

	"example.com/ootherm/alert"
)

// All are our choice.
const (
	// recurringTimes is the number of occurrences that make an episode recurring.
	recurringTimes = 3
	// quietEnd is the time without an alarm that ends a recurring episode. Occurrences that
	// are closer together are counted together.
	quietEnd = 6 * time.Hour
	// minQuiet is the time without an alarm before an end is told: a thermostat's swing
	// returns within it. The end of a silence or of a passed safe limit is told sooner.
	minQuiet, minQuietCritical = time.Hour, 30 * time.Minute
	// usualOffDelay is the off-delay of a band to which the times here belong; with a shorter
	// one they are shorter.
	usualOffDelay = 5 * time.Minute
	// insideEnd is the time inside the wanted band that ends an episode although the value is
	// not where it usually is: somebody may have changed the set point.
	insideEnd = 6 * time.Hour
	// returnTime is how long a warning waits for a value that returns.
	returnTime = time.Hour
	// UrgentTime is the time left until the safe limit from which a message is critical: an
	// hour to get there, and an hour to carry boxes. Priority follows the consequence and the
	// time to act (ISA-18.2, IEC 62682).
	UrgentTime = 2 * time.Hour
	// foreseeTime is how long a forecast of the safe limit must last before a message tells
	// of it, where no alarm of its own does.
	foreseeTime = 10 * time.Minute
	// doorTime is how long a message waits while the value changes fast: an open door looks
	// like a failure until it is shut. The alarm of the safe limit does not wait.
	doorTime = 5 * time.Minute
	// WorseKelvin is how much worse a value must be for another message at once.
	WorseKelvin = 0.5
)

// repeats are the times after which the message of a recurring episode is repeated; after the
// last, each day.
var repeats = [...]time.Duration{time.Hour, 6 * time.Hour, 12 * time.Hour, 24 * time.Hour}

// Stage is what a message tells of an episode.
type Stage string

// Stages. The empty one is an event of an alarm that has no episode.
const (
	Began        Stage = "began"
	WillPass     Stage = "will-pass-safe"
	Passed       Stage = "passed-safe"
	Again        Stage = "again" // it lasts
	ComesAndGoes Stage = "comes-and-goes"
	Holds        Stage = "holds" // it does not get worse, and is not back
	Over         Stage = "over"
)

// Situation is what a side of a place is now, beside its alarms.
type Situation struct {
	Value     float64   // the worst on this side; NaN: not known
	Probe     string    // whose value it is; empty: not known
	Inside    bool      // it is inside the wanted band
	Back      bool      // it is back where it usually is, or inside where that is not known
	Returning bool      // the last minutes go the right way
	Fast      bool      // it changes as fast as when a door is open
	MayJump   bool      // it changed as by a jump some minutes ago, and is level so far
	SafeAt    time.Time // when the safe limit is passed; zero: not foretold
}

// Look gives the situation of a side. An empty one is asked of what is silent.
type Look func(side alert.Side) Situation

// Told is one thing that a person is told: a stage of an episode, or an event alone.
type Told struct {
	alert.Event
	Stage  Stage
	Thread Thread
	SafeAt time.Time // when the safe limit is passed; zero: not foretold, or it is passed

	Course
	Swings bool   // of what comes and goes: on both sides
	Days   int    // of what began: on so many days it came at about this hour, this one included
	Unlike Unlike // why today is not as on those days, where it was expected; empty: it is, or was not
}

// Thread is the identity of an episode.
type Thread struct {
	ID    string // empty: the event has no episode
	Began time.Time
}

// Record is what is known of a place: the episodes on its sides, and how often there was one
// lately. The zero value is a place where all is well.
type Record struct {
	Sides [2]Side `json:"sides"` // the low side, or the only one, and the high one
	Course
	Recurring time.Time            `json:"recurring,omitzero"` // since when it is told that it comes and goes
	Repeats   int                  `json:"repeats,omitempty"`  // how often that was told again
	Rose      [2]bool              `json:"rose"`               // which sides had a time
	Fast      int                  `json:"fast,omitempty"`     // the way of a fast change that stands: -1 down, 1 up; 0: none
	Daily     [2][dailyHours]Daily `json:"daily"`              // what comes every day, on each side
}

// Course is how often and how far a value went since the first of several times.
type Course struct {
	Times   int       `json:"times,omitempty"`
	Since   time.Time `json:"since,omitzero"`
	Known   bool      `json:"known,omitempty"` // the two that follow are
	Lowest  float64   `json:"lowest,omitempty"`
	Highest float64   `json:"highest,omitempty"`
}

// Side is the episode on one side.
type Side struct {
	ID     string    `json:"id,omitempty"` // the same in all its messages; empty: there is none
	Began  time.Time `json:"began,omitzero"`
	Alarm  string    `json:"alarm,omitempty"` // the key of the most urgent alarm that was told of
	Told   bool      `json:"told,omitempty"`
	Held   bool      `json:"held,omitempty"`   // it was told that it holds
	Urgent bool      `json:"urgent,omitempty"` // it was told that the safe limit is passed soon
	Stands bool      `json:"stands,omitempty"` // an alarm of it stands, and is not hidden
	Quiet  time.Time `json:"quiet,omitzero"`   // since when none does
	Soon   time.Time `json:"soon,omitzero"`    // since when the safe limit is foretold to be passed soon
	Inside time.Time `json:"inside,omitzero"`  // since when the value is inside the wanted band
	Back   bool      `json:"back,omitempty"`   // since nothing stands it was back where it usually is
	Expectation
	Extreme

	Past   bool    `json:"past_safe,omitempty"`  // the safe limit was passed, and that was told
	ToldAt float64 `json:"told_value,omitempty"` // the worst value past safe that was told
}

// Expectation is what an episode has to do with those of the days before; see [Daily].
type Expectation struct {
	Expected bool          `json:"expected,omitempty"` // it comes every day, and is not told of
	Late     time.Time     `json:"late,omitzero"`      // when it was told of after it was expected
	Unlike   Unlike        `json:"unlike,omitempty"`   // why it is not expected, where it could be
	Limit    float64       `json:"limit,omitempty"`    // of the wanted band when it began
	Stood    stood         `json:"stood,omitempty"`    // what stood in it
	Near     time.Duration `json:"near,omitempty"`     // since it began, until the safe limit did not seem near any more
	Missing  time.Time     `json:"missing,omitzero"`   // since when its value is missing
	Probes   string        `json:"probes,omitempty"`   // that were the worst, a line each
}

// Extreme is the worst value of an episode.
type Extreme struct {
	HasWorst bool    `json:"has_worst,omitempty"`
	Worst    float64 `json:"worst,omitempty"`
}

// Place is the key of what an alarm's episodes belong to: the temperature or the humidity of
// a zone, or a probe or a bus that gives nothing. False: such an alarm has no episodes.
func Place(k alert.Key) (alert.Key, bool) {
	place := alert.Key{Priority: alert.Notice, Zone: k.Zone}
	switch k.Kind {
	case alert.TemperatureLow, alert.TemperatureHigh, alert.DriftDown, alert.DriftUp, alert.RateOfChange:
		place.Kind = temperaturePlace
	case alert.HumidityLow, alert.HumidityHigh:
		place.Kind = placePrefix + "humidity"
	case alert.ProbeSilent, alert.HumiditySilent, alert.BusSilent:
		place.Kind, place.Probe, place.Part = placePrefix+k.Kind, k.Probe, k.Part
	default:
		return alert.Key{}, false
	}
	return place, true
}

const (
	placePrefix      = "episode-of-"
	temperaturePlace = placePrefix + "temperature"
)

// IsPlace reports whether a key is one that Place gives.
func IsPlace(k alert.Key) bool { return strings.HasPrefix(string(k.Kind), placePrefix) }

// OfTemperature reports whether a place is the temperature of a zone.
func OfTemperature(place alert.Key) bool { return place.Kind == temperaturePlace }

// Shift moves the times that are not before a time.
func (r Record) Shift(since time.Time, by time.Duration) Record {
	times := r.times()
	for i := range r.Daily {
		for j := range r.Daily[i] {
			d := &r.Daily[i][j]
			times = append(times, &d.Last, &d.Hour, &d.ToldAt)
		}
	}
	for _, t := range times {
		if !t.IsZero() && !t.Before(since) {
			*t = t.Add(by)
		}
	}
	return r
}

// Resume takes up a record that was stored. Times ahead of the clock are brought back to it, so
// that a station that woke with an old clock does not wait for it to catch up. A [Daily] that is
// ahead of the clock, or that no version writes, is forgotten.
func (r Record) Resume(now time.Time) Record {
	for i := range r.Daily {
		for j := range r.Daily[i] {
			if d := &r.Daily[i][j]; d.Last.After(now) || d.Hour.After(d.Last) || d.Days < 0 || d.Unlike < 0 || d.Unlike >= DailyDays {
				*d = Daily{}
			}
		}
	}
	for _, t := range r.times() {
		if t.After(now) {
			*t = now
		}
	}
	return r
}

func (r *Record) times() []*time.Time {
	a, b := &r.Sides[0], &r.Sides[1]
	return []*time.Time{&r.Since, &r.Recurring, &a.Soon, &b.Soon, &a.Late, &b.Late, &a.Missing, &b.Missing, &a.Began, &a.Quiet, &a.Inside, &b.Began, &b.Quiet, &b.Inside}
}

// IsIdle reports whether nothing stands, nor stood lately.
func (r Record) IsIdle() bool {
	r.Daily = [2][dailyHours]Daily{}
	return r == Record{}
}

// Stored is the record without what changes at each step: what must be stored at once is
// different there.
func (r Record) Stored() Record {
	r.Known, r.Lowest, r.Highest = false, 0, 0
	for i := range r.Sides {
		r.Sides[i].Extreme, r.Sides[i].Soon, r.Sides[i].Unlike, r.Sides[i].Near, r.Sides[i].Missing = Extreme{}, time.Time{}, "", 0, time.Time{}
	}
	return r
}
