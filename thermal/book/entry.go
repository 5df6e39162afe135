package book

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Kind is what an entry records.
type Kind string

// The kinds of entry.
const (
	KindDam        Kind = "dam"        // a female, by name
	KindAmended    Kind = "amended"    // what a dam or a clutch entry says, corrected
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

// The events of a hatchling.
const (
	Shed    = "shed"
	Fed     = "fed"
	Weighed = "weighed"
	Died    = "died"
)

// The verdicts that a review counts. Any other text is kept, and counts as
// undecided.
const (
	Fertile   = "fertile"
	Infertile = "infertile"
	Slug      = "slug" // an egg without a proper shell, never fertile
)

// Entry is one line of the book. Which fields it has follows from its kind; a
// field that is absent is empty, zero or nil. Masses are grams. The tags are the
// only list of the fields' names: stored lines, exports and errors follow them.
type Entry struct {
	Key  string    `json:"key"` // chosen by the writer; the same key twice is one entry
	At   time.Time `json:"at"`  // when it happened, UTC
	Kind Kind      `json:"entry"`

	Void      string    `json:"void,omitempty"` // the key undone
	Egg       string    `json:"egg,omitempty"`  // CLUTCH-1 and so on
	Clutch    string    `json:"clutch,omitempty"`
	Dam       Names     `json:"dam,omitempty"`
	Sire      string    `json:"sire,omitempty"`
	Profile   string    `json:"profile,omitempty"`
	Eggs      int       `json:"eggs,omitempty"`      // how many, in a clutch
	LaidAfter time.Time `json:"laid_after,omitzero"` // the last look without eggs
	LaidBy    time.Time `json:"laid_by,omitzero"`    // the look that found them
	Found     Found     `json:"found,omitempty"`
	Box       string    `json:"box,omitempty"`
	Slot      string    `json:"slot,omitempty"`
	Zone      string    `json:"zone,omitempty"`
	Probe     string    `json:"probe,omitempty"`
	OffsetK   *float64  `json:"offset_k,omitempty"` // K; how much warmer a box is than its probe, or its zone's air without one
	From      time.Time `json:"from,omitzero"`      // a calibration holds from here on; zero is from At
	Points    []Point   `json:"points,omitempty"`
	Medium    string    `json:"medium,omitempty"`
	DryG      *float64  `json:"dry_g,omitempty"`   // dry medium
	WaterG    *float64  `json:"water_g,omitempty"` // water in it, or added
	TotalG    *float64  `json:"total_g,omitempty"` // the whole box
	Verdict   string    `json:"verdict,omitempty"`
	What      string    `json:"what,omitempty"`
	MassG     *float64  `json:"mass_g,omitempty"` // of a hatchling
	Why       string    `json:"why,omitempty"`
	About     string    `json:"about,omitempty"`
	Text      string    `json:"text,omitempty"`

	Seq      uint64    `json:"seq,omitempty"`     // given by the ledger, in the order of arrival
	Recorded time.Time `json:"recorded,omitzero"` // given by the ledger

	// Name is last because the columns of a table keep their places.
	Name string `json:"name,omitempty"` // of a dam, as it should be
}

// MarshalJSON writes an entry as one line of the book. [Parse] reads the same entry
// from it.
func (e Entry) MarshalJSON() ([]byte, error) {
	for _, f := range entryFields {
		if t, ok := f.of(&e).(*time.Time); ok {
			*t = t.UTC()
		}
	}
	type fieldsOnly Entry // has no MarshalJSON of its own
	var b strings.Builder
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(fieldsOnly(e)); err != nil {
		return nil, fmt.Errorf("entry %s: %w", e.Key, err)
	}
	return []byte(strings.TrimSuffix(b.String(), "\n")), nil
}

// Same reports whether two entries have the same content; what the ledger added
// does not count.
func (e Entry) Same(o Entry) bool {
	e.Seq, e.Recorded, o.Seq, o.Recorded = 0, time.Time{}, 0, time.Time{}
	a, errA := e.MarshalJSON()
	b, errB := o.MarshalJSON()
	return errA == nil && errB == nil && string(a) == string(b)
}

// Names is one dam, or several that live together. In JSON it is a string or a
// list.
type Names []string

// MarshalJSON writes one name as a string, several as a list.
func (n Names) MarshalJSON() ([]byte, error) {
	if len(n) == 1 {
		return json.Marshal(n[0])
	}
	return json.Marshal([]string(n))
}

// Found is the result of a look into the lay box: in JSON a text, true or false, or
// a number of eggs. It holds that JSON; it is empty when the look has no result.
type Found string

// MarshalJSON writes the JSON that it holds.
func (f Found) MarshalJSON() ([]byte, error) { return []byte(f), nil }

// Eggs reports whether the look found eggs: true, or a number above zero. A
// text says something else about the box.
func (f Found) Eggs() bool {
	isText := strings.HasPrefix(string(f), `"`)
	return f == "true" || !isText && strings.ContainsAny(string(f), "123456789")
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
func EggID(clutch string, n int) string { return clutch + "-" + strconv.Itoa(n) }

// splitEgg splits the name of an egg into its clutch and its number, from 1.
func splitEgg(egg string) (clutch string, n int, ok bool) {
	i := strings.LastIndexByte(egg, '-')
	if i <= 0 || i+1 == len(egg) || len(egg)-i > 5 || egg[i+1] == '0' {
		return "", 0, false
	}
	for _, c := range []byte(egg[i+1:]) {
		if c < '0' || c > '9' {
			return "", 0, false
		}
		n = 10*n + int(c-'0')
	}
	return egg[:i], n, true
}
