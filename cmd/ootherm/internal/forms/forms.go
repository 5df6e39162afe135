// Package forms owns the forms by which a person notes something in the book: what
// each asks, which answers may be chosen, and which entries the answers make. The
// page and the command line both use it. It must not know how a form is shown, and
// it stores nothing.
//
// # Decisions
//
//   - What is hardly meant is asked for once: implausible masses and eggs far from
//     hatching give questions, and a form that is sent back with them is noted. `book add`
//     and the API ask nothing.
//   - A clutch that is noted by form has key K, and its places have K.1, K.2; undo voids
//     them together. So it is with the eggs of a box that were candled in one form.
package forms

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/thermal/book"
)

// Form is one form of the book. Group is the part of a season that it belongs to; it may
// be one of several forms for one kind of entry.
type Form struct {
	Kind, Title, Hint string
	Group             Group
	Fields            []Field
	entry             book.Kind
}

// Two forms make several entries: Found a clutch and the place of each of its eggs,
// BoxCandled a verdict of each egg in a box. AmendedDam and AmendedClutch correct what an
// entry says.
const (
	Found         = "found"
	BoxCandled    = "box-candled"
	AmendedDam    = "amended"
	AmendedClutch = "clutch-amended"
)

// Group is a part of a season.
type Group string

// The groups, in the order of a season.
const (
	Dams     Group = "Dams"
	Laying   Group = "Pairing and laying"
	Boxes    Group = "Boxes"
	Eggs     Group = "Eggs"
	Hatching Group = "Hatching"
	Anything Group = "Anything else"
)

// All are the forms in the order of a season, those of a group together. Two forms move a
// box and an egg, and two amend a dam and a clutch, because one kind of entry has two
// shapes.
func All() []Form {
	var all []Form
	group := Dams
	form := func(kind, title, hint string, entry book.Kind, names ...string) {
		f := Form{Kind: kind, Title: title, Hint: hint, Group: group, entry: entry}
		for _, name := range names {
			name, must := strings.CutSuffix(name, "!") // must be answered in this form
			x := fields[name]
			x.Name, x.Must = name, x.Must || must
			f.Fields = append(f.Fields, x)
		}
		all = append(all, f)
	}
	const carefully = "Keep the laid side up; turning kills."
	form("dam", "A new dam", "Her eggs get a hatch window by her kind.", book.KindDam, "name", "profile!")
	form(AmendedDam, "A dam's kind or name corrected", "Her clutches follow at once, those that wait too.", book.KindAmended, "whose", "profile", "called", "why")
	form("rested", "Dam resting", "Her lay box is not looked at until she is paired or lays again.", book.KindRested, "dam!")
	form("retired", "Dam retired", "From then on she is not offered for a pairing or for eggs.", book.KindRetired, "dam!")
	group = Laying
	form("pairing", "Paired", "", book.KindPairing, "dam", "sire")
	form("looked", "Looked, no eggs", "A look into the lay box that found none dates the next clutch.", book.KindLooked, "dam")
	form(Found, "Eggs found", carefully, book.KindClutch, "dam", "eggs", "since", "box", "slots", "clutch")
	form(AmendedClutch, "A clutch's kind corrected", "For eggs of no known dam, or of dams of several kinds.", book.KindAmended, "laying", "profile!", "why")
	group = Boxes
	form("box", "A box set up", "", book.KindBox, "newbox", "zone", "probe", "offset", "medium", "dry_g", "water_g", "total_g")
	form("weighed", "Box weighed", "", book.KindWeighed, "box", "total_g!")
	all[len(all)-1].Fields[0].options = Desk.boxesToWeigh
	form("watered", "Box watered", "", book.KindWatered, "box", "water_g!")
	form("moved", "Box moved", "Carry it level; never turn eggs.", book.KindMoved, "box", "zone", "probe", "offset")
	form("emptied", "Box emptied", "", book.KindEmptied, "box")
	group = Eggs
	form("placed", "Egg placed", carefully, book.KindPlaced, "egg", "box", "slot")
	form("candled", "Candled", "", book.KindCandled, "egg", "verdict")
	form(BoxCandled, "All eggs of a box candled", "One verdict for all, or one for each egg.", book.KindCandled, "box", "every")
	form("egg-moved", "Egg moved", carefully, book.KindMoved, "egg", "box", "slot")
	form("lost", "Lost", "", book.KindLost, "egg", "why")
	group = Hatching
	form("pipped", "Pipped", "", book.KindPipped, "egg")
	form("hatched", "Hatched", "", book.KindHatched, "egg", "mass_g")
	form("hatchling", "Hatchling", "", book.KindHatchling, "hatchling", "what", "mass_g")
	group = Anything
	form("note", "A note", "", book.KindNote, "text", "about")
	return all
}

// Of finds a form by its kind.
func Of(kind string) (Form, bool) {
	all := All()
	i := slices.IndexFunc(all, func(f Form) bool { return f.Kind == kind })
	if i < 0 {
		return Form{}, false
	}
	return all[i], true
}

// LocalTime is how a browser writes the time of a form.
const LocalTime = "2006-01-02T15:04"

// Time reads a time that a person wrote: RFC 3339, or the hour of a place.
func Time(text string, place *time.Location) (time.Time, error) {
	if t, err := time.Parse(time.RFC3339, text); err == nil {
		return t.UTC(), nil
	}
	for _, layout := range []string{LocalTime, "2006-01-02T15:04:05"} {
		if t, err := time.ParseInLocation(layout, text, place); err == nil {
			return t.UTC(), nil
		}
	}
	if text == "" {
		return time.Time{}, usererr.New("say when it was, like 2026-06-12T08:30")
	}
	return time.Time{}, usererr.New(fmt.Sprintf("%q is no time; write it like 2026-06-12T08:30", text))
}
