package book

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// Check returns everything wrong with an entry by itself, as [Parse] does: nil, or
// a [Faults].
func (e Entry) Check() error { return check(&e).err() }

// check checks an entry's kind, its fields and their values.
func check(e *Entry) (faults Faults) {
	fault := func(field, words string) {
		faults = append(faults, Fault{Key: e.Key, Field: field, Words: words})
	}
	if e.Key == "" {
		fault("key", "is missing: give each entry a key of its own")
	}
	if e.At.IsZero() {
		fault("at", "is missing: say when it happened")
	}
	sh, known := shapeOf(e)
	switch {
	case e.Kind == "":
		fault("entry", "is missing: say what the entry is, like clutch or placed")
	case !known:
		fault("entry", fmt.Sprintf("%q is no kind of entry: check its spelling", e.Kind))
	}
	for _, f := range entryFields {
		present := f.present(e)
		belongs := true
		if known {
			belongs = f.belongs(sh, present, e.Kind, fault)
		}
		if !present || !belongs {
			continue
		}
		if err := f.check(e); err != nil {
			fault(f.name, err.Error())
		}
	}
	if len(faults) > 0 {
		return faults
	}
	if field, words := conflict(e); words != "" {
		fault(field, words)
	}
	return faults
}

// belongs reports whether a field of an entry, present or not, fits its kind.
func (f field) belongs(s shape, present bool, k Kind, fault func(field, words string)) bool {
	switch f.name {
	case "key", "at", "entry", "seq", "recorded": // of every kind
		return true
	}
	required := has(s.must, f.name)
	switch {
	case required && !present:
		fault(f.name, "is missing: "+k.article()+" entry needs it")
	case present && !required && !has(s.may, f.name):
		fault(f.name, "does not belong in "+k.article()+" entry: take it out")
		return false
	}
	return true
}

// article is the kind after a or an.
func (k Kind) article() string {
	if k != "" && strings.ContainsRune("aeiou", rune(k[0])) {
		return "an " + string(k)
	}
	return "a " + string(k)
}

// conflict finds fields of an entry that contradict each other. It is empty when
// there are none.
func conflict(e *Entry) (field, words string) {
	switch {
	case e.Kind == KindClutch && e.LaidAfter.After(e.LaidBy):
		return "laid_after", "is later than laid_by: exchange them"
	case e.Kind == KindClutch && e.LaidAfter.After(e.At):
		return "laid_after", "is later than the day the eggs were found: check at and laid_after"
	case e.Kind == KindClutch && checkName(EggID(e.Clutch, e.Eggs)) != nil:
		return "clutch", "is too long for its eggs to be named after it: shorten it"
	case e.Kind == KindHatchling && e.What == Weighed && e.MassG == nil:
		return "mass_g", "is missing: say what it weighed"
	case e.Kind == KindAmended && e.Name == "" && e.Profile == "":
		return "profile", "is missing: give her kind, or her name as it should be"
	case e.Kind == KindVoid && e.Void == e.Key:
		return "void", "names its own key: name the entry to undo"
	}
	return "", ""
}

// check checks the value of a field that an entry has.
func (f field) check(e *Entry) error {
	switch v := f.of(e).(type) {
	case *string:
		return checkString(f.name, *v)
	case *Found:
		var again Found
		return readFound([]byte(*v), &again)
	case *Names:
		return checkDams(e)
	case *[]Point:
		return checkPoints(*v)
	case *int:
		return checkEggs(*v)
	case **float64:
		return checkNumber(f.name, **v)
	case *time.Time:
		return checkTime(*v)
	}
	return nil
}

func checkString(field, s string) error {
	switch field {
	case "egg":
		return checkEgg(s)
	case "what":
		if s != Shed && s != Fed && s != Weighed && s != Died {
			return fmt.Errorf("%q is nothing a hatchling does here: write shed, fed, weighed or died", s)
		}
		return nil
	case "why", "text":
		return checkText(s)
	}
	return checkName(s)
}

