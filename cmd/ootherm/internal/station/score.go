package station

import (
	"fmt"
	"io"
	"math"
	"text/tabwriter"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/thermal/book"
)

// ScoreBook judges the windows by the book: for each egg that hatched, the last one
// that was shown for it by a quarter, half, three quarters and nine tenths of its
// days. A lay interval counts from its middle.
func ScoreBook(b book.Book, windows []snapshot.Shown) snapshot.Score {
	score := snapshot.Score{Ways: []snapshot.ScoreAt{}, Eggs: []snapshot.EggScore{}}
	byClutch := map[string][]snapshot.Shown{}
	for _, w := range windows {
		byClutch[w.Clutch] = append(byClutch[w.Clutch], w)
	}
	had := map[string]bool{}
	for _, way := range [...]float64{0.25, 0.5, 0.75, 0.9} {
		sum := snapshot.ScoreAt{Way: way}
		var inside, off, width float64
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
				x := snapshot.EggScore{
					Egg: e.ID, Clutch: c.ID, Way: way, Shown: w.At, CheckFrom: w.Window.CheckFrom, Likely: w.Window.Likely,
					LateAfter: w.Window.LateAfter, Hatched: e.FateAt, DaysOff: e.FateAt.Sub(w.Window.Likely).Hours() / 24,
					Inside: !e.FateAt.Before(w.Window.CheckFrom) && !e.FateAt.After(w.Window.LateAfter),
				}
				score.Eggs = append(score.Eggs, x)
				sum.N++
				off += math.Abs(x.DaysOff)
				width += w.Window.LateAfter.Sub(w.Window.CheckFrom).Hours() / 24
				if x.Inside {
					inside++
				}
			}
		}
		if n := float64(sum.N); n > 0 {
			sum.Inside, sum.MeanDaysOff, sum.MeanWidth = snapshot.OptFloat(inside/n), snapshot.OptFloat(off/n), snapshot.OptFloat(width/n)
		}
		score.Ways = append(score.Ways, sum)
	}
	score.Hatches = len(had)
	return score
}

// lastShown is the last window shown for an egg by a time, of the box in which it
// then was.
func lastShown(windows []snapshot.Shown, e book.Egg, by time.Time) (last snapshot.Shown, ok bool) {
	for _, w := range windows {
		if w.At.After(by) || ok && !w.At.After(last.At) {
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

// DescribeScore writes how right the windows were, for a person.
func DescribeScore(w io.Writer, b snapshot.Score) error {
	if b.Hatches == 0 {
		_, err := fmt.Fprintln(w, "No egg has hatched yet for which a window was shown before.")
		return err
	}
	fmt.Fprintf(w, "%d eggs hatched for which a window was shown before.\n", b.Hatches)
	t := tabwriter.NewWriter(w, 0, 8, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "of the way\teggs\thatched inside the window\tdays off the likely day\tdays wide\t")
	for _, x := range b.Ways {
		if x.N == 0 {
			fmt.Fprintf(t, "%.0f %%\t0\t\t\t\t\n", 100*x.Way)
			continue
		}
		fmt.Fprintf(t, "%.0f %%\t%d\t%.0f %%\t%.1f\t%.0f\t\n", 100*x.Way, x.N, 100**x.Inside, *x.MeanDaysOff, *x.MeanWidth)
	}
	if err := t.Flush(); err != nil {
		return err
	}
	_, err := fmt.Fprintln(w, "A window is meant to hold 85 % of the hatches: it runs from 10 to 95 %.")
	return err
}
