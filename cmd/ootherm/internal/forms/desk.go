package forms

import (
	"cmp"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/husbandry"
)

// Desk is the state that a form is filled in against. An empty one knows the options
// that every station has.
type Desk struct {
	Book     *book.Book
	Now      *snapshot.Snapshot
	Profiles []string // kinds of animal that a dam may be
	// EggG gives how heavy an egg of a profile may be, grams; 0 and 0 where that is
	// not known. nil: it is known of no profile.
	EggG   func(profile string) (least, most float64)
	Reader words.Reader
	At     time.Time // when the noted thing happened
}

// Options are what may be chosen in a field.
func (d Desk) Options(f Field) []Option {
	if f.options == nil || d.Book == nil || d.Now == nil {
		return f.fixed
	}
	return f.options(d)
}

// since are the answers to since when eggs may have been laid, by what is noted of the
// dams that may lay.
func (d Desk) since() []Option {
	var looked, not bool
	for _, dam := range d.Book.Dams() {
		if dam.Retired.IsZero() {
			_, ok := husbandry.LastEmptyLook(*d.Book, dam.Name, d.At)
			looked, not = looked || ok, not || !ok
		}
	}
	switch {
	case !looked:
		return sinceOptions("no look noted before: within a week")
	case !not:
		return sinceOptions("since the last look")
	}
	return sinceOptions(sinceEither)
}

// allDams are the dams of the book, each with her kind.
func (d Desk) allDams() (all []Option) {
	for _, dam := range d.Book.Dams() {
		all = append(all, Option{dam.Name, dam.Name + ", " + cmp.Or(dam.Profile, "no kind")})
	}
	return all
}

// clutches are the clutches of the book, the last first, each with its dams and kind.
func (d Desk) clutches() (all []Option) {
	for _, c := range slices.Backward(d.Book.Clutches()) {
		text := strings.Join(slices.DeleteFunc([]string{c.ID, strings.Join(c.Dams, " or "), cmp.Or(c.Profile, "no kind")}, func(s string) bool { return s == "" }), ", ")
		all = append(all, Option{c.ID, text})
	}
	return all
}

// kindInUse is the kind that all dams have whose kind is noted; empty where they differ.
func (d Desk) kindInUse() (kind string) {
	for _, dam := range d.Book.Dams() {
		switch {
		case dam.Profile == "" || dam.Profile == kind:
		case kind != "":
			return ""
		default:
			kind = dam.Profile
		}
	}
	return kind
}

// breedingDams are the dams that are not retired, each with her last look.
func (d Desk) breedingDams() (all []Option) {
	for _, dam := range d.Book.Dams() {
		if !dam.Retired.IsZero() {
			continue
		}
		text := dam.Name
		if t, ok := husbandry.LastEmptyLook(*d.Book, dam.Name, d.At); ok {
			text += ", last look " + d.Reader.When(t, d.At)
		} else {
			text += ", no look noted"
		}
		all = append(all, Option{dam.Name, text})
	}
	return all
}

// boxesToWeigh are the boxes in use, those that are due first, then by name.
func (d Desk) boxesToWeigh() []Option {
	due := map[string]int{}
	for _, b := range d.Now.Boxes {
		if d.weighs(b) {
			due[b.Box] = 1
		}
	}
	all := d.boxesInUse()
	slices.SortStableFunc(all, func(a, b Option) int { return cmp.Compare(due[b.Value], due[a.Value]) })
	return all
}

// weighs reports whether a box is due to be weighed.
func (d Desk) weighs(b snapshot.Box) bool {
	return b.Medium != nil && b.Medium.WeighNext != nil && !b.Medium.WeighNext.After(d.At)
}

// boxesInUse are the boxes in use by name; of two numbers the lower is first.
func (d Desk) boxesInUse() (all []Option) {
	for _, x := range d.Book.Boxes() {
		if x.InUse {
			all = append(all, Option{x.ID, x.ID + ", " + words.Count(len(x.Eggs), "egg", "eggs")})
		}
	}
	slices.SortStableFunc(all, func(a, b Option) int {
		x, y := strings.TrimRight(a.Value, "0123456789"), strings.TrimRight(b.Value, "0123456789")
		return cmp.Or(cmp.Compare(x, y), cmp.Compare(len(a.Value), len(b.Value)), cmp.Compare(a.Value, b.Value))
	})
	return all
}

func (d Desk) zones() (all []Option) {
	for _, z := range d.Now.Zones {
		all = append(all, Option{z.Zone, z.Zone})
	}
	return all
}

func (d Desk) probes() []Option {
	all := []Option{{noProbe, "none of its own"}}
	for _, z := range d.Now.Zones {
		for _, p := range z.Probes {
			all = append(all, Option{p.Probe, p.Probe + " (" + z.Zone + ")"})
		}
	}
	return all
}

