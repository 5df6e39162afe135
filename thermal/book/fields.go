package book

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// shape is which fields a kind must have, and which it may.
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

// shapeOf is the shape of an entry; moved has two.
func shapeOf(e *Entry) (shape, bool) {
	if e.Kind != KindMoved {
		return shapes(e.Kind)
	}
	if e.Egg != "" {
		return shape{"egg box slot", ""}, true
	}
	return shape{"box zone", "probe offset_k"}, true
}

// field is one field of an entry: how it is read, whether it is there and what
// is wrong with its value.
type field struct {
	name  string
	read  func(*Entry, []byte) error
	there func(*Entry) bool
	check func(*Entry) error
}

func fields() []field {
	text := func(name string, at func(*Entry) *string, check func(string) error) field {
		return field{name,
			func(e *Entry, raw []byte) error { return readText(raw, at(e)) },
			func(e *Entry) bool { return *at(e) != "" },
			func(e *Entry) error { return check(*at(e)) }}
	}
	mass := func(name string, at func(*Entry) **float64, least float64) field {
		return field{name,
			func(e *Entry, raw []byte) error { return readNumber(raw, at(e)) },
			func(e *Entry) bool { return *at(e) != nil },
			func(e *Entry) error { return checkMass(**at(e), least) }}
	}
	when := func(name string, at func(*Entry) *time.Time) field {
		return field{name,
			func(e *Entry, raw []byte) error { return readTime(raw, at(e)) },
			func(e *Entry) bool { return !at(e).IsZero() },
			func(e *Entry) error { return checkTime(*at(e)) }}
	}
	return []field{
		text("key", func(e *Entry) *string { return &e.Key }, checkName),
		when("at", func(e *Entry) *time.Time { return &e.At }),
		{"entry",
			func(e *Entry, raw []byte) error { return readText(raw, (*string)(&e.Kind)) },
			func(e *Entry) bool { return e.Kind != "" }, func(*Entry) error { return nil }},
		text("void", func(e *Entry) *string { return &e.Void }, checkName),
		text("egg", func(e *Entry) *string { return &e.Egg }, checkEgg),
		text("clutch", func(e *Entry) *string { return &e.Clutch }, checkName),
		{"dam",
			func(e *Entry, raw []byte) error { return readNames(raw, &e.Dam) },
			func(e *Entry) bool { return len(e.Dam) > 0 }, checkDams},
		text("sire", func(e *Entry) *string { return &e.Sire }, checkName),
		text("profile", func(e *Entry) *string { return &e.Profile }, checkName),
		{"eggs",
			func(e *Entry, raw []byte) error { return readCount(raw, &e.Eggs) },
			func(e *Entry) bool { return e.Eggs != 0 }, checkEggs},
		when("laid_after", func(e *Entry) *time.Time { return &e.LaidAfter }),
		when("laid_by", func(e *Entry) *time.Time { return &e.LaidBy }),
		{"found",
			func(e *Entry, raw []byte) error { return readFound(raw, &e.Found) },
			func(e *Entry) bool { return e.Found != "" },
			func(e *Entry) error { var f Found; return readFound([]byte(e.Found), &f) }},
		text("box", func(e *Entry) *string { return &e.Box }, checkName),
		text("slot", func(e *Entry) *string { return &e.Slot }, checkName),
		text("zone", func(e *Entry) *string { return &e.Zone }, checkName),
		text("probe", func(e *Entry) *string { return &e.Probe }, checkName),
		{"offset_k",
			func(e *Entry, raw []byte) error { return readNumber(raw, &e.OffsetK) },
			func(e *Entry) bool { return e.OffsetK != nil }, checkOffset},
		when("from", func(e *Entry) *time.Time { return &e.From }),
		{"points",
			func(e *Entry, raw []byte) error { return readPoints(raw, &e.Points) },
			func(e *Entry) bool { return len(e.Points) > 0 }, checkPoints},
		text("medium", func(e *Entry) *string { return &e.Medium }, checkName),
		mass("dry_g", func(e *Entry) **float64 { return &e.DryG }, 0.01),
		mass("water_g", func(e *Entry) **float64 { return &e.WaterG }, 0),
		mass("total_g", func(e *Entry) **float64 { return &e.TotalG }, 0.01),
		text("verdict", func(e *Entry) *string { return &e.Verdict }, checkName),
		text("what", func(e *Entry) *string { return &e.What }, checkWhat),
		mass("mass_g", func(e *Entry) **float64 { return &e.MassG }, 0.001),
		text("why", func(e *Entry) *string { return &e.Why }, checkText),
		text("about", func(e *Entry) *string { return &e.About }, checkName),
		text("text", func(e *Entry) *string { return &e.Text }, checkText),
		{"seq",
			func(e *Entry, raw []byte) error { return readSeq(raw, &e.Seq) },
			func(e *Entry) bool { return e.Seq != 0 }, func(*Entry) error { return nil }},
		when("recorded", func(e *Entry) *time.Time { return &e.Recorded }),
	}
}

