package forecast

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"time"

	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/profile"
	"example.com/ootherm/thermal/track"
)

// windowMaker makes windows from what was inferred, by the curve and by the line.
type windowMaker struct {
	*knowledge
	curve, line *inference
	outlooks    map[outlookKey]*thermal.Outlook
	doubts      []string // about hatches, for the reasons of all groups
}

// outlookKey is what groups share that see the same climate through the same rate.
type outlookKey struct {
	kind   *kind
	src    track.Source
	offset float64
}

// hatch is the forecast of a group.
func (r *windowMaker) hatch(g *track.Group, p profile.Profile, before Hatch) Hatch {
	i := r.curve.at[g.ID()]
	h := Hatch{Heat: r.curve.groups[i].heat}
	if r.curve.now == nil || r.line.now == nil {
		h.Because = []string{"what is published of its kind contradicts itself"}
		return h
	}
	var b, line thermal.Belief
	h.Window, b = r.window(r.curve, i)
	h.Line, line = r.window(r.line, r.line.at[g.ID()])
	h.Rate, h.Linear = b.Model(), line.Line()
	if b.Straight {
		h.Linear = b.Line()
	}
	h.Last, h.LastLine = lasting(h.Window), lasting(h.Line)
	h.Because = r.because(g, p, b, i, h.Window)
	if r.corrected(g, h.Window) {
		before.Latch = Latch{}
	}
	h.State, h.Latch = StateOf(r.signs(g, h.Window, before.Latch))
	return h
}

// window is a group's window by one model, and the belief behind it.
func (r *windowMaker) window(n *inference, i int) (thermal.Window, thermal.Belief) {
	s := n.groups[i]
	open := n.needs(n.open, i)
	b, known := n.belief(i, open)
	key := outlookKey{s.kind, sourceOf(s.g), s.g.Offset}
	o := r.outlooks[key]
	if o == nil {
		o = r.climate(key.src, key.offset, s.kind.prior.Usual).Outlook(s.kind.at, r.Now)
		r.outlooks[key] = o
	}
	e := thermal.Eggs{
		Waiting: max(1, s.g.Left()), Open: open, Look: r.Now.Add(-lastLook),
		Lay: s.lay, Gaps: s.gaps, Box: s.box, Known: known,
	}
	for _, x := range s.biases {
		e.Shares = append(e.Shares, x.share)
	}
	if s.g.Waiting {
		e.Now, e.Alive = n.needs(n.now, i), othersAlive(s.dead, s.live, e.Waiting-1)
	}
	w := o.WindowOf(s.heat, e)
	if pipped := lastPip(s.g); !pipped.IsZero() {
		w = r.pipped(s.g, w, pipped)
	}
	return w, b
}

// belief is the belief in the need of a group, and in words what it rests on.
func (n *inference) belief(i int, needs []thermal.Need) (thermal.Belief, string) {
	s := n.groups[i]
	b := s.kind.at
	b.LogDays, b.Slope, b.Bend = s.kind.mean[0], s.kind.mean[1], s.kind.mean[2]
	for _, x := range needs { // where nothing is learned, what is published to the last bit
		b.LogDays += x.Weight * (x.Mean[0] - s.kind.mean[0])
		b.Slope += x.Weight * (x.Mean[1] - s.kind.mean[1])
		b.Bend += x.Weight * (x.Mean[2] - s.kind.mean[2])
	}
	b.Slope, b.Bend = math.Max(b.Slope, leastSlope), math.Max(b.Bend, leastBend)
	b.Own = s.kind.hatched
	return b, b.Known()
}

// othersAlive is how likely it is that so many of the others of a group that wait are
// alive, beside one that is, where the share of dead eggs is beta.
func othersAlive(dead, live float64, others int) []float64 {
	all := make([]float64, others+1)
	// The beta-binomial of others eggs, with one more that is alive.
	var sum float64
	for alive := range all {
		a, d := float64(alive), float64(others-alive)
		up, _ := math.Lgamma(live + 1 + a)
		down, _ := math.Lgamma(dead + d)
		f, _ := math.Lgamma(a + 1)
		g, _ := math.Lgamma(d + 1)
		all[alive] = math.Exp(up + down - f - g)
		sum += all[alive]
	}
	for i := range all {
		all[i] /= sum
	}
	return all
}

// lastPip is the last pip of an egg of a group that has not hatched yet; zero: none.
func lastPip(g *track.Group) (at time.Time) {
	for _, e := range g.Eggs {
		if e.Fate == book.Pipped && e.FateAt.After(at) {
			at = e.FateAt
		}
	}
	return at
}

// halfPipToHatch is when half of the eggs that pipped have hatched, where each hour is
// alike and nine in ten hatch within [pipToHatch].
const halfPipToHatch = pipToHatch * 30 / 100

