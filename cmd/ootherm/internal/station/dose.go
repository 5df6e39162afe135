package station

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/rebuild"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/track"
)

// doses are how long one probe was beyond limits, at either end.
type doses struct {
	plan *plan.Dose
	low  alert.Dose
	high alert.Dose
}

func newDoses(p *plan.Dose) doses {
	d := doses{plan: p}
	if p.Low != nil {
		d.low = alert.Dose{At: *p.Low}
	}
	if p.High != nil {
		d.high = alert.Dose{High: true, At: *p.High}
	}
	return d
}

// observe takes a temperature; NaN is none.
func (d *doses) observe(at time.Time, c float64) {
	if d.plan.Low != nil {
		d.low = d.low.Observe(at, c, !math.IsNaN(c))
	}
	if d.plan.High != nil {
		d.high = d.high.Observe(at, c, !math.IsNaN(c))
	}
}

// beyondFor is what an alarm goes by: of a single event the excursion that goes on,
// of a cumulative one all of them together.
func beyondFor(k alert.Kind, d alert.Dose) time.Duration {
	if k == alert.SingleEvent {
		return d.Present()
	}
	return d.Total
}

// most is the longer of the two ends'.
func (d *doses) most(k alert.Kind) time.Duration {
	return max(beyondFor(k, d.low), beyondFor(k, d.high))
}

// dosing is what eggs with one history felt beyond the limits of one alarm. A box
// with a probe of its own has that probe's temperature; one without has that of
// each probe of its zone, and the worst of them counts. Eggs that were moved take
// with them what they have.
type dosing struct {
	kind   alert.Kind
	plan   *plan.Dose
	stays  []book.Stay
	probes []string // of the present stay
	felt   *rebuild.Value[probeDoses, probeSample]
}

// probeDoses are doses by the probe of the present stay.
type probeDoses map[string]*doses

// probeSample is a temperature in C of one probe; NaN: none is fresh.
type probeSample struct {
	probe   string
	at      time.Time
	celsius float64
}

// doseID names a dosing: the stays, and the limits.
type doseID struct {
	track string
	plan  *plan.Dose
}

// worst is the most of any probe, and whose that is.
func (d probeDoses) worst(kind alert.Kind) (most *doses, probe string) {
	for _, name := range slices.Sorted(maps.Keys(d)) {
		if x := d[name]; most == nil || x.most(kind) > most.most(kind) {
			most, probe = x, name
		}
	}
	return most, probe
}

func (d probeDoses) observe(x probeSample) {
	if y := d[x.probe]; y != nil {
		y.observe(x.at, x.celsius)
	}
}

// exposed names the alarm of a box, or of a zone without eggs.
func exposed(kind alert.Kind, zone, box string) alert.Key {
	return alert.Key{Kind: kind, Priority: alert.Critical, Zone: zone, Box: box}
}

func isExposure(k alert.Kind) bool { return k == alert.SingleEvent || k == alert.Cumulative }

// doseOf is a zone's limit of a kind; nil where it has none.
func (s *Station) doseOf(kind alert.Kind, zone string) *plan.Dose {
	z := s.zoneOf(zone)
	switch {
	case z == nil:
		return nil
	case kind == alert.SingleEvent:
		return z.plan.Single
	}
	return z.plan.Total
}

// doseLimits adds the alarms of exposure beyond a limit, of one stay at a stretch
// and of all together since the eggs were placed: one for each box with eggs that
// wait, by the limits of the zone it stands in; and one for each zone without such
// boxes, since the last of its eggs left, at most from two weeks before the start. A
// box that was carried to a zone
// without limits keeps an alarm that stands.
func (s *Station) doseLimits(want map[alert.Key]alert.Limit) {
	old := s.doses
	s.doses, s.dosings = map[alert.Key][]*dosing{}, map[doseID]*dosing{}
	known := map[doseID]*dosing{}
	for _, all := range old {
		for _, d := range all {
			known[doseID{track.Key(d.stays), d.plan}] = d
		}
	}
	add := func(k alert.Key, p *plan.Dose, stays []book.Stay) {
		l := alert.Limit{High: true, At: p.For.Seconds()}
		if k.Kind == alert.SingleEvent { // a cumulative one never ends while the eggs wait: it is told once
			l.ReAlarm = reAlarmWarning
		}
		want[k] = l
		id := doseID{track.Key(stays), p}
		d := s.dosings[id]
		if d == nil {
			if d = known[id]; d == nil {
				d = &dosing{kind: k.Kind, plan: p, stays: stays}
				s.rebuildDoses(d)
			}
			s.dosings[id] = d
		}
		if !slices.Contains(s.doses[k], d) {
			s.doses[k] = append(s.doses[k], d)
		}
	}
	boxes := s.book.Boxes()
	for _, kind := range [...]alert.Kind{alert.SingleEvent, alert.Cumulative} {
		with := map[string]bool{} // zones with boxes
		for _, b := range boxes {
			if !b.InUse || len(b.Eggs) == 0 {
				continue
			}
			with[b.Zone] = true
			p := s.doseOf(kind, b.Zone)
			if k := exposed(kind, "", b.ID); p == nil && s.panel.StandsUnwatched(k) {
				for _, stay := range slices.Backward(b.Stays) { // it stands, by the limits of where it was
					if p = s.doseOf(kind, stay.Zone); p != nil {
						break
					}
				}
			}
			if p == nil {
				continue
			}
			for _, id := range b.Eggs {
				if e, ok := s.book.Egg(id); ok && len(e.Stays) > 0 {
					add(exposed(kind, "", b.ID), p, e.Stays)
				}
			}
		}
		for _, z := range s.zones {
			if p := s.doseOf(kind, z.plan.Name); p != nil && !with[z.plan.Name] {
				add(exposed(kind, z.plan.Name, ""), p, []book.Stay{{Zone: z.plan.Name, From: later(s.started.Add(-driftMemory), s.left(z.plan.Name))}})
			}
		}
	}
	for id, d := range known {
		if s.dosings[id] == nil {
			d.felt.Drop()
		}
	}
	s.dosed = slices.SortedFunc(maps.Keys(s.doses), func(a, b alert.Key) int { return cmp.Compare(a.String(), b.String()) })
}

