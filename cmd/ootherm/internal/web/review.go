package web

import (
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/app/words"
	"example.com/ootherm/thermal/book"
)

// ratioView is a share with what chance leaves open, 95 %; null where it is of
// nothing.
type ratioView struct {
	Count int      `json:"count"`
	Of    int      `json:"of"`
	Low   *float64 `json:"low_95"`
	High  *float64 `json:"high_95"`
}

// String is "7 of 10 (40-89 %)".
func (r ratioView) String() string {
	if r.Low == nil {
		return "none yet"
	}
	return fmt.Sprintf("%d of %d (%.0f-%.0f\u00a0%%)", r.Count, r.Of, 100**r.Low, 100**r.High)
}

type tallyView struct {
	Name     string    `json:"name"`
	Clutches int       `json:"clutches"`
	Laid     int       `json:"laid"`
	Waiting  int       `json:"waiting"`
	Fertile  ratioView `json:"fertile"`
	Hatched  ratioView `json:"hatched"`
	Alive    ratioView `json:"alive_14_days"`
	Says     []string  `json:"says"`
}

type reviewView struct {
	From  time.Time   `json:"from"`
	To    time.Time   `json:"to"`
	Room  tallyView   `json:"room"`
	Dams  []tallyView `json:"dams"`
	Apart []tallyView `json:"apart"`
}

func ratioOf(r book.Ratio) ratioView {
	v := ratioView{Count: r.Count, Of: r.Of}
	if low, high := r.Interval(); !math.IsNaN(low) && !math.IsNaN(high) {
		v.Low, v.High = &low, &high
	}
	return v
}

func tallyOf(t book.Tally) tallyView {
	v := tallyView{Name: t.Name, Clutches: t.Clutches, Laid: t.Laid, Waiting: t.Waiting,
		Fertile: ratioOf(t.Fertile), Hatched: ratioOf(t.Hatched), Alive: ratioOf(t.Alive), Says: []string{}}
	for _, c := range t.Against {
		v.Says = append(v.Says, compared(c))
	}
	return v
}

// compared says how a dam stands beside the others, with the doubt.
func compared(c book.Comparison) string {
	what := map[string]string{"fertile": "were fertile", "hatched": "hatched", "alive": "were alive at 14 days"}[c.Of]
	s := fmt.Sprintf("%d of %d of hers %s, %d of %d of the others': the difference may be anything from %+.0f to %+.0f points in 100. ",
		c.Dam.Count, c.Dam.Of, what, c.Others.Count, c.Others.Of, 100*c.Low, 100*c.High)
	if c.Stands() {
		return s + fmt.Sprintf("This stands out: with so many comparisons, chance alone shows one like it %.1f times in 100. Whether it is she, her mate or her boxes, it does not say.", 100*c.Adjusted)
	}
	return s + "With so few eggs and so many comparisons this may well be chance."
}

// season reads the days of a review, local and inclusive; without them it is the
// year so far.
func (s *server) season(r *http.Request, at time.Time) (book.Season, error) {
	y := at.In(s.place()).Year()
	season := book.Season{From: time.Date(y, 1, 1, 0, 0, 0, 0, s.place()), To: at.Add(time.Second)}
	for name, into := range map[string]*time.Time{"from": &season.From, "to": &season.To} {
		text := r.URL.Query().Get(name)
		if text == "" {
			continue
		}
		t, err := time.ParseInLocation(time.DateOnly, text, s.place())
		if err != nil {
			return book.Season{}, fault(fmt.Sprintf("%s: %q is no day; write it like 2026-03-01", name, text))
		}
		if *into = t; name == "to" {
			*into = t.AddDate(0, 0, 1)
		}
	}
	if !season.From.Before(season.To) {
		return book.Season{}, fault("the season ends before it begins")
	}
	return season, nil
}

func reviewOf(b *book.Book, season book.Season, at time.Time) reviewView {
	r := b.Review(season, at)
	v := reviewView{From: season.From, To: season.To, Room: tallyOf(r.Room), Dams: []tallyView{}, Apart: []tallyView{}}
	for _, t := range r.Dams {
		v.Dams = append(v.Dams, tallyOf(t))
	}
	for _, t := range r.Apart {
		x := tallyOf(t)
		v.Apart = append(v.Apart, x)
	}
	return v
}

func (s *server) reviewJSON(w http.ResponseWriter, r *http.Request) {
	b := s.Book.Book()
	if b == nil {
		http.Error(w, "review: the station is still opening its files; ask again in a minute", http.StatusServiceUnavailable)
		return
	}
	season, err := s.season(r, s.Clock())
	if err != nil {
		s.done(w, "review", err)
		return
	}
	body, err := json.Marshal(reviewOf(b, season, s.Clock()))
	if err != nil {
		s.done(w, "review", err)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	_, _ = w.Write(append(body, '\n')) // a client that went away needs no answer
}

type reviewPage struct {
	frame
	reviewView
	First, Last, Eggs string
}

func (s *server) review(w http.ResponseWriter, r *http.Request) {
	n, b := s.open(w, r)
	if b == nil {
		return
	}
	season, err := s.season(r, s.Clock())
	if err != nil {
		status, text := s.refusal(err)
		s.message(w, r, status, "No review", capital(text)+".")
		return
	}
	v := reviewPage{frame: s.frame(n, "The season"), reviewView: reviewOf(b, season, s.Clock())}
	v.First = season.From.In(s.place()).Format(time.DateOnly)
	v.Last = season.To.Add(-time.Second).In(s.place()).Format(time.DateOnly)
	v.Eggs = words.Count(v.Room.Laid, "egg", "eggs") + " of " + words.Count(v.Room.Clutches, "clutch", "clutches")
	s.render(w, http.StatusOK, "review", v)
}