// pipped is the window of a group of which an egg has pipped: it hatches soon or never. Its
// mates keep their own late-after.
func (r *windowMaker) pipped(g *track.Group, w thermal.Window, at time.Time) thermal.Window {
	if !w.Exists() {
		return w
	}
	soon := at.Add(pipToHatch)
	alone := !slices.ContainsFunc(g.Eggs, func(e book.Egg) bool { return e.Fate == book.Waiting })
	w.CheckFrom = at
	if alone || w.LateAfter.Before(soon) {
		w.LateAfter = soon
	}
	w.Late = r.Now.After(w.LateAfter)
	switch likely := later(at, r.Now).Add(halfPipToHatch); {
	case !likely.After(soon):
		w.Likely, w.Low80, w.High80, w.High95 = likely, later(at, r.Now), soon, soon
	case alone || w.Likely.After(w.LateAfter):
		w.Likely = time.Time{}
	}
	because := "an egg has pipped: nine in ten hatch within three days"
	if w.Late {
		because = thermal.LateReason
	}
	w.Because = append([]string{because}, w.Because...)
	if alone {
		w.Because = w.Because[:1]
		w.Why = thermal.Why{Days: pipToHatch.Hours() / 24, Parts: []thermal.Part{{Cause: thermal.CauseEggs, Days: pipToHatch.Hours() / 24}}}
	}
	return w
}

// because says what a window rests on.
func (r *windowMaker) because(g *track.Group, p profile.Profile, b thermal.Belief, i int, w thermal.Window) []string {
	all := slices.Clone(w.Because)
	if w.None != "" {
		all = append(all, w.None)
	}
	if g.Arrested {
		all = append(all, fmt.Sprintf("to mark it, note about %s: %q", g.Clutch, track.Resumed))
	}
	if p.ArrestedDevelopment && !g.Arrested && !p.CountsFromResumption() {
		all = append(all, "the published days count from laying, the arrest included: a longer arrest than usual makes the hatch later")
	}
	if g.Probe == "" {
		all = append(all, fmt.Sprintf("the box has no probe of its own: that of the %s was used", g.Zone))
	}
	if g.Offset != 0 {
		all = append(all, r.offsetText(g))
	}
	if slices.ContainsFunc(r.curve.kinds, func(x *kind) bool { return x.name != g.Profile && x.hatched > 0 }) {
		all = append(all, "hatches of your other species were used too")
	}
	if own := r.curve.fromOwn(i); b.Own > 0 && own > 0.005 {
		all = append(all, fmt.Sprintf("%.0f %% of what is known of these eggs comes from your own hatches", 100*own))
	}
	all = append(all, r.doubts...)
	if p.SexByTemperature {
		all = append(all, "sex depends on temperature: not predicted")
	}
	return all
}

// fromOwn is by which share own eggs narrowed the variance of what a group needs.
func (n *inference) fromOwn(i int) float64 {
	return math.Max(0, 1-variance(n.needs(n.open, i))/n.groups[i].published())
}

// variance is that of the log days at the usual temperature, over all needs together.
func variance(needs []thermal.Need) (v float64) {
	var mean float64
	for _, x := range needs {
		mean += x.Weight * x.Mean[0]
	}
	for _, x := range needs {
		off := x.Mean[0] - mean
		v += x.Weight * (x.Covariance[0][0] + off*off)
	}
	return v
}

// doubts tell of the clutches with a hatch that teaches nothing, or little because it is
// rather an outlier, in the order of their names.
func (n *inference) doubts() []string {
	all := map[string]string{}
	for i, s := range n.groups {
		days := func(id string) float64 {
			at := slices.IndexFunc(s.g.Eggs, func(e book.Egg) bool { return e.ID == id })
			laid := s.heat.Latest.Add(-s.heat.Latest.Sub(s.heat.Earliest) / 2)
			return s.g.Eggs[at].FateAt.Sub(laid).Hours() / 24
		}
		for k, id := range s.eggs {
			if n.open != nil && n.open.Outlier(i, k) >= 0.5 {
				all[s.g.Clutch] = fmt.Sprintf("%s hatched after %.0f days by the book: that is hardly believed, and teaches little; see its dates", s.g.Clutch, days(id))
			}
		}
		for _, id := range s.slips {
			all[s.g.Clutch] = fmt.Sprintf("%s hatched after %.0f days by the book: that is not believed, and teaches nothing; see its dates", s.g.Clutch, days(id))
		}
	}
	var texts []string
	for _, clutch := range slices.Sorted(maps.Keys(all)) {
		texts = append(texts, all[clutch])
	}
	return texts
}

// offsetText says how a box differs from its source.
func (k *knowledge) offsetText(g *track.Group) string {
	than, how, by := "its probe", "warmer", g.Offset
	if g.Probe == "" {
		than = "the " + g.Zone
	}
	if by < 0 {
		how, by = "colder", -by
	}
	return fmt.Sprintf("by the book the box is %s %s than %s", k.Difference(by), how, than)
}

// lasting is a window; nil where there is none.
func lasting(w thermal.Window) *thermal.Window {
	if !w.Exists() {
		return nil
	}
	return &w
}
