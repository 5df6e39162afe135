package forecast

import (
	"time"

	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/track"
)

// Corrections counts the entries of a book that undo or change another one.
type Corrections struct {
	All int
	Own map[string]int // by clutch: those that undo what was noted of it or of its eggs
}

// CorrectionsOf counts those of a book.
func CorrectionsOf(b book.Book) Corrections {
	x := Corrections{Own: map[string]int{}}
	for e := range b.Arrived() {
		switch e.Kind {
		case book.KindAmended:
			x.All++
		case book.KindVoid:
			x.All++
			if clutch := about(b, e.Void); clutch != "" {
				x.Own[clutch]++
			}
		}
	}
	return x
}

// about is the clutch whose eggs an entry says something of that their window is made from;
// empty for none.
func about(b book.Book, key string) string {
	e, _, _ := b.Entry(key)
	switch e.Kind {
	case book.KindClutch:
		return e.Clutch
	case book.KindPlaced, book.KindMoved, book.KindCandled, book.KindPipped, book.KindHatched, book.KindLost:
		egg, _ := b.Egg(e.Egg)
		return egg.Clutch
	}
	return ""
}

// minMove is the move of check-from by which a correction of the book counts as changing a
// window: boxes are looked at once a day.
const minMove = lookEvery

// settled is a forecast in which every group counts: nothing is being rebuilt.
type settled struct {
	corrections int
	checkFrom   map[string]time.Time // by group, of those with a window
}

// rebuilding reports whether what some group felt is not known yet.
func (h House) rebuilding() bool {
	for _, g := range h.Groups {
		if _, known := h.Profile(g.Profile); known && h.Track(g.Track) == nil {
			return true
		}
	}
	return false
}

// settle keeps the check-from of each window, where nothing is being rebuilt.
func (f *Forecast) settle(h House, before *Forecast) {
	if f.settled = before.settled; h.rebuilding() {
		return
	}
	f.settled = &settled{corrections: h.Corrections.All, checkFrom: map[string]time.Time{}}
	for id, x := range f.hatches {
		if x.Window.Exists() {
			f.settled.checkFrom[id] = x.Window.CheckFrom
		}
	}
}

// corrected reports whether a correction of the book moved the window of a group, since the
// last forecast in which nothing was being rebuilt.
func (k *knowledge) corrected(g *track.Group, w thermal.Window) bool {
	if k.last == nil || k.last.corrections == k.Corrections.All || k.rebuilding() {
		return false
	}
	was, had := k.last.checkFrom[g.ID()]
	return had && w.Exists() && w.CheckFrom.Sub(was).Abs() > minMove
}