// waitingEggs are the eggs that may still hatch.
func (d Desk) waitingEggs() []Option { return d.eggs(waits) }

// livingHatchlings are the eggs that hatched and whose hatchling did not die.
func (d Desk) livingHatchlings() []Option {
	return d.eggs(func(e book.Egg) bool {
		return e.Fate == book.Hatched && !slices.ContainsFunc(e.Hatchling, func(h book.Event) bool { return h.What == book.Died })
	})
}

func waits(e book.Egg) bool { return e.Fate == book.Waiting || e.Fate == book.Pipped }

// eggs are the eggs of the book that are wanted, by name.
func (d Desk) eggs(wanted func(book.Egg) bool) (all []Option) {
	for _, c := range d.Book.Clutches() {
		for _, e := range c.Eggs {
			if !wanted(e) {
				continue
			}
			text := strings.Join(slices.DeleteFunc([]string{e.ID, strings.Join(c.Dams, " or ")}, func(s string) bool { return s == "" }), ", ")
			if waits(e) && e.Box != "" {
				text += ", box " + e.Box + " slot " + e.Slot
			}
			all = append(all, Option{e.ID, text})
		}
	}
	slices.SortStableFunc(all, func(x, y Option) int { return cmp.Compare(x.Value, y.Value) })
	return all
}

// Opened are the answers of a form that is opened and not touched: the usual answer
// to each field, the only option where there is one, and what the form pins.
func (d Desk) Opened(f Form) url.Values {
	v := url.Values{}
	for _, x := range f.Fields {
		switch {
		case x.opened != nil:
			v.Set(x.Name, x.opened(d))
		case x.Usual != "":
			v.Set(x.Name, x.Usual)
		case x.Must && x.Sort == Pick:
			if all := d.Options(x); len(all) == 1 {
				v.Set(x.Name, all[0].Value)
			}
		}
	}
	switch f.Kind {
	case Found:
		d.pin(v)
	case BoxCandled:
		for _, x := range d.Book.Boxes() {
			v.Set(eggsPrefix+x.ID, strings.Join(x.Eggs, eggsApart))
		}
	case "dam":
		if kind := d.kindInUse(); slices.Contains(d.Profiles, kind) {
			v.Set("profile", kind)
		}
	}
	return v
}

// Missing are the fields that must be chosen and are not.
func (d Desk) Missing(f Form, sent url.Values) (all []Field) {
	for _, x := range f.Fields {
		if x.Must && x.Sort == Pick && x.answered(sent) == "" && len(d.Options(x)) > 0 {
			all = append(all, x)
		}
	}
	return all
}

// freeClutchName is a name that no clutch has.
func (d Desk) freeClutchName() string {
	for i := len(d.Book.Clutches()) + 1; ; i++ {
		name := "C" + strconv.Itoa(i)
		if _, there := d.Book.Clutch(name); !there {
			return name
		}
	}
}

// pin writes each dam's last look and each box's free slots into the form of eggs
// found when it is opened. They are sent along, so the same form makes the same
// entries however late or often it arrives.
func (d Desk) pin(v url.Values) {
	for _, dam := range d.Book.Dams() {
		look := noLook
		if t, ok := husbandry.LastEmptyLook(*d.Book, dam.Name, d.At); ok {
			look = t.UTC().Format(time.RFC3339Nano)
		}
		v.Set(lookPrefix+dam.Name, look)
	}
	for _, x := range d.Book.Boxes() {
		var slots []string
		for c := 'a'; c <= 'z'; c++ {
			taken := slices.ContainsFunc(x.Eggs, func(id string) bool { e, _ := d.Book.Egg(id); return strings.EqualFold(e.Slot, string(c)) })
			if !taken {
				slots = append(slots, string(c))
			}
		}
		v.Set(freePrefix+x.ID, strings.Join(slots, " "))
	}
}

// Names of pinned values begin with the prefixes; the dam's, box's or egg's name follows.
// noLook is the value of a dam without a look.
const (
	noLook        = "none"
	lookPrefix    = "look "
	freePrefix    = "free "
	eggsPrefix    = "eggs "
	VerdictPrefix = "verdict " // of the verdict of one egg among those of a box
	eggsApart     = "\t"       // between the eggs of a box; no name has it
)

// Pinned reports whether a value of a form answers none of its fields: [Desk.Opened] wrote
// it, or it is the verdict of one egg.
func Pinned(name string) bool {
	return slices.ContainsFunc([]string{lookPrefix, freePrefix, eggsPrefix, VerdictPrefix}, func(p string) bool { return strings.HasPrefix(name, p) })
}
