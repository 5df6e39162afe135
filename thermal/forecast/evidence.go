package forecast

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/forecast/joint"
	"example.com/ootherm/thermal/track"
)

// groupEvidence is what one group tells of its need, and what it felt, by one linearisation.
type groupEvidence struct {
	g         *track.Group
	kind      *kind
	heat      thermal.Heat
	track     *track.Track
	biases    []bias
	hatched   []joint.Hatch
	eggs      []string // that hatched, beside hatched
	slips     []string // that hatched, by the book, at a time that is not believed
	open, now evidence
	noise
	fates       // of its clutch, with the published hatch success
	clutch, dam int
}

// noise is variances of the log need of a whole group: by its lay interval, by what was not
// measured and by a box without a probe.
type noise struct{ lay, gaps, box float64 }

// evidence is the row and the waiting eggs of a group at some time.
type evidence struct {
	slope, bend, kelvin float64 // how the log heat changes with them
	waiting             []joint.Wait
}

// pipOutlier is how likely an egg that pipped does not hatch within [pipToHatch].
const pipOutlier = 0.1

// hatchOutlier is the share of hatches that come from a wide scatter: a wrong date must not
// teach much (our choice).
const hatchOutlier = 0.02

// lookEvery is the time between looks that would have shown a hatch: boxes of eggs are
// looked at each day (common practice).
const (
	lookEvery = 24 * time.Hour
	lastLook  = lookEvery / 2 // how long ago that is, in the middle
)

// assess works out what a group tells of its need.
func (k *knowledge) assess(s *groupEvidence, f fates) {
	x, g := s.kind, s.g
	felt := k.felt(x, g, s.heat, s.track)
	need := math.Exp(x.mean[0])
	s.hatched, s.eggs, s.slips = nil, nil, nil
	laid := x.sum.Exposure(&s.heat.Before, x.prior.Usual)
	s.lay = laid.Days() / need
	s.lay *= s.lay / 12
	// Heat beyond the need adds no error: what matters was felt before.
	heat := math.Max(need, felt.total.Days())
	s.gaps = (felt.total.GapVariance() - 0.75*0.25*laid.GapVariance()) / (heat * heat)
	s.gaps = math.Max(0, s.gaps)
	mean := rounded(felt.total.Mean(), 0.1)
	if math.IsNaN(mean) {
		mean = x.prior.Usual
	}
	s.box = 0
	if g.Probe == "" {
		_, _, _, kelvin := x.sum.Day(mean, 0).Log()
		box := kelvin * max(noProbeSD, k.Spread(g.Zone)/2)
		s.box = box * box
	}
	p := hatchSuccess(mean)
	s.dead, s.live = successTrust*(1-p)+f.dead, successTrust*p+f.live
	// What waits changes with the day, not with the minute.
	event := k.event.Add(-lastLook)
	look := later(event, k.Now.Add(-lastLook).Truncate(lookEvery))
	s.open, s.now = k.evidence(s, &felt, event), k.evidence(s, &felt, look)
	k.hatches(s, &felt)
}

// rounded is a figure to the nearest step: what hardly matters and changes at each reading
// must not make everything be inferred again.
func rounded(v, step float64) float64 { return step * math.Round(v/step) }

// evidence is that of eggs that had not hatched by a time.
func (k *knowledge) evidence(s *groupEvidence, felt *felt, at time.Time) evidence {
	var e evidence
	var row thermal.Sum
	for _, egg := range s.g.Eggs {
		until := at
		switch {
		case barren(egg) || egg.Fate == book.Hatched || egg.Fate == book.Pipped:
			continue
		case egg.Fate == book.Lost && egg.FateAt.Before(until):
			until = egg.FateAt
		}
		if !until.After(s.heat.Latest) {
			continue
		}
		heat := felt.until(until)
		met, _, _, _ := heat.Log()
		if math.IsInf(met, -1) {
			continue
		}
		w := joint.Wait{Met: met}
		if egg.Verdict == book.Fertile && egg.VerdictAt.After(s.heat.Latest) {
			w.Alive = math.Min(mostAlive, felt.until(egg.VerdictAt).Days()/math.Exp(s.kind.mean[0]))
		}
		e.waiting = append(e.waiting, w)
		row = heat
	}
	_, e.slope, e.bend, e.kelvin = row.Log()
	for i := range e.waiting {
		e.waiting[i].Met = s.kind.deviation(e.waiting[i].Met, e.slope, e.bend)
	}
	slices.SortFunc(e.waiting, func(a, b joint.Wait) int {
		return cmp.Or(cmp.Compare(a.Met, b.Met), cmp.Compare(a.Alive, b.Alive))
	})
	return e
}

