// Package forms is what can be noted in the book by hand: which forms there are,
// what each asks, what may be chosen, and which entries come of the answers. The
// page and the command line both go by it.
package forms

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/thermal/book"
)

// Form is one form of the book.
type Form struct {
	Kind, Title, Hint string
	Fields            []Field
	entry             book.Kind
}

// Sort is how a field is answered.
type Sort int

// Sorts of fields.
const (
	Text Sort = iota
	Long
	Number
	Difference // of temperature, in the reader's degrees
	Pick       // one of some options
	Many       // any of some options
)

// Field is one question of a form.
type Field struct {
	Name, Label string
	Sort        Sort
	Must        bool
	None        string // said where there is nothing to choose
	Other       string // asks for what is not among the options; empty: nothing else is taken
	fixed       []Option
	first       string // the answer of a form that was not touched
}

// Usual is the answer where none is given; empty where there is none, or where it
// hangs on the book.
func (f Field) Usual() string {
	if f.Name == "clutch" {
		return "a free name"
	}
	return f.first
}

// Option is one answer that may be chosen.
type Option struct{ Value, Text string }

// Found is the one form that makes several entries: a clutch and where each of
// its eggs was placed.
const Found = "found"

// All are the forms in the order of a season, the daily ones first. A box and an
// egg are moved by two forms, since one entry has two shapes.
func All() []Form {
	form := func(kind, title, hint string, entry book.Kind, fields ...string) Form {
		f := Form{Kind: kind, Title: title, Hint: hint, entry: entry}
		for _, name := range fields {
			name, must := strings.CutSuffix(name, "!") // must be answered in this form
			x := field(name)
			x.Must = x.Must || must
			f.Fields = append(f.Fields, x)
		}
		return f
	}
	return []Form{
		form(Found, "Eggs found", "Keep the laid side up; turning kills.", book.KindClutch, "dam", "eggs", "since", "box", "slots", "clutch"),
		form("placed", "Egg placed", "Keep the laid side up; turning kills.", book.KindPlaced, "egg", "box", "slot"),
		form("looked", "Looked, no eggs", "A look into the lay box that found none dates the next clutch.", book.KindLooked, "dam"),
		form("candled", "Candled", "", book.KindCandled, "egg", "verdict"),
		form("weighed", "Box weighed", "", book.KindWeighed, "box", "total_g!"),
		form("watered", "Box watered", "", book.KindWatered, "box", "water_g!"),
		form("moved", "Box moved", "Carry it level; never turn eggs.", book.KindMoved, "box", "zone", "probe", "offset"),
		form("egg-moved", "Egg moved", "Keep the laid side up; turning kills.", book.KindMoved, "egg", "box", "slot"),
		form("pipped", "Pipped", "", book.KindPipped, "egg"),
		form("hatched", "Hatched", "", book.KindHatched, "egg", "mass_g"),
		form("lost", "Lost", "", book.KindLost, "egg", "why"),
		form("hatchling", "Hatchling", "", book.KindHatchling, "hatchling", "what", "mass_g"),
		form("note", "A note", "", book.KindNote, "text", "about"),
		form("pairing", "Paired", "", book.KindPairing, "dam", "sire"),
		form("rested", "Dam rests", "Her lay box is not looked at until she is paired or lays again.", book.KindRested, "dam!"),
		form("retired", "Dam breeds no more", "From then on she is not offered for a pairing or for eggs.", book.KindRetired, "dam!"),
		form("dam", "A new dam", "", book.KindDam, "name", "profile"),
		form("box", "A box set up", "", book.KindBox, "newbox", "zone", "probe", "offset", "medium", "dry_g", "water_g", "total_g"),
		form("emptied", "Box emptied", "", book.KindEmptied, "box"),
	}
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

func plain(names ...string) []Option {
	var all []Option
	for _, n := range names {
		all = append(all, Option{n, n})
	}
	return all
}

func field(name string) Field {
	f := Field{Name: name}
	switch name {
	case "dam":
		f.Label, f.Sort, f.None = "Dam (several where they live together)", Many, "No dam is in the book yet; note one first."
	case "eggs":
		f.Label, f.Sort, f.Must, f.first, f.Other = "How many", Pick, true, "2", "Another number"
		f.fixed = plain("1", "2", "3", "4", "5", "6")
	case "since":
		f.Label, f.Sort, f.Must, f.first = "Laid", Pick, true, "look"
		f.fixed = []Option{{"look", "since the last look"}, {"24h", "within a day"}, {"72h", "within 3 days"}, {"168h", "within a week"}}
	case "box":
		f.Label, f.Sort, f.Must, f.None = "Box", Pick, true, "No box is in use; set one up first."
	case "egg":
		f.Label, f.Sort, f.Must, f.None = "Egg", Pick, true, "None is in the book."
	case "hatchling":
		f.Label, f.Sort, f.Must, f.None = "Hatchling", Pick, true, "None is in the book."
	case "zone":
		f.Label, f.Sort, f.Must, f.None = "Zone", Pick, true, "No zone is set up."
	case "probe":
		f.Label, f.Sort = "Probe in the box", Pick
	case "profile":
		f.Label, f.Sort = "Kind", Pick
	case "verdict":
		f.Label, f.Sort, f.Must = "Verdict", Pick, true
		f.fixed = []Option{{book.Fertile, "fertile"}, {book.Infertile, "infertile"}, {book.Slug, "slug"}, {"unsure", "cannot tell"}}
	case "what":
		f.Label, f.Sort, f.Must = "What", Pick, true
		f.fixed = plain(book.Fed, book.Shed, book.Weighed, book.Died)
	case "slots":
		f.Label = "Slots (empty: the next free ones)"
	case "clutch":
		f.Label, f.Must = "Name of the clutch", true
	case "name":
		f.Label, f.Must = "Her name", true
	case "newbox":
		f.Label, f.Must = "Name of the box", true
	case "slot":
		f.Label, f.Must = "Slot", true
	case "sire":
		f.Label, f.Must = "Sire", true
	case "total_g":
		f.Label, f.Sort = "Mass in all, g", Number
	case "water_g":
		f.Label, f.Sort = "Water, g (the same in ml)", Number
	case "dry_g":
		f.Label, f.Sort = "Dry medium, g", Number
	case "mass_g":
		f.Label, f.Sort = "Mass, g", Number
	case "offset":
		f.Label, f.Sort = "If it is warmer than that probe or place: by how much (-1 is colder)", Difference
	case "medium":
		f.Label = "Medium"
	case "text":
		f.Label, f.Sort, f.Must = "Note", Long, true
	case "about":
		f.Label = "About (a dam, a box, an egg)"
	default: // why, the one that is left
		f.Label = "Why"
	}
	return f
}

// Fault is an error of the one who filled a form in, and theirs to mend.
type Fault string

// Error names the package.
func (f Fault) Error() string { return "" + string(f) }

// ErrorMessage is for the person.
func (f Fault) ErrorMessage() string { return string(f) }

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
		return time.Time{}, Fault("say when it was, like 2026-06-12T08:30")
	}
	return time.Time{}, Fault(fmt.Sprintf("%q is no time; write it like 2026-06-12T08:30", text))
}
