package station

import (
	"math"

	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book/review"
)

// paces are how long each clutch that is over took, beside what the heat it felt
// says by what is published of its kind. Nothing learned here counts: what the
// house does to all clutches is then in all of them, and what a dam does stays
// hers.
func (s *Station) paces() map[string]review.Duration {
	open, born := map[string]bool{}, map[string]int{}
	all := map[string]review.Duration{}
	for _, g := range s.groups() {
		t := s.tracks[g.track]
		p, ok := s.plan.Profile(g.profile)
		if open[g.clutch] || g.waiting || t == nil || !t.felt.Ready() || !ok {
			open[g.clutch] = true
			delete(all, g.clutch)
			continue
		}
		if g.born == 0 {
			continue
		}
		b, err := s.prior(p)
		if err != nil {
			continue // the clutch has no window either, and says why
		}
		o := s.took(g, t.felt.Get())
		want, sd := b.Predict(o)
		if math.IsNaN(want) || !(o.Days > 0) {
			continue
		}
		x := review.Duration{
			Days: o.Days, Expected: math.Exp(want), SD: byItself(b, o),
			Implausible: math.Abs(math.Log(o.Days)-want) > unbelievable*sd,
		}
		if was := born[g.clutch]; was > 0 { // its eggs were apart
			of := float64(was) / float64(was+g.born)
			y := all[g.clutch]
			x.Days = of*y.Days + (1-of)*x.Days
			x.Expected = of*y.Expected + (1-of)*x.Expected
			x.SD, x.Implausible = max(x.SD, y.SD), x.Implausible || y.Implausible
		}
		born[g.clutch] += g.born
		all[g.clutch] = x
	}
	return all
}

// byItself is how far off a clutch is by chance (log), its dam's own offset left
// out: the scatter of its eggs, the model's misfit, and the dates between which
// it was laid.
func byItself(b thermal.Belief, o thermal.Observed) float64 {
	misfit := thermal.TreatmentSD
	if b.Straight {
		misfit = thermal.LineMisfitSD
	}
	eggs := math.Sqrt((thermal.EggSD*thermal.EggSD - thermal.DamSD*thermal.DamSD) / float64(o.Eggs))
	return math.Hypot(math.Hypot(misfit, eggs), o.DaysOff/o.Days/math.Sqrt(3))
}
