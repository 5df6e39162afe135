package review_test

import (
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/booktest"
	"example.com/ootherm/thermal/book/review"
	"example.com/ootherm/thermal/book/stats"
)

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s is %.6f, want %.6f within %g", what, got, want, within)
	}
}

func TestReview(t *testing.T) {
	var l booktest.Lines
	l.Add("2025-03-01", `"dam","dam":"Sorrel"`)
	l.Add("2025-03-01", `"dam","dam":"Fern"`)
	l.Add("2025-03-01", `"dam","dam":"Moss"`)
	l.Clutch("2025-12-31", "S0", `"dam":"Sorrel",`, 9) // another season
	l.Clutch("2026-04-01", "S1", `"dam":"Sorrel",`, 3)
	l.Add("2026-04-20", `"candled","egg":"S1-1","verdict":"infertile"`)
	l.Add("2026-04-20", `"candled","egg":"S1-2","verdict":"too early to say"`)
	l.Add("2026-04-21", `"lost","egg":"S1-1"`)
	l.Add("2026-07-01", `"hatched","egg":"S1-2"`)
	l.Add("2026-07-02", `"hatched","egg":"S1-3"`)
	l.Add("2026-07-16", `"hatchling","egg":"S1-3","what":"died"`) // on the 14th day
	l.Clutch("2026-05-01", "S2", `"dam":"Sorrel",`, 2)
	l.Add("2026-06-01", `"lost","egg":"S2-1"`) // the other waits: not judged
	l.Clutch("2026-04-02", "F1", `"dam":["Fern"],`, 2)
	l.Add("2026-07-10", `"hatched","egg":"F1-1"`)
	l.Add("2026-07-25", `"hatchling","egg":"F1-1","what":"died"`) // on the 15th
	l.Add("2026-07-10", `"hatched","egg":"F1-2"`)
	l.Clutch("2026-04-03", "X1", `"dam":["Sorrel","Fern"],`, 1)
	l.Clutch("2026-04-04", "X2", `"dam":["Fern","Sorrel"],`, 1)
	l.Clutch("2026-04-05", "X3", ``, 1)
	l.Add("2026-07-20", `"hatched","egg":"X3-1"`) // 5 days before the review: not judged
	b := booktest.Fold(t, l.String())
	r := review.Of(b, review.Season{From: booktest.Time(t, "2026-01-01T00:00:00Z"), To: booktest.Time(t, "2027-01-01T00:00:00Z")}, booktest.Time(t, "2026-07-25T00:00:00Z"), nil)

	type row struct {
		name                    string
		clutches, laid, waiting int
		fertile, hatched, alive stats.Ratio
	}
	check := func(what string, got []review.Tally, want ...row) {
		t.Helper()
		if len(got) != len(want) {
			t.Fatalf("%s: %d, want %d: %+v", what, len(got), len(want), got)
		}
		for i, g := range got {
			if h := (row{g.Name, len(g.Clutches), g.Laid, g.Waiting, g.Fertile, g.Hatched, g.Alive}); h != want[i] {
				t.Errorf("%s: %+v, want %+v", what, h, want[i])
			}
		}
	}
	check("dams", r.Dams,
		row{"Sorrel", 2, 5, 1, stats.Ratio{Count: 2, Of: 3}, stats.Ratio{Count: 2, Of: 3}, stats.Ratio{Count: 1, Of: 2}},
		row{"Fern", 1, 2, 0, stats.Ratio{Count: 2, Of: 2}, stats.Ratio{Count: 2, Of: 2}, stats.Ratio{Count: 2, Of: 2}})
	check("apart", r.Shared,
		row{"Fern or Sorrel", 2, 2, 2, stats.Ratio{}, stats.Ratio{}, stats.Ratio{}},
		row{"", 1, 1, 0, stats.Ratio{Count: 1, Of: 1}, stats.Ratio{Count: 1, Of: 1}, stats.Ratio{}})
	check("room", []review.Tally{r.Room},
		row{"", 6, 10, 3, stats.Ratio{Count: 5, Of: 6}, stats.Ratio{Count: 5, Of: 6}, stats.Ratio{Count: 3, Of: 4}})

	if len(r.Dams[0].Comparisons) != 3 {
		t.Fatalf("Sorrel is compared in %+v", r.Dams[0].Comparisons)
	}
	c := r.Dams[0].Comparisons[1]
	if c.Of != "hatched" || c.Others != (stats.Ratio{Count: 2, Of: 2}) || c.P > c.Adjusted || c.Significant() {
		t.Errorf("Sorrel against the others: %+v", c)
	}
	near(t, "p of 2 of 3 against 2 of 2", c.P, 1, 1e-12)
	// Of the hatchlings S1-2 and F1-2 were not noted since: they are followed to
	// their 14th day, X3-1 to today, its fifth.
	var followed []float64
	for _, x := range r.Room.Followed {
		followed = append(followed, x.Days)
	}
	if want := []float64{14, 15, 14, 14, 5}; !sameSet(followed, want) {
		t.Errorf("hatchlings are followed for %v days, want %v", followed, want)
	}
	steps := stats.Survival(r.Room.Followed)
	if len(steps) != 2 || steps[0].Days != 14 || steps[0].AtRisk != 4 || steps[1].AtRisk != 1 {
		t.Errorf("hatchlings alive by day: %+v", steps)
	}
	// What is not known yet is set apart.
	for what, got := range map[string][2]int{
		"eggs of clutches that still wait": {r.Room.Open, 4}, "eggs without a verdict": {r.Room.Unknown, 4}, "hatchlings under 14 days": {r.Room.Young, 1},
	} {
		if got[0] != got[1] {
			t.Errorf("%s: %d, want %d", what, got[0], got[1])
		}
	}
}