func readText(raw []byte, s *string) error {
	if raw[0] != '"' || json.Unmarshal(raw, s) != nil {
		return errors.New("is no text: write it in quotes")
	}
	if *s == "" {
		return errors.New("is empty: leave it out or fill it in")
	}
	return nil
}

func readNumber(raw []byte, v **float64) error {
	var n float64
	if raw[0] == 'n' || json.Unmarshal(raw, &n) != nil {
		return errors.New("is no number: write it without quotes or unit")
	}
	*v = &n
	return nil
}

func readCount(raw []byte, v *int) error {
	if raw[0] == 'n' || json.Unmarshal(raw, v) != nil {
		return errors.New("is no whole number: write it without quotes")
	}
	if *v == 0 {
		return errors.New("is 0: a clutch has at least one egg")
	}
	return nil
}

func readSeq(raw []byte, v *uint64) error {
	if raw[0] == 'n' || json.Unmarshal(raw, v) != nil {
		return errors.New("is no whole number: leave it out, the ledger gives it")
	}
	return nil
}

func readTime(raw []byte, t *time.Time) error {
	if raw[0] != '"' || json.Unmarshal(raw, t) != nil {
		*t = time.Time{}
		return errors.New(`is no time: write it like "2026-04-02T19:00:00Z" (RFC 3339, with its zone)`)
	}
	*t = t.UTC()
	return checkTime(*t)
}

func readNames(raw []byte, n *Names) error {
	if raw[0] == '"' {
		var s string
		err := readText(raw, &s)
		if err == nil {
			*n = Names{s}
		}
		return err
	}
	var all []*string
	if raw[0] != '[' || json.Unmarshal(raw, &all) != nil {
		return errors.New("is neither a name nor a list of names")
	}
	if len(all) == 0 {
		return errors.New("is an empty list: leave dam out when she is not known")
	}
	for _, s := range all {
		if s == nil || *s == "" {
			*n = nil
			return errors.New("has an empty name in its list: take it out")
		}
		*n = append(*n, *s)
	}
	return nil
}

func readFound(raw []byte, f *Found) error {
	var s string
	var n uint32
	switch {
	case string(raw) == "true" || string(raw) == "false":
	case len(raw) > 0 && raw[0] == '"' && readText(raw, &s) == nil:
		if err := checkText(s); err != nil {
			return err
		}
		b, err := json.Marshal(s)
		*f = Found(b)
		return err
	case len(raw) > 0 && raw[0] != 'n' && json.Unmarshal(raw, &n) == nil:
	default:
		return errors.New("is no text, true, false or number of eggs")
	}
	*f = Found(raw)
	return nil
}

func readPoints(raw []byte, p *[]Point) error {
	d := json.NewDecoder(strings.NewReader(string(raw)))
	d.DisallowUnknownFields()
	var all []Point
	if raw[0] != '[' || d.Decode(&all) != nil {
		return errors.New(`is no list of points: write it like [{"reference_c":0,"read_c":0.2}]`)
	}
	if len(all) == 0 {
		return errors.New("is an empty list: give at least one point")
	}
	*p = all
	return nil
}

