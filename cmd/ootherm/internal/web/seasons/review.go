// Package seasons shows a season's review: each dam beside the others, and how hatchlings fared.
// It must not compute a statistic.
package seasons

import (
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/review"
	"example.com/ootherm/thermal/book/stats"
)

// Pages shows the season, and each dam's part of it.
type Pages struct{ *page.Site }

// ratioView is a share with what chance leaves open, 95 %; null where it is of
// nothing.
type ratioView struct {
	Count int      `json:"count"`
	Of    int      `json:"of"`
	Low   *float64 `json:"low_95"`
	High  *float64 `json:"high_95"`
}

// String is "7 of 10 (40-89 %)"; the interval stays on one line.
func (r ratioView) String() string {
	if r.Low == nil {
		return "none yet"
	}
	return fmt.Sprintf("%d of %d (%.0f\u2011%.0f\u00a0%%)", r.Count, r.Of, 100**r.Low, 100**r.High)
}

// daysView is how long clutches took beside what the heat they felt says, a
// ratio: 1.04 is 4 % longer. It is null where none is known.
type daysView struct {
	Clutches int      `json:"clutches"`
	Ratio    *float64 `json:"of_expected"`
}

func daysOf(p review.MeanDuration) daysView {
	v := daysView{Clutches: p.Clutches}
	if p.Clutches > 0 {
		v.Ratio = ptrTo(math.Exp(p.LogRatio))
	}
	return v
}

// String is "4 % longer (3 clutches)".
func (d daysView) String() string {
	if d.Ratio == nil {
		return "none yet"
	}
	return longer(*d.Ratio) + " (" + words.Count(d.Clutches, "clutch", "clutches") + ")"
}

// longer is a ratio of days in words.
func longer(ratio float64) string {
	switch p := 100 * (ratio - 1); {
	case p >= 0.5:
		return fmt.Sprintf("%.0f\u00a0%% longer", p)
	case p <= -0.5:
		return fmt.Sprintf("%.0f\u00a0%% shorter", -p)
	}
	return "just as long"
}

// besideView sets a dam beside the others; the difference is in shares, or, of
// days, a ratio less one.
type besideView struct {
	Of         string  `json:"of"` // fertile, hatched, alive or days
	Difference float64 `json:"difference"`
	Low        float64 `json:"low_95"`
	High       float64 `json:"high_95"`
	P          float64 `json:"p"`
	Adjusted   float64 `json:"p_adjusted"` // for all comparisons of the review (Holm)
	StandsOut  bool    `json:"stands_out"`
	Says       string  `json:"says"`
	counted    string  // what is compared, without the doubt
}

type tallyView struct {
	Name string `json:"name"`
	countView
	Fertile     ratioView    `json:"fertile"`
	Hatched     ratioView    `json:"hatched"`
	Alive       ratioView    `json:"alive_14_days"`
	Days        daysView     `json:"days"`
	Comparisons []besideView `json:"comparisons"`
	Survival    []stepView   `json:"survival"`
	Says        []string     `json:"says"`

	Href    string    `json:"-"`
	Unknown []string  `json:"-"` // what is not known yet, in words
	Curve   *survival `json:"-"`
	ids     []string
}

// countView counts clutches and their eggs.
type countView struct {
	Clutches   int `json:"clutches"`
	Laid       int `json:"laid"`
	Waiting    int `json:"waiting"`
	NotHatched int `json:"in_clutches_that_wait"`
	NotCandled int `json:"without_a_verdict"`
	Young      int `json:"hatchlings_under_14_days"`
}

type View struct {
	From        time.Time   `json:"from"`
	To          time.Time   `json:"to"`
	Comparisons int         `json:"comparisons"`
	Room        tallyView   `json:"room"`
	Dams        []tallyView `json:"dams"`
	Apart       []tallyView `json:"apart"`
}

