// Package plausibility owns the questions about entries that are hardly meant: a mass with
// a slip of the decimal point or of the unit, a box that stands in the book already. It compares entries that are not in the book
// yet with the book and with the usual mass of an egg. It refuses nothing, and must
// not know how a question is asked.
package plausibility

import (
	"fmt"
	"slices"
	"strconv"

	"example.com/ootherm/thermal/book"
)

// The limits are our choice. A slip of the decimal point is a factor of ten, grams
// for milligrams a thousand.
const (
	maxHatchlingFactor = 5   // a hatchling against its own earlier mass, or its kind's
	maxBoxFactor       = 2   // a box of which only an earlier mass is known
	minOthers          = 3   // hatchlings of its kind to compare with
	maxHatchlingG      = 300 // of a kind of which nothing is known (from memory: large pythons hatch at half of it)
)

// EggMass is the least and the most that an egg of a profile weighs, in grams; 0
// and 0 where that is not known.
type EggMass func(profile string) (least, most float64)

// Questions returns a question for each mass that is hardly meant: of a hatchling,
// against its own earlier ones, or its kind's, or its kind's eggs; of a box,
// against what it weighed and contained. It asks about a box that is in use. It asks nothing about an entry that is in
// the book already or that the book would refuse.
func Questions(b book.Book, eggs EggMass, entries ...book.Entry) []string {
	q := questions{book: b, eggs: eggs}
	for _, e := range entries {
		if _, _, there := b.Entry(e.Key); there || e.Check() != nil {
			continue
		}
		switch {
		case e.MassG != nil:
			q.hatchling(e)
		case e.Kind == book.KindWeighed:
			q.weighing(e)
		case e.Kind == book.KindWatered:
			if x, ok := q.boxAt(e); ok && x.WaterG != nil && *e.WaterG > *x.WaterG {
				q.ask("%s g of water for box %s? It was set up with %s g.", grams(*e.WaterG), e.Box, grams(*x.WaterG))
			}
		case e.Kind == book.KindBox:
			q.box(e)
		}
	}
	return q.all
}

type questions struct {
	book book.Book
	eggs EggMass
	all  []string
}

func (q *questions) ask(format string, args ...any) {
	q.all = append(q.all, fmt.Sprintf(format, args...))
}

// box asks about a box that is set up: one that stands in the book already, and a mass in
// all that is less than what is in it.
func (q *questions) box(e book.Entry) {
	if x, ok := q.book.Box(e.Box); ok && x.InUse && !x.SetUp.IsZero() && len(x.Eggs) == 0 { // the book refuses one that holds eggs
		q.ask("Box %s is in the book already. Is it set up once more, with new medium?", e.Box)
	}
	if e.TotalG == nil {
		return
	}
	if inside := orZero(e.DryG) + orZero(e.WaterG); *e.TotalG < inside {
		q.ask("%s g in all for box %s? Its dry medium and its water weigh %s g.", grams(*e.TotalG), e.Box, grams(inside))
	}
}

func (q *questions) hatchling(e book.Entry) {
	egg, ok := q.book.Egg(e.Egg)
	if !ok {
		return
	}
	c, _ := q.book.Clutch(egg.Clutch)
	mass := *e.MassG
	own, others := hatchlingMasses(egg), q.firstMasses(c.Profile, e.Egg)
	least, most := q.eggs(c.Profile)
	grown := most
	if e.Kind == book.KindHatchling {
		grown *= maxHatchlingFactor
	}
	switch {
	case len(own) > 0:
		if before := own[len(own)-1]; factor(mass, before) >= maxHatchlingFactor {
			q.ask("%s g for the hatchling of %s? It weighed %s g before.", grams(mass), e.Egg, grams(before))
		}
	case len(others) >= minOthers:
		slices.Sort(others)
		if usual := others[len(others)/2]; factor(mass, usual) >= maxHatchlingFactor {
			q.ask("%s g for the hatchling of %s? Of the %d others of its kind that were weighed, the middle one had %s g at first.", grams(mass), e.Egg, len(others), grams(usual))
		}
	case most > 0:
		if mass > grown || mass < least/maxHatchlingFactor {
			q.ask("%s g for the hatchling of %s? An egg of a %s weighs %s to %s g.", grams(mass), e.Egg, c.Profile, grams(least), grams(most))
		}
	case mass > maxHatchlingG:
		q.ask("%s g for the hatchling of %s? Hardly any reptile weighs over %d g when it hatches.", grams(mass), e.Egg, maxHatchlingG)
	}
}