// Limits of a name and of a text, in letters; of a clutch, in eggs; of a mass, in
// grams. They are ours: beyond them is a slip of the keyboard.
const (
	longestName = 200
	longestText = 10_000
	mostEggs    = 1000
	mostGrams   = 100_000
)

// MostOffset is the most that a box may differ from its probe, or its zone's air,
// in kelvin; our choice, beyond which it is a slip of the keyboard.
const MostOffset = 10

func checkName(s string) error {
	switch {
	case utf8.RuneCountInString(s) > longestName:
		return fmt.Errorf("is longer than %d letters: shorten it", longestName)
	case !utf8.ValidString(s) || strings.ContainsFunc(s, unicode.IsControl):
		return errors.New("has a character that cannot be printed: type it again")
	case s == "." || s == "..":
		// Of an address and of a folder these name another place: its page and
		// its label could not be had.
		return fmt.Errorf("%q is no name: write a letter or a figure with it", s)
	case strings.TrimSpace(s) != s:
		return fmt.Errorf("%q has a space at an end: take it off", s)
	}
	return nil
}

func checkText(s string) error {
	bad := func(r rune) bool { return unicode.IsControl(r) && r != '\n' && r != '\r' && r != '\t' }
	switch {
	case utf8.RuneCountInString(s) > longestText:
		return fmt.Errorf("is longer than %d letters: shorten it", longestText)
	case !utf8.ValidString(s) || strings.ContainsFunc(s, bad):
		return errors.New("has a character that cannot be printed: type it again")
	}
	return nil
}

func checkEgg(s string) error {
	if _, _, ok := splitEgg(s); !ok {
		return fmt.Errorf("%q names no egg: write the clutch, a dash and the egg's number, like S1-1", s)
	}
	return checkName(s)
}

// splitEgg gives the clutch and the number, from 1, of an egg.
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

func checkDams(e *Entry) error {
	one := e.Kind == KindDam || e.Kind == KindRested || e.Kind == KindRetired
	if one && len(e.Dam) > 1 {
		return errors.New("is a list: make an entry for each")
	}
	for i, s := range e.Dam {
		if err := checkName(s); err != nil {
			return err
		}
		if slices.Contains(e.Dam[:i], s) {
			return fmt.Errorf("names %s twice: name her once", s)
		}
	}
	return nil
}

func checkEggs(e *Entry) error {
	if e.Eggs < 1 || e.Eggs > mostEggs {
		return fmt.Errorf("%d is no number of eggs: give 1 to %d", e.Eggs, mostEggs)
	}
	return nil
}

func checkMass(g, least float64) error {
	if math.IsNaN(g) || g < least || g > mostGrams {
		return fmt.Errorf("%v is no mass in grams: give %v to %v", g, least, mostGrams)
	}
	return nil
}

func checkOffset(e *Entry) error {
	if k := *e.OffsetK; !(math.Abs(k) <= MostOffset) {
		return fmt.Errorf("%v is no difference between a box and its probe, in kelvin: give %d to %d", k, -MostOffset, MostOffset)
	}
	return nil
}

func checkTime(t time.Time) error {
	if y := t.UTC().Year(); y < 1970 || y > 2199 {
		return fmt.Errorf("is in the year %d: give one from 1970 to 2199", y)
	}
	return nil
}

func checkWhat(s string) error {
	if s != Shed && s != Fed && s != Weighed && s != Died {
		return fmt.Errorf("%q is nothing a hatchling does here: write shed, fed, weighed or died", s)
	}
	return nil
}

func checkPoints(e *Entry) error {
	within := func(v *float64, low, high float64) bool { return v != nil && *v >= low && *v <= high }
	for i, p := range e.Points {
		c := p.ReferenceRH == nil && p.ReadRH == nil && within(p.ReferenceC, -60, 150) && within(p.ReadC, -60, 150)
		rh := p.ReferenceC == nil && p.ReadC == nil && within(p.ReferenceRH, 0, 1) && within(p.ReadRH, -0.2, 1.2)
		if !c && !rh {
			return fmt.Errorf("point %d has no pair: give reference_c and read_c (Celsius), or reference_rh and read_rh (ratios)", i+1)
		}
	}
	return nil
}
