package notice

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/cycle"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// When a second probe says whether the room, a box or a probe is the trouble. All are our
// choice.
const (
	// movedKelvin is how far a probe must have moved in half an hour, and movedEarlyKelvin how
	// far by the middle of it: before that the eggs in a box do not follow yet.
	movedKelvin, movedEarlyKelvin = 0.5, 0.2
	// followsRatio is the share of that by which another probe follows. In a closed box with a
	// time constant of 45 minutes it does so after half an hour of a steady fall.
	followsRatio = 0.25
	// holdsRatio is the share up to which another probe holds.
	holdsRatio, holdsKelvin = 0.1, 0.1
)

// Cause says what the probes of a zone tell of an alarm on a side of its bands that goes by one
// of them: a step, and whether the room, a box or the probe is the trouble. It is empty where
// they do not tell.
func Cause(side alert.Side, probe Probe, others []Probe, r words.Reader) string {
	if side != alert.TooCold && side != alert.TooWarm {
		return ""
	}
	text := ""
	if x := probe.Step; steps(side, probe) {
		text = words.Jump(r, probe.Name, x.Kelvin, "at "+r.Clock(x.At)) + " and holds: no heater is so fast. Probe moved or unplugged, or a door open?"
	}
	if moved := movedTogether(side, probe, others); moved != "" {
		text += " " + moved
	}
	return words.Capital(strings.TrimSpace(text))
}

// steps reports whether a probe jumped to a side.
func steps(side alert.Side, probe Probe) bool {
	return probe.Step != nil && (side == alert.TooWarm && probe.Step.Kelvin > 0 || side == alert.TooCold && probe.Step.Kelvin < 0)
}

// movedTogether says which probes go the way of the alarm's.
func movedTogether(side alert.Side, probe Probe, others []Probe) string {
	sign, verb := 1.0, "rise"
	if side == alert.TooCold {
		sign, verb = -1, "fall"
	}
	by := sign * probe.HalfHourK
	if !(by >= movedKelvin && by-sign*probe.QuarterK >= movedEarlyKelvin) {
		return ""
	}
	var follow, hold []Probe
	for _, p := range others {
		switch x := sign * p.HalfHourK; {
		case !p.Fresh || math.IsNaN(x):
		case x >= followsRatio*by:
			follow = append(follow, p)
		case x < max(holdsKelvin, holdsRatio*by):
			hold = append(hold, p)
		default:
			return "" // it may lag
		}
	}
	switch {
	case len(follow) > 0:
		return fmt.Sprintf("%s and %s %s: it is the place, not the probe.", where(probe), where(follow[0]), verb)
	case len(hold) > 0 && probe.Box != "":
		return fmt.Sprintf("Only %s %ss, %s holds: it is that box alone.", where(probe), verb, where(hold[0]))
	case len(hold) > 0:
		return fmt.Sprintf("Only %s %ss, %s holds: it is the probe, or a door near it.", where(probe), verb, where(hold[0]))
	}
	return ""
}

// where names a probe, and the box that it lies in.
func where(p Probe) string {
	if p.Box == "" {
		return p.Name
	}
	return p.Name + " in box " + p.Box
}

// causeText says what the probes of a zone tell of an alarm.
type causeText struct{ *composer }

// watchers are the probe that an alarm goes by, and the others of its zone; false where it goes
// by none that is known.
func (c causeText) watchers(k alert.Key) (probe Probe, others []Probe, known bool) {
	z, x := c.zone(k.Zone), c.Alarms[k]
	if z == nil {
		return Probe{}, nil, false
	}
	all := slices.Concat(z.Probes, z.Boxed)
	name := cmp.Or(x.DriftProbe, x.Probe)
	if name == "" && len(all) == 1 {
		name = all[0]
	}
	for _, o := range all {
		if o != name {
			others = append(others, c.Probes[o])
		}
	}
	probe, known = c.Probes[name]
	return probe, others, known
}

// sentence is the [Cause] of an event; empty where there is none.
func (c causeText) sentence(k alert.Key) string {
	probe, others, known := c.watchers(k)
	if !known {
		return ""
	}
	return strings.TrimSpace(Stopped(k.Kind.Side(), c.Alarms[k].Stopped) + " " + Cause(k.Kind.Side(), probe, others, c.r))
}

// Stopped says that a thermostat's cycle stopped on the way to a side; empty where it did not.
func Stopped(side alert.Side, s cycle.Stop) string {
	if s == (cycle.Stop{}) {
		return ""
	}
	return words.StoppedCycle(side == alert.TooWarm, s.Since, s.Usual)
}

// jumped reports whether the probe of an alarm jumped to the alarm's side: then its trend says
// nothing.
func (c causeText) jumped(k alert.Key) bool {
	probe, _, known := c.watchers(k)
	return known && steps(k.Kind.Side(), probe)
}

// FirstWhereItJumped is what a person does first where the probe of an alarm jumped to the
// alarm's side; empty where it did not.
func FirstWhereItJumped(side alert.Side, probe Probe) string {
	if !steps(side, probe) {
		return ""
	}
	return "See that the probe lies where it belongs and is plugged in. Then the door, then the heater."
}

// first is what a person does first.
func (c causeText) first(k alert.Key, said words.AlarmText) string {
	probe, _, _ := c.watchers(k)
	return cmp.Or(FirstWhereItJumped(k.Kind.Side(), probe), FirstWhereItDries(k, c.Media[k.Box]), said.First)
}
