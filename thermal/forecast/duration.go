package forecast

import (
	"math"

	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book/review"
)

// durations are how long each clutch that is over took, beside what the heat it felt
// says by what is published of its kind. Nothing learned here counts: what the
// house does to all clutches is then in all of them, and what a dam does stays
// hers.
func (k *knowledge) durations() map[string]review.Duration {
	undecided, born := map[string]bool{}, map[string]int{}
	all := map[string]review.Duration{}
	for _, g := range k.Groups {
		p, ok := k.Profile(g.Profile)
		if undecided[g.Clutch] || g.Waiting || k.Track(g.Track) == nil || !ok {
			undecided[g.Clutch] = true
			delete(all, g.Clutch)
			continue
		}
		if g.Born == 0 {
			continue
		}
		b, err := k.priors.of(p)
		if err != nil {
			continue // the clutch has no window either, and says why
		}
		o := k.observed(g)
		want, _ := b.Predict(o)
		if math.IsNaN(want) || !(o.Days > 0) {
			continue
		}
		x := review.Duration{Days: o.Days, Expected: math.Exp(want), SD: residualSD(b, o), Implausible: !believed(b, o)}
		if was := born[g.Clutch]; was > 0 { // its eggs were apart
			x = mean(all[g.Clutch], x, float64(was)/float64(was+g.Born))
		}
		born[g.Clutch] += g.Born
		all[g.Clutch] = x
	}
	return all
}

// mean is the mean of two durations, of which the first counts a share.
func mean(a, b review.Duration, share float64) review.Duration {
	return review.Duration{
		Days:        share*a.Days + (1-share)*b.Days,
		Expected:    share*a.Expected + (1-share)*b.Expected,
		SD:          max(a.SD, b.SD),
		Implausible: a.Implausible || b.Implausible,
	}
}

// residualSD is how far off a clutch is by chance (log), its dam's own offset left
// out: the scatter of its eggs, the model's misfit, and the dates between which
// it was laid.
func residualSD(b thermal.Belief, o thermal.Observed) float64 {
	misfit := thermal.TreatmentSD
	if b.Straight {
		misfit = thermal.LineMisfitSD
	}
	eggs := math.Sqrt((thermal.EggSD*thermal.EggSD - thermal.DamSD*thermal.DamSD) / float64(o.Eggs))
	return math.Hypot(math.Hypot(misfit, eggs), o.DaysOff/o.Days/math.Sqrt(3))
}
