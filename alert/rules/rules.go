// Package rules owns what each kind of alarm watches: its limit, its delays and its value, one
// file for each kind. A rule reads a View, a plain picture of zones, boxes, clutches and health
// that is made once a step, and shows values to a panel. It must not know where a View comes
// from, nor the state, the acknowledgement or the message of an alarm.
//
// # Decisions
//
//   - A drift is kept for each probe that watches a zone and each end of its bands, and
//     looks at the wanted limit and at the safe one. The last 14 days of the history teach
//     it at the start, and again when the boot gets another date. Its alarm is suppressed
//     under the band's own and shown again only once the drift itself is over; otherwise
//     the end of a cold night would call the drift that led there.
//   - A drift has two alarms, since a key names one priority: a warning, and a critical one
//     once the safe limit is passed soon. The keys and the JSON of the warning are as they
//     were before there was a critical one.
//   - Bands that change by hour and season hand the alarms their limits when another
//     comes into force. A drift keeps what it learned.
//   - Exposure alarms belong to a box and are rebuilt from the history. Eggs with one
//     history of stays felt the probe of their box, or else the worst of the probes of
//     their zone. A box's alarm takes the worst of its eggs. A zone has one of its own
//     only while no box with eggs stands in it. The key names the box alone, so a move
//     keeps the alarm. A cumulative exposure never ends, so it is told once.
//   - The drift alarm is measured by alert/backtest; a change of the detector is judged
//     there, on rooms left out and on made-up zones.
package rules

import (
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
)

// Rule watches the alarms of some kinds.
type Rule interface {
	// Kinds are what it watches. Each kind has one rule.
	Kinds() []alert.Kind
	// Limits adds the alarms that there are, with their limits.
	Limits(v *View, p *panel.Panel, limits map[alert.Key]alert.Limit)
	// Show shows the panel the value of each alarm. A key without a limit is ignored.
	Show(v *View, p *panel.Panel)
}

// How long an alarm that lasts is quiet before it calls again. The message says when. All are
// our choice.
const (
	callAgainCritical = time.Hour
	callAgainWarning  = 6 * time.Hour
	callAgainDaily    = 24 * time.Hour
	callAgainWeekly   = 7 * 24 * time.Hour
)

// lookEvery is how often values are looked at that the book or the forecast changes: nothing
// there is a matter of minutes (our choice).
const lookEvery = 10 * time.Minute

// Set is all rules in the order in which they are shown: a rule that hides an alarm under
// another comes after the other's rule.
type Set struct {
	all      []Rule
	drift    *drift
	exposure *exposure
	humidity *humidityTrend
}

// New makes the rules.
func New(past Past) *Set {
	s := &Set{drift: &drift{past: past, ends: map[zoneEnd]*driftEnd{}}, exposure: &exposure{past: past}, humidity: newHumidityTrend(past)}
	s.all = []Rule{
		temperature{}, humidity{}, s.humidity, s.drift, disagreement{}, rateOfChange{},
		s.exposure, silence{}, humiditySilence{}, &hatch{}, &drying{}, switchedOff{},
		storage{}, clock{}, &restart{}, copies{}, senders{}, heartbeat{}, historyDamaged{}, dailyReport{},
	}
	return s
}

// Rules are the rules of the set.
func (s *Set) Rules() []Rule { return s.all }

// Limits are all alarms that there are, with their limits. The panel is only read.
func (s *Set) Limits(v *View, p *panel.Panel) map[alert.Key]alert.Limit {
	limits := map[alert.Key]alert.Limit{}
	for _, r := range s.all {
		r.Limits(v, p, limits)
	}
	return limits
}

// Show shows the panel all values.
func (s *Set) Show(v *View, p *panel.Panel) {
	for _, r := range s.all {
		r.Show(v, p)
	}
}

// Shift follows a boot that turns out to have begun at another time: what was learned of the
// past is taken from the history again. Call Limits after it.
func (s *Set) Shift(v *View, by time.Duration) {
	s.drift.shift(v, by)
	s.exposure.forget()
	s.humidity.forget()
}

// ForgetExposures has what eggs felt taken from the history again at the next Limits, as when
// a calibration changed it.
func (s *Set) ForgetExposures() { s.exposure.forget() }

// truth shows whether a condition holds. While that is not known, an alarm that stands goes on.
func truth(p *panel.Panel, k alert.Key, holds, known bool) {
	p.Show(k, panel.Reading{Value: panel.Truth(holds), Known: known})
}
