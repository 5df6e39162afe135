// Package rules owns what each kind of alarm watches: its limit, its delays and its value, one
// file for each kind. A rule reads a View, a plain picture of zones, boxes, clutches and health
// that is made once a step, and shows values to a panel. It must not know where a View comes
// from, nor the state, the acknowledgement or the message of an alarm.
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
	Limits(v *View, limits map[alert.Key]alert.Limit)
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
	all []Rule
}

// New makes the rules.
func New(drift, exposure Rule) *Set {
	return &Set{all: []Rule{
		&temperature{}, &humidity{}, drift, disagreement{}, rateOfChange{},
		exposure, silence{}, humiditySilence{}, &hatch{}, &drying{}, switchedOff{},
		storage{}, clock{}, &restart{}, copies{}, senders{}, historyDamaged{}, dailyReport{},
	}}
}

// Rules are the rules of the set.
func (s *Set) Rules() []Rule { return s.all }

// Limits are all alarms that there are, with their limits.
func (s *Set) Limits(v *View) map[alert.Key]alert.Limit {
	limits := map[alert.Key]alert.Limit{}
	for _, r := range s.all {
		r.Limits(v, limits)
	}
	return limits
}

// Show shows the panel all values.
func (s *Set) Show(v *View, p *panel.Panel) {
	for _, r := range s.all {
		r.Show(v, p)
	}
}

// truth shows whether a condition holds. While that is not known, an alarm that stands goes on.
func truth(p *panel.Panel, k alert.Key, holds, known bool) {
	p.Show(k, panel.Reading{Value: alert.Truth(holds), Known: known})
}
