package rules

import (
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
)

// hatchOffDelay is how long a window is over before its notice ends: a window moves a little
// each day (our choice).
const hatchOffDelay = 24 * time.Hour

// hatch watches the windows of clutches: whether one is open, and whether it has passed.
type hatch struct {
	forecast, at time.Time // of the last look
}

// WindowOpening is the alarm of a clutch that may hatch from now on.
func WindowOpening(clutch, box string) alert.Key {
	return alert.Key{Kind: alert.WindowOpening, Priority: alert.Notice, Box: box, Clutch: clutch}
}

// Late is the alarm of a clutch whose window has passed.
func Late(clutch, box string) alert.Key {
	return alert.Key{Kind: alert.Late, Priority: alert.Notice, Box: box, Clutch: clutch}
}

func (*hatch) Kinds() []alert.Kind { return []alert.Kind{alert.WindowOpening, alert.Late} }

func (*hatch) Limits(v *View, _ *panel.Panel, limits map[alert.Key]alert.Limit) {
	for _, c := range v.Clutches {
		limits[WindowOpening(c.Name, c.Box)] = alert.Condition(0, hatchOffDelay, 0)
		limits[Late(c.Name, c.Box)] = alert.Condition(0, hatchOffDelay, callAgainWeekly)
	}
}

func (h *hatch) Show(v *View, p *panel.Panel) {
	if h.forecast.Equal(v.Forecast) && v.Now.Sub(h.at).Abs() < lookEvery {
		return
	}
	h.forecast, h.at = v.Forecast, v.Now
	for _, c := range v.Clutches {
		w := c.Window
		if w == nil {
			continue
		}
		past := w.Late || !v.Now.Before(w.LateAfter)
		truth(p, WindowOpening(c.Name, c.Box), !past && !v.Now.Before(w.CheckFrom), true)
		truth(p, Late(c.Name, c.Box), past, true)
	}
}
