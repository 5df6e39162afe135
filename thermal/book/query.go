package book

import (
	"iter"
	"slices"
	"time"
)

// Clutch is the eggs of one laying.
type Clutch struct {
	ID      string
	Dams    []string // none when not known, several when they live together
	Profile string   // its own, or that of its dams when they agree; may be empty
	Found   time.Time
	Laid    Laid
	Eggs    []Egg
}

// Laid is the interval in which a clutch was laid: after the last look without
// eggs, and by the look that found them.
type Laid struct{ After, By time.Time }

// Egg is one egg. Its box and slot are where it is, or was last. They are empty
// when it was never placed.
type Egg struct {
	ID, Clutch string
	Box, Slot  string
	Fate       Fate
	FateAt     time.Time // since when; zero while waiting
	Verdict    string    // the last at candling; empty when none
	VerdictAt  time.Time
	Why        string   // it was lost
	HatchG     *float64 // mass at hatch
	Stays      []Stay
	Hatchling  []Event // what it did since it hatched
}

// Stay is an egg's time in one slot of one box while the box stands in one zone
// under one probe. The zone is empty when nothing says where the box stood; the
// probe when the box has none.
type Stay struct {
	Box, Slot   string
	Zone, Probe string
	Offset      float64   // K; how much warmer the box is than the probe or the zone's air
	From, To    time.Time // a zero To is still there
}

// Event is an entry about a hatchling.
type Event struct {
	At    time.Time
	What  string // Shed, Fed, Weighed or Died
	MassG *float64
}

// Box is one egg box. Its medium, masses, weighings and waterings are those of
// its present use. SetUp is zero when no box entry describes it.
type Box struct {
	ID          string
	Zone, Probe string  // where it stands, or stood last
	Offset      float64 // K; see [Stay]
	InUse       bool    // not emptied
	Filling
	Weighings  []Weighing
	Waterings  []Watering
	Stays      []Stay     // the box's own; egg slots are empty
	Eggs, Done []string   // waiting or pipped in it now; hatched or lost in this use
	Transfers  []Transfer // of all uses of the box, in order
}

// Filling is what a box was set up with, grams.
type Filling struct {
	SetUp                time.Time
	Medium               string
	DryG, WaterG, TotalG *float64
}

// Weighing is a box's mass in all.
type Weighing struct {
	At     time.Time
	TotalG float64
}

// Watering is water added to a box.
type Watering struct {
	At        time.Time
	WaterG    float64
	Weighings int // how many of the box's weighings came before it
}

// Transfer is eggs put into a box, or taken from it because they moved, hatched or
// were lost.
type Transfer struct {
	At   time.Time
	Eggs int // 1 in, -1 out
}

// Dam is one dam.
type Dam struct {
	Name     string
	Profile  string
	Pairings []Pairing
	Looks    []Look
	Rested   []time.Time
	Retired  time.Time // zero when she is not
	Clutches []string  // that name her, alone or among others, in the order laid
}

// Pairing is a dam put to a sire.
type Pairing struct {
	At   time.Time
	Sire string
}

// Look is a look into the lay box.
type Look struct {
	At    time.Time
	Found Found
}

// Calibration is a probe compared with known points; it holds from From on.
type Calibration struct {
	Key    string
	From   time.Time
	Points []Point
}

// Note is a remark.
type Note struct {
	Key, About, Text string
	At               time.Time
}

func (b Book) views() *views { return b.content().views() }

// Dams are the dams in the order of their entries.
func (b Book) Dams() []Dam { return b.views().dams }

// Clutches are the clutches in the order laid.
func (b Book) Clutches() []Clutch { return b.views().clutches }

// Boxes are the boxes in the order of their first use, emptied ones too.
func (b Book) Boxes() []Box { return b.views().boxes }

// Dam finds a dam by her name, or by one that she had before it was amended.
func (b Book) Dam(name string) (Dam, bool) { return find(b.views().dams, b.views().damAt, name) }

// Clutch finds a clutch.
func (b Book) Clutch(id string) (Clutch, bool) {
	return find(b.views().clutches, b.views().clutchAt, id)
}

// Box finds a box.
func (b Book) Box(id string) (Box, bool) { return find(b.views().boxes, b.views().boxAt, id) }

func find[T any](all []T, at map[string]int, name string) (found T, ok bool) {
	i, ok := at[name]
	if ok {
		found = all[i]
	}
	return found, ok
}

// Egg finds an egg.
func (b Book) Egg(id string) (Egg, bool) {
	clutch, n, ok := splitEgg(id)
	c, there := b.Clutch(clutch)
	if !ok || !there || n > len(c.Eggs) {
		return Egg{}, false
	}
	return c.Eggs[n-1], true
}

// Looks are the looks into a lay box that name no dam.
func (b Book) Looks() []Look { return looksOf(b.content().state.looks) }

// Calibrations are those of a probe, in the order from which they hold.
func (b Book) Calibrations(probe string) []Calibration {
	var all []Calibration
	for _, it := range b.content().state.calibrations[probe] {
		c := Calibration{Key: it.Key, From: it.From, Points: it.Points}
		if c.From.IsZero() {
			c.From = it.At
		}
		all = append(all, c)
	}
	slices.SortStableFunc(all, func(a, b Calibration) int { return a.From.Compare(b.From) })
	return all
}

// Notes are the remarks in order.
func (b Book) Notes() []Note {
	var all []Note
	for _, it := range b.content().state.notes {
		all = append(all, Note{Key: it.Key, About: it.About, Text: it.Text, At: it.At})
	}
	return all
}

// Len is the number of entries in the book. Voids and what they undid count.
func (b Book) Len() int { return len(b.content().items) }

// Entry finds an entry by its key, and the key of the void that undid it.
func (b Book) Entry(key string) (e Entry, undoneBy string, ok bool) {
	c := b.content()
	it, ok := c.byKey[key]
	if !ok {
		return Entry{}, "", false
	}
	if v, undone := c.undone[key]; undone {
		undoneBy = v.Key
	}
	return it.Entry, undoneBy, true
}

// Arrived yields every entry in the order of arrival, which is that of seq: an
// export that can be read in again.
func (b Book) Arrived() iter.Seq[Entry] {
	all := make([]Entry, b.Len())
	for _, it := range b.content().items {
		all[it.arrival] = it.Entry
	}
	return slices.Values(all)
}