// mostAlive is the largest share of the way at which an egg's being alive counts: how far
// it was is itself not certain (our choice).
const mostAlive = 0.9

// hatches adds what eggs say that hatched or pipped. Their row is the group's.
func (k *knowledge) hatches(s *groupEvidence, felt *felt) {
	type event struct {
		egg       string
		low, high thermal.Sum
		outlier   float64
	}
	var all []event
	var row thermal.Sum
	for _, egg := range s.g.Eggs {
		e := event{egg: egg.ID, outlier: hatchOutlier}
		switch egg.Fate {
		case book.Hatched:
			e.high = felt.until(egg.FateAt)
			e.low = felt.until(egg.FateAt.Add(-lookEvery))
		case book.Pipped:
			e.outlier = pipOutlier
			e.low = felt.until(egg.FateAt)
			day := e.low.Plus(felt.until(egg.FateAt.Add(-lookEvery)).Times(-1))
			e.high = e.low.Plus(day.Times(pipToHatch.Hours() / 24))
		default:
			continue
		}
		if !(e.low.Days() > 0) || !(e.high.Days() > e.low.Days()) {
			continue
		}
		if mid, _, _, _ := e.high.Log(); math.Abs(mid-s.kind.mean[0]) > unbelievable*s.kind.allowed() {
			s.slips = append(s.slips, egg.ID)
			continue
		}
		all = append(all, e)
		if e.high.Days() > row.Days() {
			row = e.high
		}
	}
	if len(all) == 0 {
		return
	}
	for _, e := range []*evidence{&s.open, &s.now} {
		for i := range e.waiting {
			e.waiting[i].Met += s.kind.mean[0] + e.slope*(s.kind.at.Slope-s.kind.mean[1]) + e.bend*(s.kind.at.Bend-s.kind.mean[2])
		}
		_, e.slope, e.bend, e.kelvin = row.Log()
		for i := range e.waiting {
			e.waiting[i].Met = s.kind.deviation(e.waiting[i].Met, e.slope, e.bend)
		}
	}
	for _, e := range all {
		low, _, _, _ := e.low.Log()
		high, _, _, _ := e.high.Log()
		s.hatched = append(s.hatched, joint.Hatch{
			Low:  s.kind.deviation(low, s.open.slope, s.open.bend),
			High: s.kind.deviation(high, s.open.slope, s.open.bend), Outlier: e.outlier,
		})
		s.eggs = append(s.eggs, e.egg)
	}
}

// published is the variance of a group's need before any hatch here: what is published of its
// kind, the house, and what is not known of its own heat.
func (s *groupEvidence) published() float64 {
	return s.kind.spread[0][0] + thermal.HouseSD*thermal.HouseSD + s.lay + s.gaps + s.box
}

// content is what a group says as numbers, by some evidence, without a name.
func (s *groupEvidence) content(of ...func(*groupEvidence) *evidence) []float64 {
	x := s.kind
	all := append(x.mean[:], s.lay, s.gaps, s.box, s.dead, s.live, float64(len(s.hatched)))
	for _, h := range s.hatched {
		all = append(all, h.Low, h.High, h.Outlier)
	}
	for _, evidence := range of {
		e := evidence(s)
		all = append(all, e.slope, e.bend, e.kelvin, float64(len(e.waiting)))
		for _, w := range e.waiting {
			all = append(all, w.Met, w.Alive)
		}
	}
	for _, b := range s.biases {
		all = append(all, b.share)
	}
	for i := range x.spread {
		all = append(all, x.spread[i][:]...)
	}
	return all
}

// damOf names the dam of a group. One that is not known is hers alone.
func damOf(g *track.Group) string {
	if len(g.Dams) == 0 {
		return "\x00" + g.Clutch
	}
	return g.Profile + "\x00" + strings.Join(g.Dams, "\x00")
}
