package rules

import (
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
)

// leastOff is how long a station was off at least for that to be told: as long as counts as
// measured. restartShownFor is how long it is told (our choice).
const (
	leastOff        = 10 * time.Minute
	restartShownFor = 10 * time.Minute
)

// StationRestarted is the alarm of a station that was off.
var StationRestarted = alert.Key{Kind: alert.StationRestarted, Priority: alert.Notice}

// restart tells that the station was off before it started.
type restart struct {
	seen bool // the alarm of an earlier restart is over
}

func (*restart) Kinds() []alert.Kind { return []alert.Kind{alert.StationRestarted} }

func (*restart) Limits(_ *View, _ *panel.Panel, limits map[alert.Key]alert.Limit) {
	limits[StationRestarted] = panel.Condition(0, 0, 0)
}

func (r *restart) Show(v *View, p *panel.Panel) {
	off := v.Off > leastOff
	if off && !r.seen {
		truth(p, StationRestarted, false, true) // of an earlier restart
		r.seen = true
	}
	truth(p, StationRestarted, off && v.Now.Sub(v.Started) < restartShownFor, true)
}