func checkNumber(field string, v float64) error {
	switch field {
	case "offset_k":
		return checkOffset(v)
	case "water_g":
		return checkMass(v, 0)
	case "mass_g":
		return checkMass(v, minHatchlingG)
	}
	return checkMass(v, minMassG)
}

// The limits of a value. Our choice: beyond them is a slip of the keyboard.
const (
	maxNameLetters = 200
	maxTextLetters = 10_000
	maxEggs        = 1000
	minHatchlingG  = 0.001
	minMassG       = 0.01
	maxMassG       = 100_000
)

// MaxOffsetK is how far a box may differ from its probe, or from its zone's air, in
// kelvin. Our choice: beyond it is a slip of the keyboard.
const MaxOffsetK = 10

func checkName(s string) error {
	switch {
	case utf8.RuneCountInString(s) > maxNameLetters:
		return fmt.Errorf("is longer than %d letters: shorten it", maxNameLetters)
	case !utf8.ValidString(s) || strings.ContainsFunc(s, unicode.IsControl):
		return errors.New("has a character that cannot be printed: type it again")
	case s == "." || s == "..":
		// In an address and in a folder these name another place, so its page and
		// its label could not be reached.
		return fmt.Errorf("%q is no name: write a letter or a figure with it", s)
	case strings.TrimSpace(s) != s:
		return fmt.Errorf("%q has a space at an end: take it off", s)
	}
	return nil
}

func checkText(s string) error {
	bad := func(r rune) bool { return unicode.IsControl(r) && r != '\n' && r != '\r' && r != '\t' }
	switch {
	case utf8.RuneCountInString(s) > maxTextLetters:
		return fmt.Errorf("is longer than %d letters: shorten it", maxTextLetters)
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

func checkDams(e *Entry) error {
	one := e.Kind == KindDam || e.Kind == KindAmended || e.Kind == KindRested || e.Kind == KindRetired
	if one && len(e.Dam) > 1 {
		return errors.New("is a list: make an entry for each")
	}
	for i, s := range e.Dam {
		if s == "" {
			return errors.New("is empty: leave it out or fill it in")
		}
		if err := checkName(s); err != nil {
			return err
		}
		if slices.Contains(e.Dam[:i], s) {
			return fmt.Errorf("names %s twice: name her once", s)
		}
	}
	return nil
}

func checkEggs(n int) error {
	if n < 1 || n > maxEggs {
		return fmt.Errorf("%d is no number of eggs: give 1 to %d", n, maxEggs)
	}
	return nil
}

func checkMass(g, least float64) error {
	if math.IsNaN(g) || g < least || g > maxMassG {
		return fmt.Errorf("%v is no mass in grams: give %v to %v", g, least, maxMassG)
	}
	return nil
}

func checkOffset(k float64) error {
	if !(math.Abs(k) <= MaxOffsetK) {
		return fmt.Errorf("%v is no difference between a box and its probe, in kelvin: give %d to %d", k, -MaxOffsetK, MaxOffsetK)
	}
	return nil
}

func checkTime(t time.Time) error {
	if y := t.UTC().Year(); y < 1970 || y > 2199 {
		return fmt.Errorf("is in the year %d: give one from 1970 to 2199", y)
	}
	return nil
}

func checkPoints(points []Point) error {
	within := func(v *float64, low, high float64) bool { return v != nil && *v >= low && *v <= high }
	for i, p := range points {
		c := p.ReferenceRH == nil && p.ReadRH == nil && within(p.ReferenceC, -60, 150) && within(p.ReadC, -60, 150)
		rh := p.ReferenceC == nil && p.ReadC == nil && within(p.ReferenceRH, 0, 1) && within(p.ReadRH, -0.2, 1.2)
		if !c && !rh {
			return fmt.Errorf("point %d has no pair: give reference_c and read_c (Celsius), or reference_rh and read_rh (ratios)", i+1)
		}
	}
	return nil
}
