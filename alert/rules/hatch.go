package rules

import (
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
)

// hatchOffDelay is how long a window is over before its notice ends: a window moves a little
// each day (our choice). Where the clutch is late, the notice of that takes the place of the
// others at once.
const hatchOffDelay = 24 * time.Hour

// hatch watches the states of clutches: whether one is to be checked daily, hatches or is late.
type hatch struct {
	forecast, at time.Time // of the last look
}

// WindowOpening is the alarm of a clutch that is to be checked daily from now on.
func WindowOpening(clutch, box string) alert.Key {
	return alert.Key{Kind: alert.WindowOpening, Priority: alert.Notice, Box: box, Clutch: clutch}
}

// Hatching is the alarm of a clutch of which an egg has pipped or hatched.
func Hatching(clutch, box string) alert.Key {
	return alert.Key{Kind: alert.Hatching, Priority: alert.Notice, Box: box, Clutch: clutch}
}

// Late is the alarm of a clutch whose window has passed.
func Late(clutch, box string) alert.Key {
	return alert.Key{Kind: alert.Late, Priority: alert.Notice, Box: box, Clutch: clutch}
}

func (*hatch) Kinds() []alert.Kind {
	return []alert.Kind{alert.WindowOpening, alert.Hatching, alert.Late}
}

func (*hatch) Limits(v *View, _ *panel.Panel, limits map[alert.Key]alert.Limit) {
	for _, c := range v.Clutches {
		limits[WindowOpening(c.Name, c.Box)] = panel.Condition(0, hatchOffDelay, 0)
		limits[Hatching(c.Name, c.Box)] = panel.Condition(0, hatchOffDelay, 0)
		limits[Late(c.Name, c.Box)] = panel.Condition(0, hatchOffDelay, callAgainWeekly)
	}
}

func (h *hatch) Show(v *View, p *panel.Panel) {
	if h.forecast.Equal(v.Forecast) && v.Now.Sub(h.at).Abs() < lookEvery {
		return
	}
	h.forecast, h.at = v.Forecast, v.Now
	for _, c := range v.Clutches {
		if !c.Known {
			continue
		}
		h.show(c, p)
	}
}

func (h *hatch) show(c Clutch, p *panel.Panel) {
	opening, hatching, late := WindowOpening(c.Name, c.Box), Hatching(c.Name, c.Box), Late(c.Name, c.Box)
	truth(p, late, c.Late, true)
	x, _ := p.Alarm(opening)
	open := c.CheckDaily || c.Hatching && x.True // the message of the hatch says to look
	if p.Stands(late) && !c.Late {
		open = open && x.True // a window that moves a little calls nobody again
	}
	for _, notice := range []struct {
		key   alert.Key
		holds bool
	}{{opening, open}, {hatching, c.Hatching}} {
		if c.Late && !notice.holds {
			p.End(notice.key)
		} else {
			truth(p, notice.key, notice.holds, true)
		}
	}
}
