package book

import (
	"slices"
	"strings"
)

// shape is the names of the fields that a kind must have and may have, separated by
// spaces.
type shape struct{ must, may string }

// shapes is the grammar of the book. Every kind also has key, at and entry, and may have
// what the ledger adds. Moved and amended have two shapes each: see [shapeOf].
var shapes = map[Kind]shape{
	KindDam:        {"dam", "profile"},
	KindRested:     {"dam", "why"},
	KindRetired:    {"dam", "why"},
	KindPairing:    {"dam sire", ""},
	KindLooked:     {"", "dam found"},
	KindClutch:     {"clutch eggs laid_after laid_by", "dam profile"},
	KindBox:        {"box zone", "probe offset_k medium dry_g water_g total_g"},
	KindPlaced:     {"egg box slot", ""},
	KindCandled:    {"egg verdict", ""},
	KindWeighed:    {"box total_g", ""},
	KindWatered:    {"box water_g", ""},
	KindEmptied:    {"box", "why"},
	KindPipped:     {"egg", ""},
	KindHatched:    {"egg", "mass_g"},
	KindLost:       {"egg", "why"},
	KindHatchling:  {"egg what", "mass_g"},
	KindCalibrated: {"probe points", "from"},
	KindNote:       {"text", "about"},
	KindVoid:       {"void", "why"},
}

// shapeOf is the shape of an entry; moved and amended have two each.
func shapeOf(e *Entry) (shape, bool) {
	switch {
	case e.Kind == KindMoved && e.Egg != "":
		return shape{"egg box slot", ""}, true
	case e.Kind == KindMoved:
		return shape{"box zone", "probe offset_k"}, true
	case e.Kind == KindAmended && e.Clutch != "":
		return shape{"clutch profile", "why"}, true
	case e.Kind == KindAmended:
		return shape{"dam", "name profile why"}, true
	}
	s, known := shapes[e.Kind]
	return s, known
}

// has reports whether a list of words separated by spaces has a word.
func has(words, w string) bool { return slices.Contains(strings.Fields(words), w) }
