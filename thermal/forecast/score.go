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
	Eggs    []EggScore
}

// WayScore is how right they were at one point of the way. Its figures are NaN without
// an egg.
type WayScore struct {
	Way         float64 // share of the days from laying to hatch
	N           int
	Inside      float64 // share hatched from check-from to late-after
	MeanDaysOff float64 // of the likely day, without sign
	MeanWidth   float64 // days
}

// EggScore is one egg at one point of its way.
type EggScore struct {
	Egg     string
	Way     float64
	Shown   Shown
	Hatched time.Time
	Inside  bool
	DaysOff float64 // above 0: it hatched later than likely
}

// scoredWays are the shares of the way at which windows are scored (our choice).
var scoredWays = [...]float64{0.25, 0.5, 0.75, 0.9}

// ScoreShown scores windows by a book: for each egg that hatched, the last one that was
// shown for it by each share of its days. A lay interval counts from its middle.
func ScoreShown(b book.Book, windows []Shown) Score {
	var score Score
	byClutch := map[string][]Shown{}
	for _, w := range windows {
		byClutch[w.Clutch] = append(byClutch[w.Clutch], w)
	}
	had := map[string]bool{}
	for _, way := range scoredWays {
		sum := WayScore{Way: way}
		for _, c := range b.Clutches() {
			laid := c.Laid.After.Add(c.Laid.By.Sub(c.Laid.After) / 2)
			for _, e := range c.Eggs {
				if e.Fate != book.Hatched {
					continue
				}
				by := laid.Add(time.Duration(way * float64(e.FateAt.Sub(laid))))
				w, ok := lastShown(byClutch[c.ID], e, by)
				if !ok {
					continue
				}
				had[e.ID] = true
				x := EggScore{
					Egg: e.ID, Way: way, Shown: w, Hatched: e.FateAt, DaysOff: e.FateAt.Sub(w.Likely).Hours() / 24,
					Inside: !e.FateAt.Before(w.CheckFrom) && !e.FateAt.After(w.LateAfter),
				}
				score.Eggs = append(score.Eggs, x)
				sum.add(x)
			}
		}
		score.Ways = append(score.Ways, sum.mean())
	}
	score.Hatches = len(had)
	return score
}

func (w *WayScore) add(x EggScore) {
	w.N++
	w.MeanDaysOff += math.Abs(x.DaysOff)
	w.MeanWidth += x.Shown.LateAfter.Sub(x.Shown.CheckFrom).Hours() / 24
	if x.Inside {
		w.Inside++
	}
}

// mean makes means of sums.
func (w WayScore) mean() WayScore {
	n := float64(w.N)
	w.Inside, w.MeanDaysOff, w.MeanWidth = w.Inside/n, w.MeanDaysOff/n, w.MeanWidth/n
	return w
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
