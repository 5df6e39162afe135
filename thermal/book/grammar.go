package book

import "strings"

// shape is the names of the fields that a kind must have and may have, separated by
// spaces.
type shape struct{ must, may string }

// shapes is the grammar of the book. Every kind also has key, at and entry, and
// may have what the ledger adds.
func shapes(k Kind) (shape, bool) {
	switch k {
	case KindDam:
		return shape{"dam", "profile"}, true
	case KindRested, KindRetired:
		return shape{"dam", "why"}, true
	case KindPairing:
		return shape{"dam sire", ""}, true
	case KindLooked:
		return shape{"", "dam found"}, true
	case KindClutch:
		return shape{"clutch eggs laid_after laid_by", "dam profile"}, true
	case KindBox:
		return shape{"box zone", "probe offset_k medium dry_g water_g total_g"}, true
	case KindPlaced:
		return shape{"egg box slot", ""}, true
	case KindCandled:
		return shape{"egg verdict", ""}, true
	case KindWeighed:
		return shape{"box total_g", ""}, true
	case KindWatered:
		return shape{"box water_g", ""}, true
	case KindEmptied:
		return shape{"box", "why"}, true
	case KindPipped:
		return shape{"egg", ""}, true
	case KindHatched:
		return shape{"egg", "mass_g"}, true
	case KindLost:
		return shape{"egg", "why"}, true
	case KindHatchling:
		return shape{"egg what", "mass_g"}, true
	case KindCalibrated:
		return shape{"probe points", "from"}, true
	case KindNote:
		return shape{"text", "about"}, true
	case KindVoid:
		return shape{"void", "why"}, true
	}
	return shape{}, false
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
	return shapes(e.Kind)
}

// has reports whether a list of words separated by spaces has a word.
func has(words, w string) bool {
	for words != "" {
		var one string
		one, words, _ = strings.Cut(words, " ")
		if one == w {
			return true
		}
	}
	return false
}