func sameSet(a, b []float64) bool {
	return slices.Equal(slices.Sorted(slices.Values(a)), slices.Sorted(slices.Values(b)))
}

// A hatchling that is noted later than its 14th day is followed for as long; one
// that left the house is not alive for ever.
func TestHatchlingsAreFollowedToTheirLastNote(t *testing.T) {
	var l booktest.Lines
	l.Clutch("2026-04-01", "S1", ``, 2)
	l.Add("2026-07-01", `"hatched","egg":"S1-1"`)
	l.Add("2026-07-01", `"hatched","egg":"S1-2"`)
	l.Add("2026-07-31", `"hatchling","egg":"S1-1","what":"fed"`)
	season := review.Season{From: booktest.Time(t, "2026-01-01T00:00:00Z"), To: booktest.Time(t, "2027-01-01T00:00:00Z")}
	r := review.Of(booktest.Fold(t, l.String()), season, booktest.Time(t, "2026-12-31T00:00:00Z"), nil)
	want := []stats.Span{{Days: 30}, {Days: 14}}
	if !slices.Equal(r.Room.Followed, want) {
		t.Errorf("followed %+v, want %+v", r.Room.Followed, want)
	}
}

// Her days are set beside those of other dams of her kind alone, and what the
// house does to all of them is not hers.
func TestReviewDays(t *testing.T) {
	var l booktest.Lines
	for _, d := range []string{"Sorrel", "Fern", "Tansy"} {
		l.Add("2025-03-01", `"dam","dam":"%s","profile":"crested gecko"`, d)
	}
	l.Add("2025-03-01", `"dam","dam":"Moss","profile":"gargoyle gecko"`)
	durations := map[string]review.Duration{}
	clutch := func(id, dam string, days float64) {
		l.Clutch("2026-04-01", id, fmt.Sprintf(`"dam":"%s",`, dam), 1)
		l.Add("2026-07-01", `"hatched","egg":"%s-1"`, id)
		durations[id] = review.Duration{Days: days, Expected: 100, SD: 0.05}
	}
	for i, d := range []float64{124, 126, 125} {
		clutch(fmt.Sprintf("S%d", i), "Sorrel", d)
	}
	for i, d := range []float64{104, 106, 105, 105} {
		clutch(fmt.Sprintf("F%d", i), []string{"Fern", "Tansy"}[i%2], d)
	}
	clutch("M1", "Moss", 300)
	durations["F0"] = review.Duration{Days: 900, Expected: 100, SD: 0.05, Implausible: true} // a slip in its dates
	clutch("S9", "Sorrel", 50)
	season := review.Season{From: booktest.Time(t, "2026-01-01T00:00:00Z"), To: booktest.Time(t, "2027-01-01T00:00:00Z")}
	delete(durations, "S9") // the model could say nothing of it
	r := review.Of(booktest.Fold(t, l.String()), season, booktest.Time(t, "2026-12-31T00:00:00Z"), durations)
	s := r.Dams[0].Duration
	if s == nil || s.Dam.Clutches != 3 || s.Others.Clutches != 3 {
		t.Fatalf("Sorrel beside the others: %+v", s)
	}
	near(t, "her days", s.Dam.LogRatio, math.Log(1.25), 1e-4)
	near(t, "the difference", s.Diff, math.Log(1.25)-math.Log(1.0533), 1e-3)
	near(t, "its interval", s.High-s.Low, 2*2.2*0.05*math.Sqrt(2.0/3), 1e-9)
	if !s.Significant() {
		t.Errorf("a fifth longer than the others does not stand out: %+v", s)
	}
	if r.Dams[3].Duration != nil || r.Dams[3].Durations.Clutches != 1 {
		t.Errorf("the only one of her kind is set beside others: %+v", r.Dams[3].Duration)
	}
	// Each of four dams in hatched and alive at 14 days, three in days; nobody
	// has a verdict but all hatched, so all in fertile too.
	if r.Comparisons != 15 {
		t.Errorf("%d comparisons are accounted for, want 15", r.Comparisons)
	}
	if p := s.P; !(s.Adjusted > p && s.Adjusted <= 15*p) {
		t.Errorf("p %g became %g", p, s.Adjusted)
	}
}

