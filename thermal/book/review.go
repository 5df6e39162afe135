package book

import (
	"slices"
	"strings"
	"time"
)

// judgedAfter is when a hatchling counts as alive or not: 14 days after it
// hatched.
const judgedAfter = 14 * 24 * time.Hour

// Season is the clutches laid (by their latest time) from From on and before To.
type Season struct{ From, To time.Time }

func (s Season) holds(c *Clutch) bool {
	return !c.Laid.By.Before(s.From) && c.Laid.By.Before(s.To)
}

// Review is what a season came to.
type Review struct {
	Season Season
	Dams   []Tally // a dam each, those with a clutch of their own, as entered
	Apart  []Tally // clutches of several dams, and of unknown ones: they tell nothing of one dam
	Room   Tally   // all of them
	// EggLoss and Hatchlings are the share alive by days since the latest time
	// laid, an egg leaving when it hatches, and by days since the hatch.
	EggLoss, Hatchlings []Step
}

// Tally is the eggs of one dam, or of the room.
type Tally struct {
	Name     string   // of the dam; of several joined by " or "; empty when not known, and for the room
	Dams     []string // none when not known
	Clutches int
	Laid     int // eggs
	Waiting  int // of these, waiting or pipped
	// Fertile is of the eggs whose verdict is fertile, infertile or slug, or
	// that pipped or hatched. Hatched is of the eggs of clutches where none
	// waits: in others the losses show before the hatches. Alive is of the
	// hatchlings that hatched 14 days ago or longer.
	Fertile, Hatched, Alive Ratio
	Against                 []Comparison // with the other dams together; none where there is no other
}

// Comparison sets one dam beside the other dams of the season together.
type Comparison struct {
	Of              string // "fertile", "hatched" or "alive"
	Dam, Others     Ratio
	Diff, Low, High float64 // dam less others, 95 % by itself
	P               float64 // Fisher's exact test
	Adjusted        float64 // P, with all comparisons of the review accounted for (Holm)
}

// Stands reports whether the difference is more than chance would show in one
// of so many comparisons, at 5 %.
func (c Comparison) Stands() bool { return c.Adjusted < 0.05 }

// Review counts a season as it stands at a time. A dam's own clutches are those
// that name her alone.
func (b Book) Review(s Season, now time.Time) Review {
	r := Review{Season: s}
	at := map[string]int{}
	for _, f := range b.Dams() {
		at[f.Name] = len(r.Dams)
		r.Dams = append(r.Dams, Tally{Name: f.Name, Dams: []string{f.Name}})
	}
	var losses, deaths []Span
	for i := range b.Clutches() {
		c := &b.Clutches()[i]
		if !s.holds(c) {
			continue
		}
		if len(c.Dams) == 1 {
			r.Dams[at[c.Dams[0]]].add(c, now)
		} else {
			r.apart(c.Dams).add(c, now)
		}
		r.Room.add(c, now)
		losses, deaths = spans(c, now, losses, deaths)
	}
	r.Dams = slices.DeleteFunc(r.Dams, func(t Tally) bool { return t.Clutches == 0 })
	r.EggLoss, r.Hatchlings = Survival(losses), Survival(deaths)
	r.compare()
	return r
}

// apart is the tally of clutches that name just these dams, in any order.
func (r *Review) apart(dams []string) *Tally {
	sorted := slices.Sorted(slices.Values(dams))
	i := slices.IndexFunc(r.Apart, func(t Tally) bool { return slices.Equal(t.Dams, sorted) })
	if i < 0 {
		i = len(r.Apart)
		r.Apart = append(r.Apart, Tally{Name: strings.Join(sorted, " or "), Dams: sorted})
	}
	return &r.Apart[i]
}

func (t *Tally) add(c *Clutch, now time.Time) {
	t.Clutches++
	hatched, waiting := 0, 0
	for i := range c.Eggs {
		e := &c.Eggs[i]
		t.Laid++
		switch {
		case e.Fate == Pipped || e.Fate == Hatched || e.Verdict == Fertile:
			t.Fertile = t.Fertile.plus(true)
		case e.Verdict == Infertile || e.Verdict == Slug:
			t.Fertile = t.Fertile.plus(false)
		}
		switch e.Fate {
		case Waiting, Pipped:
			waiting++
		case Hatched:
			hatched++
			if !now.Before(e.FateAt.Add(judgedAfter)) {
				died, ok := e.died()
				t.Alive = t.Alive.plus(!ok || died.Sub(e.FateAt) > judgedAfter)
			}
		}
	}
	t.Waiting += waiting
	if waiting == 0 {
		t.Hatched.Count += hatched
		t.Hatched.Of += len(c.Eggs)
	}
}

func (r Ratio) plus(yes bool) Ratio {
	r.Of++
	if yes {
		r.Count++
	}
	return r
}

// died is when the hatchling died, if it did.
func (e *Egg) died() (time.Time, bool) {
	for _, h := range e.Hatchling {
		if h.What == Died {
			return h.At, true
		}
	}
	return time.Time{}, false
}

func spans(c *Clutch, now time.Time, losses, deaths []Span) (l, d []Span) {
	days := func(from, to time.Time) float64 { return max(0, to.Sub(from).Hours()/24) }
	for i := range c.Eggs {
		e := &c.Eggs[i]
		if !e.Fate.inside() {
			losses = append(losses, Span{days(c.Laid.By, e.FateAt), e.Fate == Lost})
		} else {
			losses = append(losses, Span{days(c.Laid.By, now), false})
		}
		if e.Fate != Hatched {
			continue
		}
		if at, ok := e.died(); ok {
			deaths = append(deaths, Span{days(e.FateAt, at), true})
		} else {
			deaths = append(deaths, Span{days(e.FateAt, now), false})
		}
	}
	return losses, deaths
}

// compare sets each dam beside the others together. Comparisons in which one
// side is of nothing are left out.
func (r *Review) compare() {
	var all []*Comparison
	of := []struct {
		name string
		get  func(*Tally) Ratio
	}{
		{"fertile", func(t *Tally) Ratio { return t.Fertile }},
		{"hatched", func(t *Tally) Ratio { return t.Hatched }},
		{"alive", func(t *Tally) Ratio { return t.Alive }},
	}
	for _, m := range of {
		var sum Ratio
		for i := range r.Dams {
			x := m.get(&r.Dams[i])
			sum.Count, sum.Of = sum.Count+x.Count, sum.Of+x.Of
		}
		for i := range r.Dams {
			dam := m.get(&r.Dams[i])
			others := Ratio{sum.Count - dam.Count, sum.Of - dam.Of}
			if dam.Of == 0 || others.Of == 0 {
				continue
			}
			c := Comparison{Of: m.name, Dam: dam, Others: others, P: dam.Fisher(others)}
			c.Diff, c.Low, c.High = dam.Minus(others)
			r.Dams[i].Against = append(r.Dams[i].Against, c)
		}
	}
	var p []float64
	for i := range r.Dams {
		for j := range r.Dams[i].Against {
			all = append(all, &r.Dams[i].Against[j])
			p = append(p, r.Dams[i].Against[j].P)
		}
	}
	for i, adjusted := range Holm(p) {
		all[i].Adjusted = adjusted
	}
}
