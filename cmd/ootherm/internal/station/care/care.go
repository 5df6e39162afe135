// Package care owns what the book says of the work on boxes and dams: the water of each
// medium, the next weighing, and when a dam may lay next. It is made again when the book
// changed, and once an hour. It must not know probes, alarms or pages.
package care

import (
	"math"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/station/published"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/husbandry"
	"example.com/ootherm/thermal/profile"
	"example.com/ootherm/thermal/track"
)

// ScaleErrorG is what a weighing may be wrong by (our choice): a kitchen scale that shows whole
// grams.
const ScaleErrorG = 0.5

// maxAge is how old the care may be: a day's date is no younger (our choice).
const maxAge = time.Hour

// Care is what the book says of the boxes' water and of the lay boxes.
type Care struct {
	plan   plan.Plan
	groups func() []*track.Group

	book book.Book // as it was at the last call of Of
	at   time.Time // of that; zero: there was none
	work Work
}

// Work is the care of a book as it is published.
type Work struct {
	At    time.Time // when it was made
	Boxes []husbandry.BoxCare
	Media map[string]*snapshot.Medium // by box in use
	Dams  []snapshot.Dam
}

// New makes the care of the groups of a book.
func New(p plan.Plan, groups func() []*track.Group) *Care { return &Care{plan: p, groups: groups} }

// Of is the care of a book at a time.
func (c *Care) Of(b book.Book, now time.Time) Work {
	if c.book == b && !c.at.IsZero() && now.Sub(c.at).Abs() < maxAge {
		return c.work
	}
	work := husbandry.CareOf(b, now, func(box string) husbandry.Scale { return scaleOf(c.plan, c.groups(), box) })
	c.book, c.at, c.work = b, now, Work{At: now, Boxes: work.Boxes, Media: map[string]*snapshot.Medium{}, Dams: []snapshot.Dam{}}
	for _, x := range work.Boxes {
		c.work.Media[x.Box.ID] = published.Medium(x)
	}
	for _, d := range work.Dams {
		c.work.Dams = append(c.work.Dams, published.Dam(d))
	}
	return c.work
}

// Last is the care of the book of the last call of Of.
func (c *Care) Last() Work { return c.work }

// scaleOf is how heavy the eggs of a box may be, and how wrong a weighing.
func scaleOf(p plan.Plan, groups []*track.Group, box string) husbandry.Scale {
	scale := husbandry.Scale{EggG: math.Inf(1), ErrorG: ScaleErrorG}
	for _, g := range groups {
		if g.Box != box {
			continue
		}
		kind, ok := p.Profile(g.Profile)
		if !ok || kind.EggG == (profile.Band{}) {
			return husbandry.Scale{ErrorG: ScaleErrorG} // of one kind in it this is not known
		}
		scale.EggG, scale.EggMostG = min(scale.EggG, kind.EggG.Low), max(scale.EggMostG, kind.EggG.High)
	}
	if math.IsInf(scale.EggG, 1) {
		scale.EggG = 0
	}
	return scale
}