// forgetDoses has all exposures taken from the history at the next limits.
func (s *Station) forgetDoses() {
	for _, d := range s.dosings {
		d.felt.Drop()
	}
	s.doses, s.dosings = nil, nil
}

// left is when eggs last left a zone: what it was before was theirs.
func (s *Station) left(zone string) (at time.Time) {
	for _, c := range s.book.Clutches() {
		for _, e := range c.Eggs {
			for _, stay := range e.Stays {
				if stay.Zone == zone {
					at = later(at, stay.To)
				}
			}
		}
	}
	return at
}

// rebuildDoses takes an exposure from the history, in the worker.
func (s *Station) rebuildDoses(d *dosing) {
	if d.probes = s.historyReader().probesOf(sourceOf(d.stays[len(d.stays)-1])); len(d.probes) == 0 {
		d.probes = []string{""} // nothing says where it stands
	}
	d.felt = rebuild.NewValue(probeDoses{}, probeDoses.observe)
	rebuild.Build(&s.rebuilds, func(upTo time.Time) func() ([]probeDoses, error) {
		r := s.historyReader()
		return func() ([]probeDoses, error) {
			by, err := r.dosed(d, upTo)
			return []probeDoses{by}, err
		}
	}, func() {}, d.felt)
}

// dosed is what eggs felt up to a time, by each probe of their last stay. What cannot
// be read counts as not measured; the errors say why.
func (r historyReader) dosed(d *dosing, upTo time.Time) (probeDoses, error) {
	by, carried := probeDoses{}, newDoses(d.plan)
	var failed []error
	for _, stay := range d.stays {
		to := stay.To
		if to.IsZero() {
			to = upTo.Add(1)
		}
		by = probeDoses{}
		for _, probe := range r.probesOf(sourceOf(stay)) {
			x := carried
			for sample, err := range r.samples(sourceID{probe: probe}, stay.From, to) {
				if err != nil {
					failed = append(failed, err)
					continue
				}
				x.observe(sample.At, sample.Celsius)
			}
			by[probe] = &x
		}
		if len(by) == 0 { // nothing says where it stood
			by[""] = &carried
		}
		worst, _ := by.worst(d.kind)
		carried = *worst
	}
	return by, errors.Join(failed...)
}

// watchDoses shows the alarms of exposure how long it was.
func (s *Station) watchDoses() {
	for _, d := range s.dosings {
		for _, name := range d.probes {
			c := math.NaN()
			if p := s.probes[name]; p != nil && p.Fresh(s.now) {
				c = p.Celsius
			}
			d.felt.Observe(probeSample{name, s.now, c})
		}
	}
	for _, k := range s.dosed {
		all := s.doses[k]
		most, who, known := time.Duration(0), "", false
		ready := !slices.ContainsFunc(all, func(d *dosing) bool { return !d.felt.Ready() })
		for _, d := range all {
			x, probe := d.felt.Get().worst(k.Kind)
			if x == nil {
				continue
			}
			if v := x.most(k.Kind); who == "" || v > most {
				most, who = v, probe
			}
			for _, name := range d.probes {
				p := s.probes[name]
				known = known || p != nil && p.Fresh(s.now)
			}
		}
		s.observe(k, most.Seconds(), known && ready, who)
	}
}

// exposure says which limit a box's eggs were beyond, for how long, which eggs they
// are, and how far along.
func (s *Station) exposure(k alert.Key) string {
	var worst *doses
	for _, d := range s.doses[k] {
		if x, _ := d.felt.Get().worst(k.Kind); x != nil && (worst == nil || x.most(k.Kind) > worst.most(k.Kind)) {
			worst = x
		}
	}
	if worst == nil {
		return ""
	}
	r := s.reader()
	side, end := worst.high, "above"
	if beyondFor(k.Kind, worst.low) > beyondFor(k.Kind, worst.high) {
		side, end = worst.low, "below"
	}
	how := "in all"
	if k.Kind == alert.SingleEvent {
		how = "at a stretch"
	}
	text := fmt.Sprintf("at or %s %s for %s %s", end, r.Temperature(side.At), words.Span(beyondFor(k.Kind, side)), how)
	var eggs []string
	for _, g := range s.groups() {
		if g.Box != k.Box || !g.Waiting {
			continue
		}
		one := g.Clutch
		if len(g.Dams) > 0 {
			one += " (" + strings.Join(g.Dams, " or ") + ")"
		}
		one += ", " + words.Count(g.Left(), "egg", "eggs")
		if w, ok := s.hatch(g); ok {
			one += ", " + r.Developed(w.Window.Developed)
		}
		eggs = append(eggs, one)
	}
	at := cmp.Or(k.Box, k.Zone)
	if len(eggs) > 0 {
		at += " with " + strings.Join(eggs, "; ")
	}
	return at + ": " + text + "."
}
