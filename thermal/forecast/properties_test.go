package forecast_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"
	"time"

	"example.com/ootherm/thermal/book/booktest"
	"example.com/ootherm/thermal/forecast"
	"example.com/ootherm/thermal/forecast/forecasttest"
	"example.com/ootherm/thermal/track"
)

// fully is a count that is run in full where that is asked for.
func fully(few, all int) int {
	if os.Getenv("OOTHERM_FULL") != "" {
		return all
	}
	return few
}

// anyBook is a book of a few dams with clutches at all stages on a day: eggs scatter by so
// much (log days), die, are forgotten and pip, and a share of the dates is off.
func anyBook(rnd *rand.Rand, scatter, wrong float64) (layings []laying, day float64) {
	day = 60 + 200*rnd.Float64()
	for d := range 1 + rnd.IntN(4) {
		for c := range 1 + rnd.IntN(3) {
			l := alone(fmt.Sprintf("C%d%d", d, c), fmt.Sprintf("Dam %d", d), rnd.IntN(int(day)-20))
			l.Eggs = 1 + rnd.IntN(3)
			for e := range l.Eggs {
				age := 96 * math.Exp(scatter*rnd.NormFloat64())
				if rnd.Float64() < wrong {
					age = 20 + 200*rnd.Float64()
				}
				at := math.Round(10*(float64(l.Day)+age)) / 10
				what := []string{"hatched", "hatched", "hatched", "lost", "pipped", "fertile", ""}[rnd.IntN(7)]
				if what != "" && at < day {
					l = l.With(e+1, fate{Day: at, What: what})
				}
			}
			layings = append(layings, l)
		}
	}
	return layings, day
}

// In any book check-from, the likely day and late-after are in this order, or there is no
// likely day.
func TestAnyBookKeepsTheOrder(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 4))
	windows, likely := 0, 0
	for i := range fully(40, 6000) {
		layings, day := anyBook(rnd, 0.12, 0.05)
		h := houseAt(t, 19+7*rnd.Float64(), day, layings...)
		f := forecast.New().Next(h)
		for _, g := range h.Groups {
			x, ok := f.Of(g)
			if !ok {
				t.Fatalf("book %d: %s has no forecast", i, g.Clutch)
			}
			w := x.Window
			if !w.Exists() {
				continue
			}
			windows++
			if w.LateAfter.Before(w.CheckFrom) || !w.Likely.IsZero() && (w.Likely.Before(w.CheckFrom) || w.Likely.After(w.LateAfter)) {
				t.Errorf("book %d, %s: %.2f, %.2f, %.2f", i, g.Clutch, daysOf(w.CheckFrom), daysOf(w.Likely), daysOf(w.LateAfter))
			}
			if !w.Likely.IsZero() {
				likely++
			}
			for _, v := range []float64{w.Developed, w.DevelopedLow, w.DevelopedHigh, w.Why.Days} {
				if math.IsNaN(v) || v < 0 {
					t.Errorf("book %d, %s: %+v", i, g.Clutch, w)
				}
			}
			if g.Waiting != (x.State != "") {
				t.Errorf("book %d, %s: state %q", i, g.Clutch, x.State)
			}
		}
	}
	t.Logf("%d windows, %d with a likely day", windows, likely)
}

// slack is by how much a window may move against a rule: what is known is approximated, and
// a hatch at the edge of the others counts less.
const slack = 6 * time.Hour

