package station

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/alert"
	alertlog "example.com/ootherm/alert/log"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/track"
)

// Diary keeps what alarms there were. Keep is durable when it returns; Between may
// be called from any goroutine.
type Diary interface {
	Keep([]alert.Event) error
	Between(from, to time.Time) ([]alertlog.Occurrence, error)
}

var _ Diary = (*alertlog.Store)(nil)

// Incident is what is needed of the station to look back at a span: taken in one
// step, read by whoever asked.
type Incident struct {
	from, to time.Time
	r        historyReader
	zones    []plan.Zone
	safe     map[string]*plan.Band // by zone, with the eggs that were there
	local    func(time.Time) time.Time
	groups   []lying
	shown    Shown
	diary    Diary
	standing map[alert.Key]float64 // the worst of each alarm that stands; what the diary has of it is older
}

// lying is a group's time in boxes within the span.
type lying struct {
	g     *track.Group
	stays []book.Stay // cut to the span
	eggs  int
	rate  thermal.Rate // nil where it has none
}

// Incident takes what is needed to look back at a span, of one zone or, for an empty name, all.
func (s *Station) Incident(from, to time.Time, zone string) (Incident, error) {
	to = sooner(to, s.now)
	x := Incident{from: from, to: to, r: s.historyReader(), safe: map[string]*plan.Band{}, local: s.plan.Local, shown: s.o.Shown, diary: s.o.Diary, standing: map[alert.Key]float64{}}
	for _, k := range s.panel.Keys() {
		if a, _ := s.panel.Alarm(k); a.True {
			x.standing[k] = a.Peak
		}
	}
	for _, z := range s.plan.Zones {
		if zone == "" || z.Name == zone {
			x.zones = append(x.zones, z)
		}
	}
	if len(x.zones) == 0 {
		var names []string
		for _, z := range s.plan.Zones {
			names = append(names, z.Name)
		}
		return x, usererr.New(fmt.Sprintf("the configuration has no zone %q; it has %s", zone, words.List(names)))
	}
	if !from.Before(to) {
		return x, usererr.New("the span ends before it begins, or is still to come")
	}
	if to.Sub(from) > longest {
		return x, usererr.New(fmt.Sprintf("the span is longer than %.0f days; a season has its review", longest.Hours()/24))
	}
	kinds := map[string][]string{}
	for _, g := range s.groups() {
		p := lying{g: g, stays: cutTo(g.Stays, from, to)}
		if len(p.stays) == 0 {
			continue
		}
		for _, y := range p.stays {
			kinds[y.Zone] = append(kinds[y.Zone], g.Profile)
		}
		if zone != "" && !slices.ContainsFunc(p.stays, func(y book.Stay) bool { return y.Zone == zone }) {
			continue
		}
		for _, e := range g.Eggs {
			if track.Undecided(e) || e.FateAt.After(from) {
				p.eggs++
			}
		}
		if _, ok := s.plan.Profile(g.Profile); ok && !g.Arrested {
			b, err := s.forecast.now.Load().Belief(s.house(), g)
			if err != nil {
				return x, err
			}
			p.rate = b.Model()
		}
		x.groups = append(x.groups, p)
	}
	for _, z := range x.zones {
		x.safe[z.Name] = s.plan.Safe(z, kinds[z.Name])
	}
	return x, nil
}

// longest is the longest span of an incident: its readings are read one by one.
const longest = 31 * 24 * time.Hour

// cutTo are stays cut to a span.
func cutTo(stays []book.Stay, from, to time.Time) []book.Stay {
	var cut []book.Stay
	for _, y := range stays {
		y.From = later(y.From, from)
		if y.To.IsZero() || y.To.After(to) {
			y.To = to
		}
		if y.From.Before(y.To) {
			cut = append(cut, y)
		}
	}
	return cut
}

func sooner(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}

// Look reads the past of the span.
func (x Incident) Look(ctx context.Context) (snapshot.Incident, error) {
	n := snapshot.Incident{From: x.from, To: x.to, Zones: []snapshot.IncidentZone{}, Alarms: []snapshot.PastAlarm{}, Clutches: []snapshot.IncidentClutch{}}
	for _, z := range x.zones {
		v, err := x.zone(ctx, z)
		if err != nil {
			return snapshot.Incident{}, err
		}
		n.Zones = append(n.Zones, v)
	}
	if x.diary != nil {
		all, err := x.diary.Between(x.from, x.to)
		if err != nil {
			return snapshot.Incident{}, err
		}
		for _, a := range all {
			if a.Key.Zone == "" || slices.ContainsFunc(x.zones, func(z plan.Zone) bool { return z.Name == a.Key.Zone }) {
				if worst, ok := x.standing[a.Key]; ok && a.Ended.IsZero() {
					a.Peak = snapshot.OptFloat(worst)
				}
				n.Alarms = append(n.Alarms, pastAlarm(a))
			}
		}
	}
	for _, p := range x.groups {
		if err := ctx.Err(); err != nil {
			return snapshot.Incident{}, err
		}
		c, err := x.clutch(p)
		if err != nil {
			return snapshot.Incident{}, err
		}
		n.Clutches = append(n.Clutches, c)
	}
	return n, nil
}

