package book

import (
	"fmt"
	"math"
	"time"
)

// WaterFor is how much water makes a medium of a wanted ratio, water to dry
// medium by mass: grams, which are also millilitres.
func WaterFor(dryG, ratio float64) float64 { return dryG * ratio }

// Scale is what a weighing may be wrong by: the mass of one egg, from Egg to
// EggMost, where eggs came or went (both 0: not known), and the scale's own
// error.
type Scale struct{ EggG, EggMostG, ErrorG float64 }

// Water is what a box's weighings say of its water, in grams.
type Water struct {
	Add       float64 // so that it weighs what it did when set up; 0 when it needs none
	Low, High float64 // the same, as far as egg masses and the scale let one say
	Ratio     float64 // water to dry medium now, NaN when the set-up does not tell
	PerDay    float64 // lost a day, NaN until two weighings a day apart tell
	Next      time.Time
	Warning   string // empty when there is none
}

const (
	// settled is how long after the set-up an egg placed still counts as weighed
	// with it. Our assumption.
	settled = 24 * time.Hour
	// Boxes are weighed weekly (common practice), sooner when one dries so fast
	// that by then it will have lost a tenth of its water (our choice), at most
	// daily.
	weekly   = 7 * 24 * time.Hour
	dryShare = 0.1
)

// Water says how much to add to a box by its last weighing. The mass wanted is
// that of the set-up, with the eggs placed within a day of it, less eggs taken
// out and plus eggs put in since. Water that eggs take up from the medium stays
// in the box and is not a loss. A box that was not weighed, when set up or
// since, is an error, and so is one whose eggs came or went when their mass is
// not known; both say what to do with ErrorMessage.
func (b Book) Water(box string, s Scale) (Water, error) {
	x, ok := b.pages().st.boxes.get(box)
	switch {
	case !ok:
		return Water{}, unweighed{box, "is not in the book: check the name"}
	case x.setup == nil || x.setup.TotalG == nil:
		return Water{}, unweighed{box, "its mass in all when set up is not known: note it when it is set up again"}
	}
	all := x.weighings.all()
	last := -1
	for i, it := range all {
		if it.Kind == KindWeighed {
			last = i
		}
	}
	if last < 0 {
		return Water{}, unweighed{box, "was not weighed since it was set up: weigh it"}
	}
	eggs := x.eggsSince(all[last].At)
	if eggs != 0 && s.EggMostG == 0 {
		return Water{}, unweighed{box, "eggs were put in or taken out since it was set up, and how heavy one is is not known: give their kind egg_g in the configuration"}
	}
	added := 0.0 // since the last weighing
	for _, it := range all[last+1:] {
		added += *it.WaterG
	}
	lost := *x.setup.TotalG - *all[last].TotalG - added
	low, high := lost+eggs*s.EggG, lost+eggs*s.EggMostG
	if low > high {
		low, high = high, low
	}
	low, high = low-2*s.ErrorG, high+2*s.ErrorG // two weighings, both at their worst
	w := Water{Add: (low + high) / 2, Low: low, High: high, Ratio: math.NaN(), PerDay: x.perDay(all[:last+1], s)}
	wet := math.Inf(1)
	if x.setup.WaterG != nil {
		wet = *x.setup.WaterG
		if x.setup.DryG != nil {
			w.Ratio = (wet - w.Add) / *x.setup.DryG
		}
	}
	switch {
	case w.High < 0:
		w.Warning = fmt.Sprintf("it is %.1f g heavier than when set up: add nothing, and see whether water stands in it", -w.Add)
	case w.Add > wet:
		w.Warning = fmt.Sprintf("it lost more than the %.1f g of water it began with: weigh it again before adding any", wet)
		w.Ratio = math.NaN()
	}
	w.Add, w.Low, w.High = min(max(0, w.Add), wet), min(max(0, w.Low), wet), min(max(0, w.High), wet)
	w.Next = all[last].At.Add(weekly)
	if days := dryShare * wet / w.PerDay; w.PerDay > 0 && days < 7 {
		w.Next = all[last].At.Add(time.Duration(max(1, days) * float64(24*time.Hour)))
	}
	return w, nil
}

// WeighNext is when to weigh a box next: as Water says, else a week after its
// last weighing or its set-up (common practice). It is false for a box whose mass
// nobody noted, and for one that is not in the book.
func (b Book) WeighNext(box string, s Scale) (time.Time, bool) {
	if w, err := b.Water(box, s); err == nil {
		return w.Next, true
	}
	x, ok := b.Box(box)
	if n := len(x.Weighings); n > 0 {
		return x.Weighings[n-1].At.Add(weekly), true
	}
	if !ok || x.TotalG == nil {
		return time.Time{}, false
	}
	return x.SetUp.Add(weekly), true
}

// unweighed is why nothing can be said of a box's water.
type unweighed struct{ box, why string }

func (u unweighed) Error() string        { return "book: box " + u.box + ": " + u.why }
func (u unweighed) ErrorMessage() string { return u.why }

// eggsSince is how many more eggs are in the box at a time than when it was
// weighed at its set-up.
func (b *boxState) eggsSince(at time.Time) float64 {
	n := 0
	for _, p := range b.traffic.all() {
		if p.at.After(b.setup.At.Add(settled)) && !p.at.After(at) {
			n += p.by
		}
	}
	return float64(n)
}

// perDay is what the box lost a day from its set-up to the last weighing.
func (b *boxState) perDay(all []*item, s Scale) float64 {
	last := all[len(all)-1]
	days := last.At.Sub(b.setup.At).Hours() / 24
	if days < 1 {
		return math.NaN()
	}
	lost := *b.setup.TotalG - *last.TotalG + b.eggsSince(last.At)*(s.EggG+s.EggMostG)/2
	for _, it := range all {
		if it.Kind == KindWatered {
			lost += *it.WaterG
		}
	}
	return lost / days
}