// More heat is never later. Another egg's later hatch never makes this one's likely day
// earlier, among hatches that scatter as eggs do: one that is far off counts less, the
// further off it is.
func TestHeatAndHatchesMoveOneWay(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 6))
	compared := 0
	for i := range fully(10, 90) {
		layings, day := anyBook(rnd, 0.04, 0)
		c := 22.5 + 1.5*rnd.Float64()
		asked := alone("Q1", "Quince", int(day)-20-rnd.IntN(40))
		of := append(slices.Clone(layings), asked)
		base := on(t, c, day, "Q1", of...).Window
		type change struct {
			name          string
			warmer, later float64
		}
		for _, x := range []change{{"0.3 K warmer", 0.3, 0}, {"a hatch 3 days later", 0, 3}} {
			changed := slices.Clone(of)
			moved := x.later == 0
			for k, l := range changed {
				for e := 1; e <= l.Eggs; e++ {
					if f := l.Fates[e]; !moved && f.What == "hatched" && f.Day+x.later < day && f.Day-float64(l.Day) > 80 && f.Day-float64(l.Day) < 115 {
						l = l.With(e, hatched(f.Day+x.later))
						changed[k] = l
						moved = true
					}
				}
			}
			if !moved {
				continue
			}
			var w = base
			if x.warmer > 0 { // the asked eggs alone
				h := houseAt(t, c, day, changed...)
				warm := houseAt(t, c+x.warmer, day, changed...)
				others := h.Track
				h.Track = func(key string) *track.Track {
					for _, g := range h.Groups {
						if g.Clutch == "Q1" && g.Track == key {
							return warm.Track(key)
						}
					}
					return others(key)
				}
				for _, g := range h.Groups {
					if g.Clutch == "Q1" {
						y, _ := forecast.New().Next(h).Of(g)
						w = y.Window
					}
				}
				if w.CheckFrom.After(base.CheckFrom.Add(slack)) || w.LateAfter.After(base.LateAfter.Add(slack)) {
					t.Errorf("book %d, %s: %.2f to %.2f, was %.2f to %.2f", i, x.name, daysOf(w.CheckFrom), daysOf(w.LateAfter), daysOf(base.CheckFrom), daysOf(base.LateAfter))
				}
			} else {
				w = on(t, c, day, "Q1", changed...).Window
				if !w.Likely.IsZero() && w.Likely.Before(base.Likely.Add(-slack)) {
					t.Errorf("book %d, %s: likely %.2f, was %.2f", i, x.name, daysOf(w.Likely), daysOf(base.Likely))
				}
			}
			compared++
		}
	}
	t.Logf("%d pairs compared", compared)
}

// A note that is voided gives the old window back.
func TestVoidGivesTheWindowBack(t *testing.T) {
	y := alone("Y3", "Yarrow", 0)
	s := alone("S1", "Sorrel", 3)
	lines := forecasttest.Book(100, y, s)
	said := lines + fmt.Sprintf(`{"key":"w","entry":"hatched","egg":"S1-1","at":%q}`+"\n", laid.AddDate(0, 0, 98).Format(time.RFC3339))
	voided := said + fmt.Sprintf(`{"key":"v","entry":"void","void":"w","at":%q}`+"\n", laid.AddDate(0, 0, 99).Format(time.RFC3339))
	var of []forecast.Hatch
	f := forecast.New()
	for i, text := range []string{lines, said, voided} {
		h := houseAt(t, room, 100, y, s)
		h.Groups = track.Groups(booktest.Fold(t, text), func(string) (bool, bool) { return false, false })
		h.Corrections.All = i / 2
		h.Track = forecasttest.Tracks(t, h, room)
		f = f.Next(h)
		for _, g := range h.Groups {
			if g.Clutch == "Y3" {
				x, _ := f.Of(g)
				of = append(of, x)
			}
		}
	}
	if of[0].Window.CheckFrom.Sub(of[1].Window.CheckFrom).Abs() < 24*time.Hour {
		t.Errorf("a hatch moved check-from by %v", of[1].Window.CheckFrom.Sub(of[0].Window.CheckFrom))
	}
	a, b := of[0].Window, of[2].Window
	if a.CheckFrom != b.CheckFrom || a.Likely != b.Likely || a.LateAfter != b.LateAfter {
		t.Errorf("after the void %.3f to %.3f, before the note %.3f to %.3f", daysOf(b.CheckFrom), daysOf(b.LateAfter), daysOf(a.CheckFrom), daysOf(a.LateAfter))
	}
}
