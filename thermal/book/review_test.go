package book_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/thermal/book"
)

// lines writes entries by hand, numbering their keys.
type lines struct {
	s strings.Builder
	n int
}

func (l *lines) add(day string, format string, args ...any) {
	l.n++
	fmt.Fprintf(&l.s, `{"key":"k%d","at":"%sT00:00:00Z","entry":%s}`+"\n", l.n, day, fmt.Sprintf(format, args...))
}

func (l *lines) clutch(day, id, dam string, eggs int) {
	l.add(day, `"clutch","clutch":"%s",%s"eggs":%d,"laid_after":"%sT00:00:00Z","laid_by":"%sT00:00:00Z"`, id, dam, eggs, day, day)
}

func TestReview(t *testing.T) {
	var l lines
	l.add("2025-03-01", `"dam","dam":"Sorrel"`)
	l.add("2025-03-01", `"dam","dam":"Fern"`)
	l.add("2025-03-01", `"dam","dam":"Moss"`)
	l.clutch("2025-12-31", "S0", `"dam":"Sorrel",`, 9) // another season
	l.clutch("2026-04-01", "S1", `"dam":"Sorrel",`, 3)
	l.add("2026-04-20", `"candled","egg":"S1-1","verdict":"infertile"`)
	l.add("2026-04-20", `"candled","egg":"S1-2","verdict":"too early to say"`)
	l.add("2026-04-21", `"lost","egg":"S1-1"`)
	l.add("2026-07-01", `"hatched","egg":"S1-2"`)
	l.add("2026-07-02", `"hatched","egg":"S1-3"`)
	l.add("2026-07-16", `"hatchling","egg":"S1-3","what":"died"`) // on the 14th day
	l.clutch("2026-05-01", "S2", `"dam":"Sorrel",`, 2)
	l.add("2026-06-01", `"lost","egg":"S2-1"`) // the other waits: not judged
	l.clutch("2026-04-02", "F1", `"dam":["Fern"],`, 2)
	l.add("2026-07-10", `"hatched","egg":"F1-1"`)
	l.add("2026-07-25", `"hatchling","egg":"F1-1","what":"died"`) // on the 15th
	l.add("2026-07-10", `"hatched","egg":"F1-2"`)
	l.clutch("2026-04-03", "X1", `"dam":["Sorrel","Fern"],`, 1)
	l.clutch("2026-04-04", "X2", `"dam":["Fern","Sorrel"],`, 1)
	l.clutch("2026-04-05", "X3", ``, 1)
	l.add("2026-07-20", `"hatched","egg":"X3-1"`) // 5 days before the review: not judged
	b := fold(t, l.s.String())
	r := b.Review(book.Season{From: at(t, "2026-01-01T00:00:00Z"), To: at(t, "2027-01-01T00:00:00Z")}, at(t, "2026-07-25T00:00:00Z"), nil)

	type row struct {
		name                    string
		clutches, laid, waiting int
		fertile, hatched, alive book.Ratio
	}
	check := func(what string, got []book.Tally, want ...row) {
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
		row{"Sorrel", 2, 5, 1, book.Ratio{Count: 2, Of: 3}, book.Ratio{Count: 2, Of: 3}, book.Ratio{Count: 1, Of: 2}},
		row{"Fern", 1, 2, 0, book.Ratio{Count: 2, Of: 2}, book.Ratio{Count: 2, Of: 2}, book.Ratio{Count: 2, Of: 2}})
	check("apart", r.Apart,
		row{"Fern or Sorrel", 2, 2, 2, book.Ratio{}, book.Ratio{}, book.Ratio{}},
		row{"", 1, 1, 0, book.Ratio{Count: 1, Of: 1}, book.Ratio{Count: 1, Of: 1}, book.Ratio{}})
	check("room", []book.Tally{r.Room},
		row{"", 6, 10, 3, book.Ratio{Count: 5, Of: 6}, book.Ratio{Count: 5, Of: 6}, book.Ratio{Count: 3, Of: 4}})

	if len(r.Dams[0].Against) != 3 {
		t.Fatalf("Sorrel is compared in %+v", r.Dams[0].Against)
	}
	c := r.Dams[0].Against[1]
	if c.Of != "hatched" || c.Others != (book.Ratio{Count: 2, Of: 2}) || c.P > c.Adjusted || c.Stands() {
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
	steps := book.Survival(r.Room.Followed)
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
	var l lines
	l.clutch("2026-04-01", "S1", ``, 2)
	l.add("2026-07-01", `"hatched","egg":"S1-1"`)
	l.add("2026-07-01", `"hatched","egg":"S1-2"`)
	l.add("2026-07-31", `"hatchling","egg":"S1-1","what":"fed"`)
	season := book.Season{From: at(t, "2026-01-01T00:00:00Z"), To: at(t, "2027-01-01T00:00:00Z")}
	r := fold(t, l.s.String()).Review(season, at(t, "2026-12-31T00:00:00Z"), nil)
	want := []book.Span{{Days: 30}, {Days: 14}}
	if !slices.Equal(r.Room.Followed, want) {
		t.Errorf("followed %+v, want %+v", r.Room.Followed, want)
	}
}

// Her days are set beside those of other dams of her kind alone, and what the
// house does to all of them is not hers.
func TestReviewDays(t *testing.T) {
	var l lines
	for _, d := range []string{"Sorrel", "Fern", "Tansy"} {
		l.add("2025-03-01", `"dam","dam":"%s","profile":"crested gecko"`, d)
	}
	l.add("2025-03-01", `"dam","dam":"Moss","profile":"gargoyle gecko"`)
	paces := map[string]book.Pace{}
	clutch := func(id, dam string, days float64) {
		l.clutch("2026-04-01", id, fmt.Sprintf(`"dam":"%s",`, dam), 1)
		l.add("2026-07-01", `"hatched","egg":"%s-1"`, id)
		paces[id] = book.Pace{Days: days, Expected: 100, SD: 0.05}
	}
	for i, d := range []float64{124, 126, 125} {
		clutch(fmt.Sprintf("S%d", i), "Sorrel", d)
	}
	for i, d := range []float64{104, 106, 105, 105} {
		clutch(fmt.Sprintf("F%d", i), []string{"Fern", "Tansy"}[i%2], d)
	}
	clutch("M1", "Moss", 300)
	paces["F0"] = book.Pace{Days: 900, Expected: 100, SD: 0.05, Doubted: true} // a slip in its dates
	clutch("S9", "Sorrel", 50)
	season := book.Season{From: at(t, "2026-01-01T00:00:00Z"), To: at(t, "2027-01-01T00:00:00Z")}
	delete(paces, "S9") // the model could say nothing of it
	r := fold(t, l.s.String()).Review(season, at(t, "2026-12-31T00:00:00Z"), paces)
	s := r.Dams[0].Slower
	if s == nil || s.Dam.Clutches != 3 || s.Others.Clutches != 3 {
		t.Fatalf("Sorrel beside the others: %+v", s)
	}
	near(t, "her days", s.Dam.Log, math.Log(1.25), 1e-4)
	near(t, "the difference", s.Diff, math.Log(1.25)-math.Log(1.0533), 1e-3)
	near(t, "its interval", s.High-s.Low, 2*2.2*0.05*math.Sqrt(2.0/3), 1e-9)
	if !s.Stands() {
		t.Errorf("a fifth longer than the others does not stand out: %+v", s)
	}
	if r.Dams[3].Slower != nil || r.Dams[3].Paces.Clutches != 1 {
		t.Errorf("the only one of her kind is set beside others: %+v", r.Dams[3].Slower)
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
	season := book.Season{From: at(t, "2026-01-01T00:00:00Z"), To: at(t, "2027-01-01T00:00:00Z")}
	for _, c := range []struct {
		hatch  [4]int // of ten eggs each
		stands string
	}{
		{[4]int{9, 8, 9, 1}, "D3"},
		{[4]int{8, 7, 8, 5}, ""},
	} {
		var l lines
		for d, n := range c.hatch {
			l.add("2025-03-01", `"dam","dam":"D%d"`, d)
			l.clutch("2026-04-01", fmt.Sprintf("C%d", d), fmt.Sprintf(`"dam":"D%d",`, d), 10)
			for e := 1; e <= 10; e++ {
				kind := "lost"
				if e <= n {
					kind = "hatched"
				}
				l.add("2026-07-01", `"%s","egg":"C%d-%d"`, kind, d, e)
			}
		}
		r := fold(t, l.s.String()).Review(season, at(t, "2026-07-02T00:00:00Z"), nil)
		stands := ""
		for _, d := range r.Dams {
			for _, a := range d.Against {
				if a.Stands() && a.Of == "hatched" {
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
	r := book.Book{}.Review(book.Season{}, time.Time{}, nil)
	if len(r.Dams) != 0 || r.Room.Laid != 0 || r.Comparisons != 0 {
		t.Errorf("a review of nothing holds %+v", r)
	}
}
