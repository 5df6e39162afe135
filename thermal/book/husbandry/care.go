package husbandry

import (
	"math"
	"time"

	"example.com/ootherm/thermal/book"
)

// Care is the work that a book makes due at a time: of the boxes in use, and of the dams that
// do not rest, both in the order of the book.
type Care struct {
	Boxes []BoxCare
	Dams  []DamCare
}

// BoxCare is the water of one box.
type BoxCare struct {
	Box          book.Box
	Water        Water     // of a box whose water is known
	Unknown      error     // why its water is not known; nil where it is
	NextWeighing time.Time // zero for a box without eggs, and where it is not known
}

// LostShare is how much of the water that a box began with is gone at least, as a ratio; false
// where that is not known.
func (c BoxCare) LostShare() (float64, bool) {
	if c.Unknown != nil || c.Box.WaterG == nil || *c.Box.WaterG <= 0 {
		return 0, false
	}
	return c.Water.Low / *c.Box.WaterG, true
}

// ForetoldShare is how much of that water is gone at least if so much more was lost since the
// last weighing, in grams; false where LostShare is not known.
func (c BoxCare) ForetoldShare(sinceG float64) (float64, bool) {
	if _, ok := c.LostShare(); !ok {
		return 0, false
	}
	return min(max(0, c.Water.Balance+sinceG) / *c.Box.WaterG, 1), true
}

// LeftG is the most water that a box can lose since its last weighing, in grams; infinite where
// its water is not known. It is false where the box weighs less than without its water: that
// weighing tells nothing.
func (c BoxCare) LeftG() (float64, bool) {
	if c.Unknown != nil || c.Box.WaterG == nil {
		return math.Inf(1), true
	}
	left := *c.Box.WaterG - c.Water.Balance
	return max(0, left), left >= 0
}

// DamCare is when a dam is likely to lay.
type DamCare struct {
	Dam      book.Dam
	LastLook time.Time  // that found nothing; zero: none is known
	LastLaid *book.Laid // nil: she never laid
	Laying   *Laying    // nil: nothing is known of it
	Due      Due
}

// Due is whether to look into a lay box.
type Due string

// When to look.
const (
	DueUnknown Due = "unknown"
	DueLater   Due = "later"   // no clutch is likely yet
	DueLook    Due = "look"    // daily
	DueOverdue Due = "overdue" // she is likely to have laid
)

// CareOf is the care that a book makes due. ScaleOf gives how wrong a weighing of a box may
// be.
func CareOf(b book.Book, now time.Time, scaleOf func(box string) Scale) Care {
	var c Care
	for _, x := range b.Boxes() {
		if x.InUse {
			c.Boxes = append(c.Boxes, boxCareOf(b, x, scaleOf(x.ID)))
		}
	}
	for _, d := range b.Dams() {
		if !Resting(b, d.Name) {
			c.Dams = append(c.Dams, damCareOf(b, d, now))
		}
	}
	return c
}

func boxCareOf(b book.Book, x book.Box, s Scale) BoxCare {
	c := BoxCare{Box: x}
	if t, ok := NextWeighing(b, x.ID, s); ok && len(x.Eggs) > 0 {
		c.NextWeighing = t
	}
	c.Water, c.Unknown = WaterOf(b, x.ID, s)
	return c
}

func damCareOf(b book.Book, d book.Dam, now time.Time) DamCare {
	c := DamCare{Dam: d, Due: DueUnknown}
	c.LastLook, _ = LastEmptyLook(b, d.Name, now)
	if n := len(d.Clutches); n > 0 {
		last, _ := b.Clutch(d.Clutches[n-1])
		c.LastLaid = &last.Laid
	}
	l, ok := NextLaying(b, d.Name, now)
	if !ok {
		return c
	}
	c.Laying = &l
	switch {
	case now.Before(l.Look):
		c.Due = DueLater
	case now.Before(l.By):
		c.Due = DueLook
	default:
		c.Due = DueOverdue
	}
	return c
}
