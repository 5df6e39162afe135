package book_test

import (
	"fmt"
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
	r := b.Review(book.Season{From: at(t, "2026-01-01T00:00:00Z"), To: at(t, "2027-01-01T00:00:00Z")}, at(t, "2026-07-25T00:00:00Z"))

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
			if h := (row{g.Name, g.Clutches, g.Laid, g.Waiting, g.Fertile, g.Hatched, g.Alive}); h != want[i] {
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
	if n := len(r.EggLoss); n != 2 || r.EggLoss[0].AtRisk != 10 || r.EggLoss[0].Days != 20 {
		t.Errorf("eggs alive by day: %+v", r.EggLoss)
	}
	if n := len(r.Hatchlings); n != 2 || r.Hatchlings[0].Days != 14 || r.Hatchlings[0].AtRisk != 4 {
		t.Errorf("hatchlings alive by day: %+v", r.Hatchlings)
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
		r := fold(t, l.s.String()).Review(season, at(t, "2026-07-02T00:00:00Z"))
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
	r := book.Book{}.Review(book.Season{}, time.Time{})
	if len(r.Dams) != 0 || r.Room.Laid != 0 || len(r.EggLoss) != 0 {
		t.Errorf("a review of nothing holds %+v", r)
	}
}
