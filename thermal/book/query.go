package book

import (
	"cmp"
	"iter"
	"maps"
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

// Laid is when a clutch was laid: after the last look without eggs, and by the
// look that found them.
type Laid struct{ After, By time.Time }

// Egg is one egg. Its box and slot are where it is, or was last; they are empty
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

// Event is what a hatchling did.
type Event struct {
	At    time.Time
	What  string // Shed, Fed, Weighed or Died
	MassG *float64
}

// Box is one egg box. Its medium, masses, weighings and waterings are those of
// its present use.
type Box struct {
	ID          string
	Zone, Probe string  // where it stands, or stood last
	Offset      float64 // K; see [Stay]
	InUse       bool    // not emptied
	SetUp       time.Time
	Medium      string
	DryG        *float64
	WaterG      *float64
	TotalG      *float64
	Weighings   []Weighing
	Waterings   []Watering
	Stays       []Stay   // the box's own; egg slots are empty
	Eggs        []string // waiting or pipped in it now
	Done        []string // hatched or lost in this use
}

// Weighing is a box's mass in all.
type Weighing struct {
	At     time.Time
	TotalG float64
}

// Watering is water added to a box.
type Watering struct {
	At     time.Time
	WaterG float64
}

// Female is a dam.
type Female struct {
	Name     string
	Profile  string
	Pairings []Pair
	Looks    []Look
	Rested   []time.Time
	Retired  time.Time // zero when she is not
	Clutches []string  // that name her, alone or among others, in the order laid
}

// Pair is a dam put to a sire.
type Pair struct {
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

// view is what the queries of a whole book answer.
type view struct {
	females  []Female
	clutches []Clutch
	boxes    []Box
	at       map[string]int // of a clutch, in clutches
}

func look(p *pages) *view {
	v := &view{at: map[string]int{}}
	for _, id := range p.st.clutchIDs.all() {
		c, _ := p.st.clutches.get(id)
		v.clutches = append(v.clutches, p.st.clutchView(c))
	}
	slices.SortStableFunc(v.clutches, func(a, b Clutch) int { return a.Laid.By.Compare(b.Laid.By) })
	for i := range v.clutches {
		v.at[v.clutches[i].ID] = i
	}
	for _, name := range p.st.damNames.all() {
		d, _ := p.st.dams.get(name)
		f := d.view()
		slices.SortStableFunc(f.Clutches, func(a, b string) int { return cmp.Compare(v.at[a], v.at[b]) })
		v.females = append(v.females, f)
	}
	for _, id := range p.st.boxIDs.all() {
		b, _ := p.st.boxes.get(id)
		v.boxes = append(v.boxes, b.view())
	}
	return v
}

func (b Book) view() *view {
	if b.in == nil {
		return &view{}
	}
	return b.in.views()
}

// Dams are the dams in the order of their entries.
func (b Book) Dams() []Female { return b.view().females }

// Clutches are the clutches in the order laid.
func (b Book) Clutches() []Clutch { return b.view().clutches }

// Boxes are the boxes in the order of their first use, emptied ones too.
func (b Book) Boxes() []Box { return b.view().boxes }

// Dam finds a dam.
func (b Book) Dam(name string) (Female, bool) {
	for _, f := range b.Dams() {
		if f.Name == name {
			return f, true
		}
	}
	return Female{}, false
}

// Clutch finds a clutch.
func (b Book) Clutch(id string) (Clutch, bool) {
	c, ok := b.pages().st.clutches.get(id)
	if !ok {
		return Clutch{}, false
	}
	return b.pages().st.clutchView(c), true
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

// Box finds a box.
func (b Book) Box(id string) (Box, bool) {
	x, ok := b.pages().st.boxes.get(id)
	if !ok {
		return Box{}, false
	}
	return x.view(), true
}

// Looks are the looks into a lay box that name no dam.
func (b Book) Looks() []Look { return looks(b.pages().st.lone) }

// Calibrations are those of a probe, in the order they hold from.
func (b Book) Calibrations(probe string) []Calibration {
	p, ok := b.pages().st.probes.get(probe)
	if !ok {
		return nil
	}
	var all []Calibration
	for _, it := range p.cals.all() {
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
	for _, it := range b.pages().st.notes.all() {
		all = append(all, Note{Key: it.Key, About: it.About, Text: it.Text, At: it.At})
	}
	return all
}

// Len is how many entries the book holds, voids and what they undid included.
func (b Book) Len() int { return b.pages().n }

// Entry finds an entry by its key, and the key of the void that undid it.
func (b Book) Entry(key string) (e Entry, undoneBy string, ok bool) {
	it, ok := b.pages().keys.get(key)
	if !ok {
		return Entry{}, "", false
	}
	if v, undone := b.pages().voids.get(key); undone {
		undoneBy = v.Key
	}
	return it.Entry, undoneBy, true
}

// All gives every entry in the order of the fold, voids and what they undid
// included.
func (b Book) All() iter.Seq[Entry] {
	return func(yield func(Entry) bool) {
		for _, c := range b.pages().chunks {
			for _, it := range c.items {
				if !yield(it.Entry) {
					return
				}
			}
		}
	}
}

// Arrived gives every entry in the order of arrival, which is that of seq: an
// export that can be read in again.
func (b Book) Arrived() iter.Seq[Entry] {
	return func(yield func(Entry) bool) {
		all := make([]Entry, b.Len())
		for _, c := range b.pages().chunks {
			for _, it := range c.items {
				all[it.arrival] = it.Entry
			}
		}
		slices.Values(all)(yield)
	}
}

// Zones are the names of the zones where boxes in use stand. Whether the
// station knows them is not the book's to say.
func (b Book) Zones() []string {
	return names(b.Boxes(), func(x Box) string { return x.Zone })
}

// Probes are the names of the probes of boxes in use.
func (b Book) Probes() []string {
	return names(b.Boxes(), func(x Box) string { return x.Probe })
}

// Profiles are the names of the profiles of dams and clutches.
func (b Book) Profiles() []string {
	set := map[string]bool{}
	for _, f := range b.Dams() {
		set[f.Profile] = true
	}
	for _, c := range b.Clutches() {
		set[c.Profile] = true
	}
	delete(set, "")
	return slices.Sorted(maps.Keys(set))
}

func names(boxes []Box, of func(Box) string) []string {
	set := map[string]bool{}
	for _, x := range boxes {
		if x.InUse {
			set[of(x)] = true
		}
	}
	delete(set, "")
	return slices.Sorted(maps.Keys(set))
}