// One dam far from the rest is told; with nothing but chance none is.
func TestReviewTellsOneDam(t *testing.T) {
	season := review.Season{From: booktest.Time(t, "2026-01-01T00:00:00Z"), To: booktest.Time(t, "2027-01-01T00:00:00Z")}
	for _, c := range []struct {
		hatch  [4]int // of ten eggs each
		stands string
	}{
		{[4]int{9, 8, 9, 1}, "D3"},
		{[4]int{8, 7, 8, 5}, ""},
	} {
		var l booktest.Lines
		for d, n := range c.hatch {
			l.Add("2025-03-01", `"dam","dam":"D%d"`, d)
			l.Clutch("2026-04-01", fmt.Sprintf("C%d", d), fmt.Sprintf(`"dam":"D%d",`, d), 10)
			for e := 1; e <= 10; e++ {
				kind := "lost"
				if e <= n {
					kind = "hatched"
				}
				l.Add("2026-07-01", `"%s","egg":"C%d-%d"`, kind, d, e)
			}
		}
		r := review.Of(booktest.Fold(t, l.String()), season, booktest.Time(t, "2026-07-02T00:00:00Z"), nil)
		stands := ""
		for _, d := range r.Dams {
			for _, a := range d.Comparisons {
				if a.Significant() && a.Of == "hatched" {
					stands += d.Name
				}
			}
		}
		if stands != c.stands {
			t.Errorf("of %v, what stands out is %q, want %q", c.hatch, stands, c.stands)
		}
	}
}

func TestReviewOfNothing(t *testing.T) {
	r := review.Of(book.Book{}, review.Season{}, time.Time{}, nil)
	if len(r.Dams) != 0 || r.Room.Laid != 0 || r.Comparisons != 0 {
		t.Errorf("a review of nothing holds %+v", r)
	}
}
