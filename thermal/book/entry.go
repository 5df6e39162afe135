package book

import "time"

// Kind says what an entry records.
type Kind string

// The kinds of entry.
const (
	KindDam        Kind = "dam"        // a female, by name
	KindPairing    Kind = "pairing"    // a dam put to a sire
	KindLooked     Kind = "looked"     // a look into the lay box
	KindRested     Kind = "rested"     // a dam left unpaired for a while
	KindRetired    Kind = "retired"    // a dam that breeds no more
	KindClutch     Kind = "clutch"     // eggs found
	KindBox        Kind = "box"        // an egg box set up
	KindPlaced     Kind = "placed"     // an egg put in a slot
	KindMoved      Kind = "moved"      // a box to a zone, or an egg to a slot
	KindCandled    Kind = "candled"    // an egg's verdict
	KindWeighed    Kind = "weighed"    // a box, in all
	KindWatered    Kind = "watered"    // water added to a box
	KindEmptied    Kind = "emptied"    // a box taken out of use
	KindPipped     Kind = "pipped"     // an egg slit, the animal not yet out
	KindHatched    Kind = "hatched"    // an egg left
	KindLost       Kind = "lost"       // an egg that will not hatch
	KindHatchling  Kind = "hatchling"  // what a hatchling did
	KindCalibrated Kind = "calibrated" // a probe compared with known points
	KindNote       Kind = "note"       // anything else
	KindVoid       Kind = "void"       // another entry undone
)

// What a hatchling entry may say.
const (
	Shed    = "shed"
	Fed     = "fed"
	Weighed = "weighed"
	Died    = "died"
)

// Verdicts the review counts. Any other text is kept and counted as undecided.
const (
	Fertile   = "fertile"
	Infertile = "infertile"
	Slug      = "slug" // an egg without a proper shell, never fertile
)

// Entry is one line of the book. Which fields it has follows from its kind; a
// field that is absent is empty, zero or nil. Masses are grams.
type Entry struct {
	Key  string    // chosen by whoever writes it; the same key twice is one entry
	At   time.Time // when it happened, UTC
	Kind Kind

	Void      string // the key undone
	Egg       string // CLUTCH-1 and so on
	Clutch    string
	Dam       Names
	Sire      string
	Profile   string
	Eggs      int       // how many, in a clutch
	LaidAfter time.Time // the last look without eggs
	LaidBy    time.Time // the look that found them
	Found     Found
	Box       string
	Slot      string
	Zone      string
	Probe     string
	OffsetK   *float64  // K; a box is warmer by so much than its probe, or its zone's air without one
	From      time.Time // a calibration holds from here on; zero is from At
	Points    []Point
	Medium    string
	DryG      *float64 // dry medium
	WaterG    *float64 // water in it, or added
	TotalG    *float64 // the whole box
	Verdict   string
	What      string
	MassG     *float64 // of a hatchling
	Why       string
	About     string
	Text      string

	Seq      uint64    // given by the ledger, in the order of arrival
	Recorded time.Time // given by the ledger
}

// Names is one dam, or several that live together. In JSON it is a string or a
// list.
type Names []string

// Found is what a look into the lay box found: in JSON a text, true or false,
// or a number of eggs. It holds that JSON; empty is nothing said.
type Found string

// Eggs reports whether the look found eggs: true, or a number above zero. A
// text says something else about the box.
func (f Found) Eggs() bool {
	switch {
	case f == "" || f == "false" || f[0] == '"':
		return false
	case f == "true":
		return true
	}
	for _, c := range f {
		if c >= '1' && c <= '9' {
			return true
		}
	}
	return false
}

// Point is one comparison of a probe with a known temperature (Celsius) or a
// known relative humidity (ratio). Either pair is there, the other nil.
type Point struct {
	ReferenceC  *float64 `json:"reference_c,omitempty"`
	ReadC       *float64 `json:"read_c,omitempty"`
	ReferenceRH *float64 `json:"reference_rh,omitempty"`
	ReadRH      *float64 `json:"read_rh,omitempty"`
}

// EggID is the name of egg n, from 1, of a clutch.
func EggID(clutch string, n int) string { return clutch + "-" + itoa(n) }
