// Package bookpages shows one thing of the book a page: an egg and its hatchling, a dam, a sire,
// a pairing, a probe. It tells which entries are about a thing, makes the forms that belong to
// it, and marks entries in the drawings of a zone. It must not compute a window or a statistic.
package bookpages

import (
	"slices"
	"strings"
	"time"

	"example.com/ootherm/thermal/book"
)

// Wanted reports whether an entry is about a thing.
type Wanted func(book.Entry) bool

// named reports whether the text of what a note is about names a thing: alone, among others
// after commas, or with its kind before it.
func named(about, kind, name string) bool {
	if about == "" {
		return false
	}
	if strings.EqualFold(about, name) { // a name may have a comma
		return true
	}
	for part := range strings.SplitSeq(about, ",") {
		part = strings.TrimSpace(part)
		if strings.EqualFold(part, name) || strings.EqualFold(part, kind+" "+name) {
			return true
		}
	}
	return false
}

// OfEgg are the entries about an egg and its hatchling. Of its clutch it has the entry that
// found it.
func OfEgg(egg book.Egg) Wanted {
	return func(e book.Entry) bool {
		return e.Egg == egg.ID || e.Kind == book.KindClutch && e.Clutch == egg.Clutch || named(e.About, "egg", egg.ID) || named(e.About, "hatchling", egg.ID)
	}
}

// OfClutch are the entries about a clutch and its eggs.
func OfClutch(c book.Clutch) Wanted {
	return func(e book.Entry) bool {
		return e.Clutch == c.ID || named(e.About, "clutch", c.ID) ||
			slices.ContainsFunc(c.Eggs, func(x book.Egg) bool { return e.Egg == x.ID || named(e.About, "egg", x.ID) })
	}
}

// OfBox are the entries about a box, and about eggs while they were in it.
func OfBox(b *book.Book, box string) Wanted {
	return func(e book.Entry) bool {
		return e.Box == box || named(e.About, "box", box) || e.Egg != "" && whereabouts(b, e).Box == box
	}
}

// OfDam are the entries about a dam, and those that found her clutches or corrected them.
func OfDam(b *book.Book, dam book.Dam) Wanted {
	return func(e book.Entry) bool {
		for _, name := range e.Dam {
			if d, ok := b.Dam(name); ok && d.Name == dam.Name {
				return true
			}
		}
		return named(e.About, "dam", dam.Name) || e.Kind == book.KindAmended && slices.Contains(dam.Clutches, e.Clutch)
	}
}

// OfSire are the entries about a sire.
func OfSire(sire string) Wanted {
	return func(e book.Entry) bool { return e.Sire == sire || named(e.About, "sire", sire) }
}

// OfPairing are the entries about a dam with a sire.
func OfPairing(b *book.Book, sire string, dam book.Dam) Wanted {
	hers := OfDam(b, dam)
	return func(e book.Entry) bool { return e.Sire == sire && hers(e) }
}

// OfProbe are the entries about a probe, and about boxes and eggs while they had it.
func OfProbe(b *book.Book, probe string) Wanted {
	return func(e book.Entry) bool {
		return e.Probe == probe || named(e.About, "probe", probe) || whereabouts(b, e).Probe == probe
	}
}

// OfZone are the entries about a zone, and about boxes and eggs while they were in it.
func OfZone(b *book.Book, zone string) Wanted {
	return func(e book.Entry) bool {
		return e.Zone == zone || named(e.About, "zone", zone) || whereabouts(b, e).Zone == zone
	}
}

// whereabouts is where the egg or the box of an entry was at its time; empty where that is
// not known or the entry has neither.
func whereabouts(b *book.Book, e book.Entry) book.Stay {
	var stays []book.Stay
	if egg, ok := b.Egg(e.Egg); ok && e.Egg != "" {
		stays = egg.Stays
	} else if box, ok := b.Box(e.Box); ok && e.Box != "" {
		stays = box.Stays
	}
	return stayAt(stays, e.At)
}

// stayAt is the stay at a time: the last that had begun then and had not ended before.
func stayAt(stays []book.Stay, at time.Time) (s book.Stay) {
	for _, x := range stays {
		if !x.From.After(at) && (x.To.IsZero() || !x.To.Before(at)) {
			s = x
		}
	}
	return s
}