func pastAlarm(a alertlog.Occurrence) snapshot.PastAlarm {
	v := snapshot.PastAlarm{
		Alarm: string(a.Key.Kind), Zone: snapshot.OptText(a.Key.Zone), Box: snapshot.OptText(a.Key.Box), Probe: snapshot.OptText(a.Key.Probe), Clutch: snapshot.OptText(a.Key.Clutch),
		Part: snapshot.OptText(a.Key.Part), Priority: string(a.Key.Priority), Began: a.Began, Raised: a.Raised, Limit: a.Limit, Peak: a.Peak,
	}
	if !a.Seen.IsZero() {
		v.Seen = &a.Seen
	}
	if !a.Ended.IsZero() {
		v.Ended = &a.Ended
	}
	if a.Key.Kind.Unit() == alert.None {
		v.Limit, v.Peak = nil, nil
	}
	return v
}

// crossing is one limit followed through the span.
type crossing struct {
	snapshot.Past
	x    thermal.Excess
	warm bool // what is more is past it
	last thermal.Sample
	// in reports whether the limit was in force at a time.
	in func(time.Time) bool
}

// zone reads what the probes of a zone gave, a moment at a time.
func (x Incident) zone(ctx context.Context, z plan.Zone) (snapshot.IncidentZone, error) {
	v := snapshot.IncidentZone{Zone: z.Name, Past: []snapshot.Past{}, Gaps: []snapshot.GapSpan{}}
	heat, damp := x.crossings("temperature", "wanted", z.Wanted), x.crossings("humidity", "wanted", z.Humidity)
	heat = append(heat, x.crossings("temperature", "safe", x.safe[z.Name])...)
	c, h := newOutermost(z.Probes, x.r.fresh), newOutermost(z.Probes, x.r.fresh)
	var at time.Time // of the moment that is being gathered
	seen := x.from   // the last that gave something
	settle := func() {
		if at.IsZero() {
			return
		}
		c.settle(at, heat, &v.Highest, &v.Lowest, x.r.gap)
		h.settle(at, damp, &v.Dampest, &v.Driest, x.r.gap)
	}
	gap := func(to time.Time) {
		if to.Sub(seen) > x.r.gap {
			v.Gaps = append(v.Gaps, snapshot.GapSpan{From: seen, To: to})
			v.Missing += to.Sub(seen).Seconds()
		}
	}
	for p, err := range merged(x.r.past, z.Probes, x.from, x.to) {
		if isDamage(err) {
			continue // it is a gap
		}
		if err == nil {
			err = ctx.Err()
		}
		if err != nil {
			return snapshot.IncidentZone{}, fmt.Errorf("reading what %s did: %w", z.Name, err)
		}
		if !p.Believed() || math.IsNaN(p.Celsius) {
			continue
		}
		if p.At.After(at) {
			settle()
			at = p.At
			gap(at)
			seen = at
		}
		c.take(p.Probe, p.At, x.r.correct.Celsius(p.Probe, p.At, p.Celsius))
		h.take(p.Probe, p.At, x.r.correct.Measurement(p.Probe, p.At, p.Measurement).Humidity)
	}
	settle()
	gap(x.to)
	v.Measured = x.to.Sub(x.from).Seconds() - v.Missing
	for _, l := range slices.Concat(heat, damp) {
		sum := l.x.Total()
		l.Seconds, l.Longest, l.Events, l.Most = sum.Cumulative.Seconds(), sum.Longest.Seconds(), sum.Events, sum.Most
		v.Past = append(v.Past, l.Past)
	}
	return v, nil
}