func ratioOf(r stats.Ratio) ratioView {
	v := ratioView{Count: r.Count, Of: r.Of}
	if low, high := r.Interval(); !math.IsNaN(low) && !math.IsNaN(high) {
		v.Low, v.High = &low, &high
	}
	return v
}

func ptrTo[T any](v T) *T { return &v }

func tallyOf(t review.Tally) tallyView {
	v := tallyView{Name: t.Name,
		countView: countView{Clutches: len(t.Clutches), Laid: t.Laid, Waiting: t.Waiting, NotHatched: t.Open, NotCandled: t.Unknown, Young: t.Young},
		Fertile:   ratioOf(t.Fertile), Hatched: ratioOf(t.Hatched), Alive: ratioOf(t.Alive), Days: daysOf(t.Durations),
		Comparisons: []besideView{}, Survival: stepsOf(t.Followed), Says: []string{}, ids: t.Clutches}
	for _, c := range t.Comparisons {
		v.Comparisons = append(v.Comparisons, besideView{c.Of, c.Diff, c.Low, c.High, c.P, c.Adjusted, c.Significant(), compared(c), counted(c)})
	}
	if s := t.Duration; s != nil {
		v.Comparisons = append(v.Comparisons, besideView{"days", math.Expm1(s.Diff), math.Expm1(s.Low), math.Expm1(s.High), s.P, s.Adjusted, s.Significant(), slower(*s), paced(*s)})
	}
	for _, c := range v.Comparisons {
		v.Says = append(v.Says, c.Says)
	}
	v.Unknown = words.NotKnownYet(t.Open, t.Unknown, t.Young)
	return v
}

// compared says how a dam stands beside the others, with the doubt.
func compared(c review.Comparison) string {
	return counted(c) + ": " + apart(100*c.Low, 100*c.High) + ". " + doubt(c.Significant(), c.Adjusted)
}

// counted is the two shares of a comparison.
func counted(c review.Comparison) string {
	what, things := map[string]string{"fertile": "were fertile", "hatched": "hatched", "alive": "were alive at 14 days"}[c.Of], "eggs"
	if c.Of == "alive" {
		things = "hatchlings"
	}
	return fmt.Sprintf("%d of her %d %s %s; of the others' %s, %d of %d", c.Dam.Count, c.Dam.Of, things, what, things, c.Others.Count, c.Others.Of)
}

// apart is the interval of a difference in points of 100.
func apart(low, high float64) string {
	switch {
	case low >= 0:
		return fmt.Sprintf("%.0f to %.0f points in 100 more", low, high)
	case high <= 0:
		return fmt.Sprintf("%.0f to %.0f points in 100 fewer", -high, -low)
	}
	return fmt.Sprintf("between %.0f points in 100 fewer and %.0f more", -low, high)
}

// slower says how long her clutches took beside those of the others, with the doubt.
func slower(s review.DurationComparison) string {
	return fmt.Sprintf("%s: between %s and %s\u00a0%% apart. ", paced(s), signed(100*math.Expm1(s.Low)), signed(100*math.Expm1(s.High))) + doubt(s.Significant(), s.Adjusted)
}

// paced is the two durations of a comparison.
func paced(s review.DurationComparison) string {
	hers, their := "Her clutch", "its"
	if s.Dam.Clutches > 1 {
		hers, their = fmt.Sprintf("Her %d clutches", s.Dam.Clutches), "their"
	}
	others := fmt.Sprintf("the %d of others of her kind", s.Others.Clutches)
	if s.Others.Clutches == 1 {
		others = "the one of another of her kind"
	}
	return fmt.Sprintf("%s took %s %s %s heat predicts, %s %s", hers, longer(math.Exp(s.Dam.LogRatio)), than(s.Dam.LogRatio), their, others, longer(math.Exp(s.Others.LogRatio)))
}

func than(log float64) string {
	if longer(math.Exp(log)) == "just as long" {
		return "as"
	}
	return "than"
}

