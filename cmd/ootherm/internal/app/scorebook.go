package app

import (
	"fmt"
	"io"
	"math"
	"text/tabwriter"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/app/now"
	"example.com/ootherm/thermal/book"
)

// BookScore is how right the windows were that were shown for eggs that hatched
// here.
type BookScore struct {
	Hatches int        `json:"hatches"` // that had a window shown before
	Ways    []WayScore `json:"ways"`
	Eggs    []EggScore `json:"eggs"`
}

// WayScore is how right they were at one point of the way from laying to hatch.
// Inside is meant to be 85 %: a window runs from 10 % to 95 %.
type WayScore struct {
	Way         float64  `json:"way"` // share of the days from laying to hatch
	N           int      `json:"n"`
	Inside      *float64 `json:"inside"`        // share hatched from check_from to late_after
	MeanDaysOff *float64 `json:"mean_days_off"` // of the likely day
	MeanWidth   *float64 `json:"mean_width_days"`
}

// EggScore is one egg at one point of its way.
type EggScore struct {
	Egg       string    `json:"egg"`
	Clutch    string    `json:"clutch"`
	Way       float64   `json:"way"`
	Shown     time.Time `json:"shown"` // when its window was reckoned
	CheckFrom time.Time `json:"check_from"`
	Likely    time.Time `json:"likely"`
	LateAfter time.Time `json:"late_after"`
	Hatched   time.Time `json:"hatched"`
	Inside    bool      `json:"inside"`
	DaysOff   float64   `json:"days_off"` // above nought: it hatched later than likely
}

// ScoreBook judges the windows by the book: for each egg that hatched, the last one
// that was shown for it by a quarter, half, three quarters and nine tenths of its
// days. A lay interval counts from its middle.
func ScoreBook(b book.Book, windows []now.Shown) BookScore {
	score := BookScore{Ways: []WayScore{}, Eggs: []EggScore{}}
	byClutch := map[string][]now.Shown{}
	for _, w := range windows {
		byClutch[w.Clutch] = append(byClutch[w.Clutch], w)
	}
	had := map[string]bool{}
	for _, way := range [...]float64{0.25, 0.5, 0.75, 0.9} {
		sum := WayScore{Way: way}
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
				x := EggScore{
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
			sum.Inside, sum.MeanDaysOff, sum.MeanWidth = number(inside/n), number(off/n), number(width/n)
		}
		score.Ways = append(score.Ways, sum)
	}
	score.Hatches = len(had)
	return score
}

// lastShown is the last window shown for an egg by a time, of the box in which it
// then was.
func lastShown(windows []now.Shown, e book.Egg, by time.Time) (last now.Shown, ok bool) {
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

// Describe writes it for a person.
func (b BookScore) Describe(w io.Writer) error {
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
