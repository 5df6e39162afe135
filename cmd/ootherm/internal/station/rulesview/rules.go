// Package rulesview joins the rules of the alarms to a station: it makes the View that they
// see, of plan, conditions, exposures, windows and care, and what they learn of stored
// readings. It must not know what a rule does with it, nor the messages that follow.
package rulesview

import (
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/episode"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/alert/rules"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/station/conditions"
	"example.com/ootherm/cmd/ootherm/internal/station/exposures"
	"example.com/ootherm/cmd/ootherm/internal/station/pastreadings"
	"example.com/ootherm/cmd/ootherm/internal/station/waterloss"
	"example.com/ootherm/cmd/ootherm/internal/station/windows"
	sensorzone "example.com/ootherm/sensor/zone"
	"example.com/ootherm/thermal/book"
)

// Options are what Rules are made of.
type Options struct {
	Plan       plan.Plan
	Past       *pastreadings.Past
	Conditions *conditions.Conditions
	Exposures  *exposures.Exposures
	Windows    *windows.Windows
	Care       *waterloss.Losses
	// Free is how many bytes the card has left; nil: this is not watched.
	Free func() (uint64, error)
	// WatchesCopies, WatchesSenders and WatchesHeartbeat say whether copies of the book,
	// senders and the heartbeat are watched.
	WatchesCopies, WatchesSenders, WatchesHeartbeat bool
}

// Rules are all rules with the View of a station. One goroutine calls the methods.
type Rules struct {
	*rules.Set
	View rules.View

	o          Options
	bands      []*turningBands // by zone; nil: not known yet
	probes     []seenProbe     // of the view
	losses     int             // Care.Updates when the view's boxes were refreshed; 0: never
	spaceAsked time.Time       // when the room on the card was last asked for
}

// New makes the rules. The view is empty until the first SetLimits.
func New(o Options) *Rules {
	r := &Rules{o: o}
	r.Set = rules.New(past{o.Past, o.Plan.Location})
	return r
}

// SetLimits rebuilds the view, and gives the panel the limits of all alarms that there are.
// Why is the reason told of those that stand and are no longer wanted.
func (r *Rules) SetLimits(p *panel.Panel, b book.Book, now time.Time, why string) {
	r.rebuild(b, now)
	p.Step(now)
	p.Want(r.Set.Limits(&r.View, p), r.places(b), why)
}

// Look gives the situation of a side of a place; see [panel.Look].
func (r *Rules) Look(p *panel.Panel, place alert.Key, side alert.Side) (episode.Situation, bool) {
	now, falls := r.Set.Situation(&r.View, place, side)
	if side == alert.TooCold || side == alert.TooWarm {
		if coming, ok := r.PassesSafe(p, place.Zone, side == alert.TooWarm); ok && !now.Returning {
			now.SafeAt = coming.At
		}
	}
	return now, falls
}

// PassesSafe is when a zone passes the safe limit of one end: by its drift, or once its
// warning stands by the trend of the last hour. False: it does not, the last ten minutes go the
// other way, or the probe jumped there and is level since.
func (r *Rules) PassesSafe(p *panel.Panel, zone string, high bool) (alert.Projection, bool) {
	v, z := r.View.Zone(zone), r.o.Conditions.Zone(zone)
	if v == nil || z == nil || !v.Safe.Has(high) {
		return alert.Projection{}, false
	}
	safe := v.Safe.Limit(high, 0)
	if coming, _, ok := r.SafeComing(zone, high); ok {
		return coming, true
	}
	worst, who := z.Extreme(r.View.Now, sensorzone.Celsius, high)
	warned := alert.Key{Kind: alert.TooCold.Kind(), Priority: alert.Warning, Zone: zone}
	if high {
		warned.Kind = alert.TooWarm.Kind()
	}
	if who == nil || !p.Stands(warned) || high != (z.Trend.RecentPerHour(r.View.Now) > 0) || v.Jumped(who.Name, high) {
		return alert.Projection{}, false
	}
	return z.Trend.Extrapolate(r.View.Now, worst, safe)
}

// Level is [rules.Set.Level] as of the last step.
func (r *Rules) Level(zone string, high bool) (rules.Level, bool) {
	return r.Set.Level(&r.View, zone, high)
}

// Show shows the panel all values.
func (r *Rules) Show(p *panel.Panel) { r.Set.Show(&r.View, p) }

// Shift follows a boot that gets another date. Call SetLimits after it.
func (r *Rules) Shift(by time.Duration) {
	r.Set.Shift(&r.View, by)
	r.bands = nil
}

// places are the zones, and where each box stands.
func (r *Rules) places(b book.Book) panel.Places {
	p := panel.Places{Boxes: map[string]string{}}
	for _, z := range r.o.Plan.Zones {
		p.Zones = append(p.Zones, z.Name)
	}
	for _, x := range b.Boxes() {
		p.Boxes[x.ID] = x.Zone
	}
	return p
}
