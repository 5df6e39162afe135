package book

import (
	"fmt"
	"slices"
	"strconv"
)

// Figures of what is asked for once more, all our choice. A slip of the decimal
// point is ten times, grams for milligrams a thousand; nothing true is refused.
const (
	far       = 5   // times: a hatchling beside its own mass, or its kind's
	farBox    = 2   // times: a box of which only an earlier mass is known
	fewOthers = 3   // of its kind, to go by
	heaviest  = 300 // g: a hatchling of a kind of which nothing is known (from memory: large pythons hatch at half of it)
)

// Doubts are masses that are hardly meant, a question each: of a hatchling beside
// its own earlier ones, else its kind's, else its kind's eggs (eggG gives the
// least and the most that one weighs, grams; 0 and 0 where that is not known); of
// a box beside what it weighed and held. What is in the book already is not asked
// for again.
func (b Book) Doubts(eggG func(profile string) (least, most float64), entries ...Entry) []string {
	var all []string
	ask := func(format string, a ...any) { all = append(all, fmt.Sprintf(format, a...)) }
	p := NewParser()
	for _, e := range entries {
		if _, there := b.pages().keys.get(e.Key); there || len(p.check(&e)) > 0 {
			continue // noted, or refused, without a question
		}
		switch {
		case e.MassG != nil:
			b.doubtYoung(e, eggG, ask)
		case e.Kind == KindWeighed:
			b.doubtBox(e, eggG, ask)
		case e.Kind == KindWatered:
			if x, ok := b.usedAt(e); ok && x.setup != nil && x.setup.WaterG != nil && *e.WaterG > *x.setup.WaterG {
				ask("%s g of water for box %s? It was set up with %s g.", grams(*e.WaterG), e.Box, grams(*x.setup.WaterG))
			}
		case e.Kind == KindBox && e.TotalG != nil:
			if inside := orNone(e.DryG) + orNone(e.WaterG); *e.TotalG < inside {
				ask("%s g in all for box %s? Its dry medium and its water weigh %s g.", grams(*e.TotalG), e.Box, grams(inside))
			}
		}
	}
	return all
}

func (b Book) doubtYoung(e Entry, eggG func(string) (float64, float64), ask func(string, ...any)) {
	id, _, ok := splitEgg(e.Egg)
	c, there := b.Clutch(id)
	if !ok || !there {
		return
	}
	mass := *e.MassG
	var own []float64
	var others []float64 // of its kind, each as it was weighed first
	for _, c2 := range b.Clutches() {
		for _, x := range c2.Eggs {
			masses := x.masses()
			switch {
			case len(masses) == 0:
			case x.ID == e.Egg:
				own = masses
			case c.Profile != "" && c2.Profile == c.Profile:
				others = append(others, masses[0])
			}
		}
	}
	least, most := eggG(c.Profile)
	if e.Kind == KindHatchling {
		most *= far // it grew
	}
	switch {
	case len(own) > 0:
		if before := own[len(own)-1]; apart(mass, before) >= far {
			ask("%s g for the hatchling of %s? It weighed %s g before.", grams(mass), e.Egg, grams(before))
		}
	case len(others) >= fewOthers:
		slices.Sort(others)
		if usual := others[len(others)/2]; apart(mass, usual) >= far {
			ask("%s g for the hatchling of %s? Of the %d others of its kind that were weighed, the middle one had %s g at first.", grams(mass), e.Egg, len(others), grams(usual))
		}
	case most > 0:
		if mass > most || mass < least/far {
			least, most := eggG(c.Profile)
			ask("%s g for the hatchling of %s? An egg of a %s weighs %s to %s g.", grams(mass), e.Egg, c.Profile, grams(least), grams(most))
		}
	case mass > heaviest:
		ask("%s g for the hatchling of %s? Hardly any reptile weighs over %d g when it hatches.", grams(mass), e.Egg, heaviest)
	}
}

// masses are those of a hatchling, in order.
func (e Egg) masses() []float64 {
	var all []float64
	if e.HatchG != nil {
		all = append(all, *e.HatchG)
	}
	for _, h := range e.Hatchling {
		if h.MassG != nil {
			all = append(all, *h.MassG)
		}
	}
	return all
}

func (b Book) doubtBox(e Entry, eggG func(string) (float64, float64), ask func(string, ...any)) {
	x, ok := b.usedAt(e)
	if !ok {
		return
	}
	mass := *e.TotalG
	var dry, water, total *float64
	if x.setup != nil {
		dry, water, total = x.setup.DryG, x.setup.WaterG, x.setup.TotalG
	}
	before := total
	for _, it := range x.weighings.all() {
		if it.Kind == KindWeighed && !it.At.After(e.At) {
			before = it.TotalG
		}
	}
	switch {
	case water != nil && total != nil:
		come, gone, known := b.eggsOf(x, eggG)
		if empty := *total - *water; known && mass < empty-gone {
			ask("%s g for box %s? When it was set up it weighed %s g, %s g of it water: without any left it would weigh %s g.", grams(mass), x.id, grams(*total), grams(*water), grams(empty))
		} else if known && mass > *total+*water+come {
			ask("%s g for box %s? When it was set up it weighed %s g, %s g of it water.", grams(mass), x.id, grams(*total), grams(*water))
		} else if !known && apart(mass, *before) >= farBox {
			ask("%s g for box %s? It weighed %s g before.", grams(mass), x.id, grams(*before))
		}
	case dry != nil && mass < *dry:
		ask("%s g for box %s? Its dry medium alone weighed %s g.", grams(mass), x.id, grams(*dry))
	case before != nil && apart(mass, *before) >= farBox:
		ask("%s g for box %s? It weighed %s g before.", grams(mass), x.id, grams(*before))
	}
}

// usedAt is the box of an entry, in the use that holds at the entry's time.
func (b Book) usedAt(e Entry) (*boxState, bool) {
	x, ok := b.pages().st.boxes.get(e.Box)
	return x, ok && (x.setup == nil || !e.At.Before(x.setup.At))
}

// eggsOf is what the eggs that came into a box since its set-up may weigh at most,
// grams, and those that left it; not known where one is of a kind of which it is
// not known.
func (b Book) eggsOf(x *boxState, eggG func(string) (float64, float64)) (come, gone float64, known bool) {
	n, away := 0, 0
	for _, p := range x.traffic.all() {
		switch {
		case p.at.Before(x.setup.At):
		case p.by > 0:
			n++
		default:
			away++
		}
	}
	if n == 0 && away == 0 {
		return 0, 0, true
	}
	most := 0.0
	for _, c := range b.Clutches() {
		for _, egg := range c.Eggs {
			if !slices.ContainsFunc(egg.Stays, func(s Stay) bool { return s.Box == x.id && (s.To.IsZero() || s.To.After(x.setup.At)) }) {
				continue
			}
			_, m := eggG(c.Profile)
			if m == 0 {
				return 0, 0, false
			}
			most = max(most, m)
		}
	}
	return float64(n) * most, float64(away) * most, true
}

// apart is how many times one mass is the other, the larger by the smaller.
func apart(a, b float64) float64 { return max(a, b) / min(a, b) }

func orNone(g *float64) float64 {
	if g == nil {
		return 0
	}
	return *g
}

// grams is a mass as a person writes it.
func grams(mass float64) string { return strconv.FormatFloat(mass, 'f', -1, 64) }