// firstMasses are those of all other hatchlings of a profile, each as it was
// weighed first. There are none where the profile is not known.
func (q *questions) firstMasses(profile, except string) []float64 {
	var all []float64
	for _, c := range q.book.Clutches() {
		if profile == "" || c.Profile != profile {
			continue
		}
		for _, egg := range c.Eggs {
			if masses := hatchlingMasses(egg); len(masses) > 0 && egg.ID != except {
				all = append(all, masses[0])
			}
		}
	}
	return all
}

// hatchlingMasses are those of one hatchling, in order.
func hatchlingMasses(e book.Egg) []float64 {
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

func (q *questions) weighing(e book.Entry) {
	x, ok := q.boxAt(e)
	if !ok {
		return
	}
	mass := *e.TotalG
	before := x.TotalG
	for _, w := range x.Weighings {
		if !w.At.After(e.At) {
			before = &w.TotalG
		}
	}
	if x.WaterG != nil && x.TotalG != nil {
		if in, out, known := q.transferredG(x); known {
			q.weighingWithin(x, mass, in, out)
			return
		}
	} else if x.DryG != nil && mass < *x.DryG {
		q.ask("%s g for box %s? Its dry medium alone weighed %s g.", grams(mass), x.ID, grams(*x.DryG))
		return
	}
	if before != nil && factor(mass, *before) >= maxBoxFactor {
		q.ask("%s g for box %s? It weighed %s g before.", grams(mass), x.ID, grams(*before))
	}
}

// weighingWithin asks about a mass that a box cannot have, by its set-up and the
// eggs that came and went since.
func (q *questions) weighingWithin(x book.Box, mass, in, out float64) {
	total, water := *x.TotalG, *x.WaterG
	if empty := total - water; mass < empty-out {
		q.ask("%s g for box %s? When it was set up it weighed %s g, %s g of it water: without any left it would weigh %s g.", grams(mass), x.ID, grams(total), grams(water), grams(empty))
	} else if mass > total+water+in {
		q.ask("%s g for box %s? When it was set up it weighed %s g, %s g of it water.", grams(mass), x.ID, grams(total), grams(water))
	}
}

// boxAt is the box of an entry, in the use that it has at the entry's time.
func (q *questions) boxAt(e book.Entry) (book.Box, bool) {
	x, ok := q.book.Box(e.Box)
	return x, ok && !e.At.Before(x.SetUp)
}

// transferredG is the most that the eggs which came into a box since its set-up may
// weigh, in grams, and those that left it. It is false where the egg mass of one
// kind among them is not known.
func (q *questions) transferredG(x book.Box) (in, out float64, known bool) {
	for _, t := range x.Transfers {
		switch {
		case t.At.Before(x.SetUp):
		case t.Eggs > 0:
			in++
		default:
			out++
		}
	}
	if in == 0 && out == 0 {
		return 0, 0, true
	}
	heaviest := 0.0
	for _, c := range q.book.Clutches() {
		if !slices.ContainsFunc(c.Eggs, func(e book.Egg) bool { return wasIn(e, x) }) {
			continue
		}
		_, most := q.eggs(c.Profile)
		if most == 0 {
			return 0, 0, false
		}
		heaviest = max(heaviest, most)
	}
	return in * heaviest, out * heaviest, true
}

// wasIn reports whether an egg was in a box in the box's present use.
func wasIn(e book.Egg, x book.Box) bool {
	return slices.ContainsFunc(e.Stays, func(s book.Stay) bool { return s.Box == x.ID && (s.To.IsZero() || s.To.After(x.SetUp)) })
}

// factor is how many times the smaller mass is the larger.
func factor(a, b float64) float64 { return max(a, b) / min(a, b) }

func orZero(g *float64) float64 {
	if g == nil {
		return 0
	}
	return *g
}

// grams is a mass as a person writes it.
func grams(mass float64) string { return strconv.FormatFloat(mass, 'f', -1, 64) }