// crossings are the limits of a band, each spell's for as long as it is in force.
func (x Incident) crossings(of, band string, root *plan.Band) (all []*crossing) {
	low, high := "cold", "warm"
	if of == "humidity" {
		low, high = "dry", "damp"
	}
	for _, b := range root.All() {
		in := func(at time.Time) bool { return root.At(x.local(at)) == b }
		if b.High != nil {
			all = append(all, &crossing{Past: snapshot.Past{Of: of, Band: band, Side: high, Limit: *b.High}, x: thermal.Over(*b.High), warm: true, in: in})
		}
		if b.Low != nil {
			all = append(all, &crossing{Past: snapshot.Past{Of: of, Band: band, Side: low, Limit: *b.Low}, x: thermal.Under(*b.Low), in: in})
		}
	}
	return all
}

// outermost holds the last of each probe of a zone.
type outermost struct {
	probes []string
	fresh  time.Duration
	at     []time.Time
	value  []float64
}

func newOutermost(probes []string, fresh time.Duration) *outermost {
	return &outermost{probes: probes, fresh: fresh, at: make([]time.Time, len(probes)), value: make([]float64, len(probes))}
}

func (w *outermost) take(probe string, at time.Time, v float64) {
	if i := slices.Index(w.probes, probe); i >= 0 && !math.IsNaN(v) {
		w.at[i], w.value[i] = at, v
	}
}

// settle follows the outermost of a moment to the limits and the extremes.
func (w *outermost) settle(at time.Time, limits []*crossing, most, least **snapshot.Extreme, gap time.Duration) {
	hi, lo := -1, -1
	for i, t := range w.at {
		if t.IsZero() || at.Sub(t) > w.fresh {
			continue
		}
		if hi < 0 || w.value[i] > w.value[hi] {
			hi = i
		}
		if lo < 0 || w.value[i] < w.value[lo] {
			lo = i
		}
	}
	if hi < 0 {
		return
	}
	if *most == nil || w.value[hi] > (*most).Value {
		*most = &snapshot.Extreme{Value: w.value[hi], At: at, Probe: w.probes[hi]}
	}
	if *least == nil || w.value[lo] < (*least).Value {
		*least = &snapshot.Extreme{Value: w.value[lo], At: at, Probe: w.probes[lo]}
	}
	for _, l := range limits {
		if !l.in(at) {
			l.last = thermal.Sample{}
			continue
		}
		s := thermal.Sample{At: at, Celsius: w.value[lo]}
		if l.warm {
			s.Celsius = w.value[hi]
		}
		if !l.last.At.IsZero() && at.Sub(l.last.At) <= gap {
			l.x = l.x.Span(l.last, s, 0)
		}
		l.last = s
	}
}

// clutch is what a group felt in the span, and what that did to its hatch.
func (x Incident) clutch(p lying) (snapshot.IncidentClutch, error) {
	g, last := p.g, p.stays[len(p.stays)-1]
	c := snapshot.IncidentClutch{Clutch: g.Clutch, Dam: snapshot.OptText(strings.Join(g.Dams, " or ")), Profile: snapshot.OptText(g.Profile), Box: last.Box, Zone: last.Zone, Eggs: p.eggs}
	var felt, week thermal.Exposure
	for _, y := range p.stays {
		e, err := track.Stay(x.r, y, x.r.gap)
		if err = withoutDamage(err); err != nil {
			return c, fmt.Errorf("what %s felt: %w", g.Clutch, err)
		}
		felt = felt.Plus(e)
	}
	for _, y := range cutTo(g.Stays, x.from.Add(-7*24*time.Hour), x.from) {
		e, err := track.Stay(x.r, y, x.r.gap)
		if err = withoutDamage(err); err != nil {
			return c, fmt.Errorf("what %s felt before: %w", g.Clutch, err)
		}
		week = week.Plus(e)
	}
	c.Seconds, c.Missing = (felt.Measured() + felt.Missing()).Seconds(), felt.Missing().Seconds()
	c.Felt, c.Usual = snapshot.OptFloat(felt.Mean()), snapshot.OptFloat(week.Mean())
	if p.rate != nil && felt.Measured() > 0 && week.Measured() > 0 {
		share, _, _ := felt.Bridged(p.rate)
		aday := week.Share(p.rate) / (week.Measured().Hours() / 24)
		if aday > 0 {
			c.Moved = snapshot.OptFloat(c.Seconds/86400 - share/aday)
		}
	}
	windows, err := shownOf(x.shown, g.Clutch)
	if err != nil {
		return c, err
	}
	for _, w := range windows {
		if w.Box != g.Box && w.Box != p.stays[0].Box {
			continue
		}
		v := &snapshot.DayWindow{Day: w.Day, Window: w.Window}
		switch {
		case !w.At.After(x.from):
			c.Before, c.Developed = v, snapshot.OptFloat(w.Developed)
		case !w.At.Before(x.to) && c.After == nil:
			c.After = v
		}
	}
	return c, nil
}
