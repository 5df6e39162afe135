package forecast

import (
	"math"
	"slices"
	"time"

	"example.com/ootherm/thermal/book"
)

// Shown is a window that was shown for the eggs of a clutch in a box.
type Shown struct {
	Clutch, Box                  string
	Eggs                         []string  // empty: all that waited there
	At                           time.Time // when it was computed
	CheckFrom, Likely, LateAfter time.Time
}

// Score is how right the windows were that were shown for eggs that hatched.
type Score struct {
	Hatches int // that had a window shown before
	Ways    []WayScore
	Ages    []AgeScore
	Eggs    []EggScore
}

// AgeScore is how right they were at one age, for the eggs that had not hatched by then. A
// share of the way is known only after the hatch; an age is what a breeder has. Its figures
// are NaN without an egg.
type AgeScore struct {
	AgeDays float64 // since laying
	Score   WayScore
}

// WayScore is how right they were at one point of the way. Its figures are NaN without
// an egg.
type WayScore struct {
	Way         float64 // share of the days from laying to hatch
	N           int
	Early, Late int     // how many hatched before check-from, and after late-after
	Inside      float64 // share hatched from check-from to late-after
	MeanDaysOff float64 // of the likely day, without sign
	MeanWidth   float64 // days
	// LogScore is the mean log density of the log of the days from laying to hatch: higher is
	// better. A window counts as normal in log days, a tenth before check-from and a
	// twentieth after late-after.
	LogScore float64
}

// EggScore is one egg at one point of its way.
type EggScore struct {
	Egg     string
	Way     float64
	Shown   Shown
	Hatched time.Time
	Inside  bool
	DaysOff float64 // above 0: it hatched later than likely; NaN without a likely day
	// LogScore is the log density of the log of its days; NaN of a window that began before
	// it was laid.
	LogScore float64
}

// scoredWays are the shares of the way at which windows are scored (our choice).
var scoredWays = [...]float64{0.25, 0.5, 0.75, 0.9}

// scoredAgesDays are the ages at which windows are scored, in days since laying: each month
// of the longest usual incubation (our choice).
var scoredAgesDays = [...]float64{30, 60, 90, 120, 150}

// ScoreShown scores windows by a book: for each egg that hatched, the last one that was
// shown for it by each share of its days, and by each age. A lay interval counts from its
// middle.
func ScoreShown(b book.Book, windows []Shown) Score {
	var score Score
	byClutch := map[string][]Shown{}
	for _, w := range windows {
		byClutch[w.Clutch] = append(byClutch[w.Clutch], w)
	}
	had := map[string]bool{}
	each := func(sum *tally, by func(days float64) float64) (eggs []EggScore) {
		for _, c := range b.Clutches() {
			laid := c.Laid.After.Add(c.Laid.By.Sub(c.Laid.After) / 2)
			for _, e := range c.Eggs {
				days := e.FateAt.Sub(laid).Hours() / 24
				age := by(days)
				if e.Fate != book.Hatched || age >= days {
					continue
				}
				w, ok := lastShown(byClutch[c.ID], e, laid.Add(time.Duration(age*24*float64(time.Hour))))
				if !ok {
					continue
				}
				had[e.ID] = true
				x := EggScore{
					Egg: e.ID, Shown: w, Hatched: e.FateAt, DaysOff: daysOff(w, e.FateAt), LogScore: logScore(w, laid, e.FateAt),
					Inside: !e.FateAt.Before(w.CheckFrom) && !e.FateAt.After(w.LateAfter),
				}
				eggs = append(eggs, x)
				sum.add(x)
			}
		}
		return eggs
	}
	for _, way := range scoredWays {
		sum := tally{WayScore: WayScore{Way: way}}
		for _, x := range each(&sum, func(days float64) float64 { return way * days }) {
			x.Way = way
			score.Eggs = append(score.Eggs, x)
		}
		score.Ways = append(score.Ways, sum.mean())
	}
	for _, age := range scoredAgesDays {
		var sum tally
		each(&sum, func(float64) float64 { return age })
		score.Ages = append(score.Ages, AgeScore{AgeDays: age, Score: sum.mean()})
	}
	score.Hatches = len(had)
	return score
}

// daysOff is how many days after the likely one an egg hatched; NaN where none was shown.
func daysOff(w Shown, hatched time.Time) float64 {
	if w.Likely.IsZero() {
		return math.NaN()
	}
	return hatched.Sub(w.Likely).Hours() / 24
}

// The normal quantiles of a tenth and of a twentieth.
const (
	zTenth     = 1.2816
	zTwentieth = 1.6449
)

// logScore is the log density of the log of the days from laying to hatch by a window.
func logScore(w Shown, laid, hatched time.Time) float64 {
	log := func(at time.Time) float64 { return math.Log(at.Sub(laid).Hours() / 24) }
	from, to := log(w.CheckFrom), log(w.LateAfter)
	sd := (to - from) / (zTenth + zTwentieth)
	off := (log(hatched) - from - zTenth*sd) / sd
	if score := -off*off/2 - math.Log(sd) - math.Log(2*math.Pi)/2; !math.IsInf(score, 0) {
		return score
	}
	return math.NaN()
}

// tally is the sums of a score.
type tally struct {
	WayScore
	likely int // eggs with a likely day
	scored int // eggs with a log score
}

func (w *tally) add(x EggScore) {
	w.N++
	if !math.IsNaN(x.DaysOff) {
		w.likely++
		w.MeanDaysOff += math.Abs(x.DaysOff)
	}
	if !math.IsNaN(x.LogScore) {
		w.scored++
		w.LogScore += x.LogScore
	}
	w.MeanWidth += x.Shown.LateAfter.Sub(x.Shown.CheckFrom).Hours() / 24
	switch {
	case x.Inside:
		w.Inside++
	case x.Hatched.Before(x.Shown.CheckFrom):
		w.Early++
	default:
		w.Late++
	}
}

// mean makes means of sums.
func (w tally) mean() WayScore {
	n := float64(w.N)
	m := w.WayScore
	m.Inside, m.MeanDaysOff, m.MeanWidth, m.LogScore = w.Inside/n, w.MeanDaysOff/float64(w.likely), w.MeanWidth/n, w.LogScore/float64(w.scored)
	return m
}

// lastShown is the last window shown for an egg by a time, of the box in which it
// then was.
func lastShown(windows []Shown, e book.Egg, by time.Time) (last Shown, ok bool) {
	for _, w := range windows {
		if w.At.After(by) || ok && !w.At.After(last.At) || len(w.Eggs) > 0 && !slices.Contains(w.Eggs, e.ID) {
			continue
		}
		for _, s := range e.Stays {
			if s.Box == w.Box && !w.At.Before(s.From) && (s.To.IsZero() || w.At.Before(s.To)) {
				last, ok = w, true
			}
		}
	}
	return last, ok
}