// signed is a whole number with its sign, the minus no hyphen: a range may follow.
func signed(v float64) string {
	if math.Round(v) == 0 {
		return "0"
	}
	return strings.Replace(fmt.Sprintf("%+.0f", v), "-", "\u2212", 1)
}

func doubt(stands bool, adjusted float64) string {
	if !stands {
		return "With so few eggs this may be chance."
	}
	return "This is not chance (" + rarity(adjusted) + "). It may be her, her mate or her boxes."
}

// rarity is how often chance alone shows something.
func rarity(p float64) string {
	if p < 0.001 {
		return "under 1 in 1000"
	}
	digit := math.Pow10(int(math.Log10(1/p)) - 1)
	return fmt.Sprintf("about 1 in %.0f", max(1, math.Round(1/p/digit)*digit)) // to two digits
}

// season reads the days of a review, local and inclusive; without them it is the
// year so far.
func (s Pages) season(r *http.Request, at time.Time) (review.Season, error) {
	y := at.In(s.Place()).Year()
	season := review.Season{From: time.Date(y, 1, 1, 0, 0, 0, 0, s.Place()), To: at.Add(time.Second)}
	for name, into := range map[string]*time.Time{"from": &season.From, "to": &season.To} {
		text := r.URL.Query().Get(name)
		if text == "" {
			continue
		}
		t, err := time.ParseInLocation(time.DateOnly, text, s.Place())
		if err != nil {
			return review.Season{}, usererr.New(fmt.Sprintf("%s: %q is no day; write it like 2026-03-01", name, text))
		}
		if *into = t; name == "to" {
			*into = t.AddDate(0, 0, 1)
		}
	}
	if !season.From.Before(season.To) {
		return review.Season{}, usererr.New("the season ends before it begins")
	}
	return season, nil
}

func (s Pages) reviewOf(b *book.Book, season review.Season) View {
	r := review.Of(*b, season, s.Clock(), s.paces())
	v := View{From: season.From, To: season.To, Comparisons: r.Comparisons, Room: tallyOf(r.Room), Dams: []tallyView{}, Apart: []tallyView{}}
	v.Room.Curve = SurvivalOf("the room", r.Room.Followed)
	for _, t := range r.Dams {
		x := tallyOf(t)
		x.Curve = SurvivalOf(t.Name, t.Followed)
		v.Dams = append(v.Dams, x)
	}
	for _, t := range r.Shared {
		v.Apart = append(v.Apart, tallyOf(t))
	}
	return v
}

func (s Pages) paces() map[string]review.Duration {
	if s.Paces == nil {
		return nil
	}
	return s.Paces()
}

// only leaves of a review one dam, beside the room.
func (v *View) only(dam string) error {
	i := slices.IndexFunc(v.Dams, func(t tallyView) bool { return t.Name == dam })
	if i < 0 {
		return usererr.New(fmt.Sprintf("no clutch of %q alone was laid between these days; the season's page lists those who laid", dam))
	}
	v.Dams, v.Apart = v.Dams[i:i+1], []tallyView{}
	return nil
}

func (s Pages) ServeJSON(w http.ResponseWriter, r *http.Request) {
	b := s.Book.Book()
	if b == nil {
		http.Error(w, "the station is still opening its files; ask again in a minute", http.StatusServiceUnavailable)
		return
	}
	season, err := s.season(r, s.Clock())
	if err != nil {
		s.Nonsense(w, err)
		return
	}
	v := s.reviewOf(b, season)
	if dam := r.URL.Query().Get("dam"); dam != "" {
		if f, ok := b.Dam(dam); ok {
			dam = f.Name // the name that was asked for can be an amended one
		}
		if err := v.only(dam); err != nil {
			s.Done(w, err)
			return
		}
	}
	body, err := json.Marshal(v)
	if err != nil {
		s.Done(w, err)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	_, _ = w.Write(append(body, '\n')) // a client that went away needs no answer
}
