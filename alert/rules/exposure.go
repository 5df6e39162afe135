package rules

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/thermal/book"
)

// exposure watches how long eggs were beyond a limit, in one stay at a stretch and in all
// since they were placed: an alarm of each box with eggs, by the limits of the zone it stands
// in; and one of each zone without such boxes, since the last of its eggs left, at most from
// two weeks before the start.
type exposure struct {
	past     Past
	byAlarm  map[alert.Key][]*tracker // one for each history of a box's eggs
	trackers map[trackerID]*tracker
	order    []alert.Key // of byAlarm
}

// tracker is what eggs with one history felt beyond one limit.
type tracker struct {
	probes []string // of the present stay
	felt   Rebuilt[*Exposure, Sample]
}

type trackerID struct {
	history string
	kind    alert.Kind
	limit   ExposureLimit
}

// ExposureAlarm is the alarm of what eggs felt in a box, or of a zone without eggs.
func ExposureAlarm(kind alert.Kind, zone, box string) alert.Key {
	return alert.Key{Kind: kind, Priority: alert.Critical, Zone: zone, Box: box}
}

// IsExposure reports whether a kind is about what eggs felt.
func IsExposure(k alert.Kind) bool { return k == alert.SingleEvent || k == alert.Cumulative }

func (*exposure) Kinds() []alert.Kind { return []alert.Kind{alert.SingleEvent, alert.Cumulative} }

// Limits keeps the trackers of eggs and limits that are as they were.
func (x *exposure) Limits(v *View, p *panel.Panel, limits map[alert.Key]alert.Limit) {
	old := x.trackers
	x.byAlarm, x.trackers = map[alert.Key][]*tracker{}, map[trackerID]*tracker{}
	for _, kind := range x.Kinds() {
		x.boxes(v, p, kind, old, limits)
		x.emptyZones(v, kind, old, limits)
	}
	for id, t := range old {
		if x.trackers[id] == nil {
			t.felt.Drop()
		}
	}
	x.order = slices.SortedFunc(maps.Keys(x.byAlarm), func(a, b alert.Key) int { return cmp.Compare(a.String(), b.String()) })
}

func (x *exposure) boxes(v *View, p *panel.Panel, kind alert.Kind, old map[trackerID]*tracker, limits map[alert.Key]alert.Limit) {
	for i := range v.Boxes {
		b := &v.Boxes[i]
		k := ExposureAlarm(kind, "", b.Name)
		limit := v.exposureLimit(kind, b.Zone)
		if limit == nil && p.StandsUnwatched(k) {
			limit = v.lastExposureLimit(kind, b.Stays) // it stands, by the limits of where it was
		}
		if limit == nil {
			continue
		}
		for _, h := range b.Histories {
			limits[k] = x.add(k, *limit, h, old)
		}
	}
}

// emptyZones adds the alarms of zones without eggs.
func (x *exposure) emptyZones(v *View, kind alert.Kind, old map[trackerID]*tracker, limits map[alert.Key]alert.Limit) {
	for i := range v.Zones {
		z := &v.Zones[i]
		limit := z.exposureLimit(kind)
		if limit == nil || slices.ContainsFunc(v.Boxes, func(b Box) bool { return b.Eggs && b.Zone == z.Name }) {
			continue
		}
		k := ExposureAlarm(kind, z.Name, "")
		limits[k] = x.add(k, *limit, z.Since, old)
	}
}

// add makes an alarm go by eggs with one history, and gives its limit. A cumulative alarm
// never ends while the eggs wait: it is told once.
func (x *exposure) add(k alert.Key, limit ExposureLimit, h History, old map[trackerID]*tracker) alert.Limit {
	id := trackerID{h.ID, k.Kind, limit}
	t := x.trackers[id]
	if t == nil {
		if t = old[id]; t == nil {
			t = &tracker{probes: x.past.Probes(h.Stays[len(h.Stays)-1]), felt: x.past.Exposure(k.Kind, limit, h.Stays)}
			if len(t.probes) == 0 {
				t.probes = []string{""} // nothing says what the eggs feel
			}
		}
		x.trackers[id] = t
	}
	if !slices.Contains(x.byAlarm[k], t) {
		x.byAlarm[k] = append(x.byAlarm[k], t)
	}
	l := alert.Limit{High: true, At: limit.For.Seconds()}
	if k.Kind == alert.SingleEvent {
		l.ReAlarm = callAgainWarning
	}
	return l
}

// forget has all exposures taken from the history at the next Limits.
func (x *exposure) forget() {
	for _, t := range x.trackers {
		t.felt.Drop()
	}
	x.byAlarm, x.trackers, x.order = nil, nil, nil
}

func (x *exposure) Show(v *View, p *panel.Panel) {
	for _, t := range x.trackers {
		for _, name := range t.probes {
			c := math.NaN()
			if probe := v.Probes[name]; probe != nil && probe.Fresh {
				c = probe.Celsius
			}
			t.felt.Observe(Sample{Probe: name, At: v.Now, Celsius: c})
		}
	}
	for _, k := range x.order {
		most, who, known, ready := time.Duration(0), "", false, true
		for _, t := range x.byAlarm[k] {
			ready = ready && t.felt.Ready()
			felt := t.felt.Get()
			worst, probe := felt.worst()
			if worst == nil {
				continue
			}
			if d := felt.of(worst); who == "" || d > most {
				most, who = d, probe
			}
			known = known || slices.ContainsFunc(t.probes, func(name string) bool {
				probe := v.Probes[name]
				return probe != nil && probe.Fresh
			})
		}
		p.Show(k, panel.Reading{Value: most.Seconds(), Known: known && ready, Probe: who})
	}
}

// Exceeded is how long eggs were beyond one end of a limit.
type Exceeded struct {
	High    bool
	Celsius float64 // the limit
	For     time.Duration
}

// Exceeded is the longest that eggs of an exposure alarm were beyond a limit; false where
// nothing is known of it.
func (s *Set) Exceeded(k alert.Key) (Exceeded, bool) {
	var most *Exceeded
	for _, t := range s.exposure.byAlarm[k] {
		felt := t.felt.Get()
		e, _ := felt.worst()
		if e == nil || most != nil && felt.of(e) <= most.For {
			continue
		}
		side := e.high
		if felt.beyond(e.low) > felt.beyond(e.high) {
			side = e.low
		}
		most = &Exceeded{High: side.High, Celsius: side.At, For: felt.beyond(side)}
	}
	if most == nil {
		return Exceeded{}, false
	}
	return *most, true
}

// exposureLimit is a zone's limit of a kind; nil where it has none.
func (z *Zone) exposureLimit(kind alert.Kind) *ExposureLimit {
	if kind == alert.SingleEvent {
		return z.Single
	}
	return z.Total
}

func (v *View) exposureLimit(kind alert.Kind, zone string) *ExposureLimit {
	if z := v.Zone(zone); z != nil {
		return z.exposureLimit(kind)
	}
	return nil
}

// lastExposureLimit is the limit of the last zone of some stays that has one.
func (v *View) lastExposureLimit(kind alert.Kind, stays []book.Stay) *ExposureLimit {
	for _, stay := range slices.Backward(stays) {
		if l := v.exposureLimit(kind, stay.Zone); l != nil {
			return l
		}
	}
	return nil
}
