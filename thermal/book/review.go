package book

import (
	"maps"
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
	Season      Season
	Dams        []Tally // a dam each, those with a clutch of their own, as entered
	Apart       []Tally // clutches of several dams, and of unknown ones: they tell nothing of one dam
	Room        Tally   // all of them
	Comparisons int     // of dams with the others, in all: Adjusted accounts for so many
}

// Tally is the eggs of one dam, or of the room.
type Tally struct {
	Name     string   // of the dam; of several joined by " or "; empty when not known, and for the room
	Dams     []string // none when not known
	Clutches []string // as laid
	Laid     int      // eggs
	Waiting  int      // of these, waiting or pipped
	Open     int      // of these, in clutches in which one waits: whether they hatch is not judged
	Unknown  int      // of these, without a verdict, nor pipped or hatched: whether they are fertile is not judged
	Young    int      // hatchlings that hatched less than 14 days ago: not judged
	// Fertile is of the eggs whose verdict is fertile, infertile or slug, or
	// that pipped or hatched. Hatched is of the eggs of clutches where none
	// waits: in others the losses show before the hatches. Alive is of the
	// hatchlings that hatched 14 days ago or longer; one whose death is not noted
	// is alive.
	Fertile, Hatched, Alive Ratio
	Paces                   Paces        // of clutches where none waits, dates that are not believed left out
	Followed                []Span       // hatchlings, since they hatched
	Against                 []Comparison // with the other dams together; none where there is no other
	Slower                  *Slower      // with the other dams of her kind; nil where there is none

	kinds map[string]Paces // of the clutches, by profile
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
// that name her alone. Paces are by clutch; one without is not counted in days.
func (b Book) Review(s Season, now time.Time, paces map[string]Pace) Review {
	r := Review{Season: s}
	at := map[string]int{}
	for _, f := range b.Dams() {
		at[f.Name] = len(r.Dams)
		r.Dams = append(r.Dams, Tally{Name: f.Name, Dams: []string{f.Name}})
	}
	for i := range b.Clutches() {
		c := &b.Clutches()[i]
		if !s.holds(c) {
			continue
		}
		pace, timed := paces[c.ID]
		timed = timed && !pace.Doubted
		if len(c.Dams) == 1 {
			r.Dams[at[c.Dams[0]]].add(c, now, pace, timed)
		} else {
			r.apart(c.Dams).add(c, now, pace, timed)
		}
		r.Room.add(c, now, pace, timed)
	}
	r.Dams = slices.DeleteFunc(r.Dams, func(t Tally) bool { return len(t.Clutches) == 0 })
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

func (t *Tally) add(c *Clutch, now time.Time, pace Pace, timed bool) {
	t.Clutches = append(t.Clutches, c.ID)
	hatched, waiting := 0, 0
	for i := range c.Eggs {
		e := &c.Eggs[i]
		t.Laid++
		switch {
		case e.Fate == Pipped || e.Fate == Hatched || e.Verdict == Fertile:
			t.Fertile = t.Fertile.plus(true)
		case e.Verdict == Infertile || e.Verdict == Slug:
			t.Fertile = t.Fertile.plus(false)
		default:
			t.Unknown++
		}
		switch e.Fate {
		case Waiting, Pipped:
			waiting++
		case Hatched:
			hatched++
			t.Followed = append(t.Followed, e.followed(now))
			if now.Before(e.FateAt.Add(judgedAfter)) {
				t.Young++
				break
			}
			died, ok := e.died()
			t.Alive = t.Alive.plus(!ok || died.Sub(e.FateAt) > judgedAfter)
		}
	}
	t.Waiting += waiting
	if waiting > 0 {
		t.Open += len(c.Eggs)
		return
	}
	t.Hatched.Count += hatched
	t.Hatched.Of += len(c.Eggs)
	if timed {
		t.Paces = t.Paces.plus(pace)
		if t.kinds == nil {
			t.kinds = map[string]Paces{}
		}
		t.kinds[c.Profile] = t.kinds[c.Profile].plus(pace)
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

// followed is how long a hatchling was watched: to its death; else to the day it
// was last noted, and for 14 days at least, since a death in them is taken to be
// noted, as it is in the share alive at 14 days. Beyond that nobody knows: it may
// have left the house.
func (e *Egg) followed(now time.Time) Span {
	days := func(at time.Time) float64 { return max(0, at.Sub(e.FateAt).Hours()/24) }
	seen := e.FateAt.Add(judgedAfter)
	if now.Before(seen) {
		seen = now
	}
	for _, h := range e.Hatchling {
		if h.What == Died {
			return Span{Days: days(h.At), Ended: true}
		}
		seen = later(seen, h.At)
	}
	return Span{Days: days(seen)}
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
	r.besides()
	var p []float64
	for i := range r.Dams {
		for j := range r.Dams[i].Against {
			all = append(all, &r.Dams[i].Against[j])
			p = append(p, r.Dams[i].Against[j].P)
		}
	}
	for i := range r.Dams {
		if x := r.Dams[i].Slower; x != nil {
			p = append(p, x.P)
		}
	}
	adjusted := Holm(p)
	r.Comparisons = len(p)
	for i, c := range all {
		c.Adjusted = adjusted[i]
	}
	adjusted = adjusted[len(all):]
	for i := range r.Dams {
		if x := r.Dams[i].Slower; x != nil {
			x.Adjusted, adjusted = adjusted[0], adjusted[1:]
		}
	}
}

// besides sets the days of each dam's clutches beside those of other dams of the
// same kind: what another kind takes says nothing of her.
func (r *Review) besides() {
	for i := range r.Dams {
		var own, others Paces
		for _, kind := range slices.Sorted(maps.Keys(r.Dams[i].kinds)) { // sums hang on their order
			p := r.Dams[i].kinds[kind]
			var rest Paces
			for j := range r.Dams {
				if j != i {
					rest = rest.together(r.Dams[j].kinds[kind])
				}
			}
			if rest.Clutches > 0 {
				own, others = own.together(p), others.together(rest)
			}
		}
		if own.Clutches > 0 {
			s := slower(own, others)
			r.Dams[i].Slower = &s
		}
	}
}
