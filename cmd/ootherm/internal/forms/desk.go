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

// Desk is what a person who fills a form in has before them. An empty one knows
// the answers that are the same everywhere.
type Desk struct {
	Book     *book.Book
	Now      *snapshot.Snapshot
	Profiles []string // kinds of animal that a dam may be
	// EggG is how heavy an egg of a kind may be, grams; 0 and 0 where that is not
	// known.
	EggG   func(profile string) (least, most float64)
	Reader words.Reader
	At     time.Time // what is noted happened then
}

// Options are what may be chosen in a field.
func (d Desk) Options(f Field) []Option {
	if d.Book == nil || d.Now == nil {
		return f.fixed
	}
	var all []Option
	switch f.Name {
	case "dam":
		for _, dam := range d.Book.Dams() {
			if !dam.Retired.IsZero() {
				continue
			}
			text := dam.Name
			if t, ok := husbandry.LastEmptyLook(*d.Book, dam.Name, d.At); ok {
				text += ", last look " + d.Reader.When(t, d.At)
			}
			all = append(all, Option{dam.Name, text})
		}
	case "box":
		for _, x := range d.Book.Boxes() {
			if x.InUse {
				all = append(all, Option{x.ID, x.ID + ", " + words.Count(len(x.Eggs), "egg", "eggs")})
			}
		}
	case "egg", "hatchling":
		all = d.eggs(f.Name == "egg")
	case "zone":
		for _, z := range d.Now.Zones {
			all = append(all, plain(z.Zone)...)
		}
	case "probe":
		all = []Option{{"", "none of its own"}}
		for _, z := range d.Now.Zones {
			for _, p := range z.Probes {
				all = append(all, Option{p.Probe, p.Probe + " (" + z.Zone + ")"})
			}
		}
	case "profile":
		all = plain(d.Profiles...)
	default:
		all = f.fixed
	}
	return all
}

// eggs are the eggs that wait, or the hatchlings that live.
func (d Desk) eggs(waiting bool) []Option {
	var all []Option
	for _, c := range d.Book.Clutches() {
		for _, e := range c.Eggs {
			inside := e.Fate == book.Waiting || e.Fate == book.Pipped
			gone := slices.ContainsFunc(e.Hatchling, func(h book.Event) bool { return h.What == book.Died })
			if waiting && !inside || !waiting && (e.Fate != book.Hatched || gone) {
				continue
			}
			text := strings.Join(slices.DeleteFunc([]string{e.ID, strings.Join(c.Dams, " or ")}, func(s string) bool { return s == "" }), ", ")
			if inside && e.Box != "" {
				text += ", box " + e.Box + " slot " + e.Slot
			}
			all = append(all, Option{e.ID, text})
		}
	}
	slices.SortStableFunc(all, func(x, y Option) int { return cmp.Compare(x.Value, y.Value) })
	return all
}

// Opened is what a form says that was opened and not touched: the usual answer
// to each field, the only one where there is no choice, and what it knew.
func (d Desk) Opened(f Form) url.Values {
	v := url.Values{}
	for _, x := range f.Fields {
		switch {
		case x.first != "":
			v.Set(x.Name, x.first)
		case x.Name == "probe":
			v.Set(x.Name, "")
		case x.Name == "clutch":
			v.Set(x.Name, freshClutch(d.Book))
		case x.Must && x.Sort == Pick:
			if all := d.Options(x); len(all) == 1 {
				v.Set(x.Name, all[0].Value)
			}
		}
	}
	if f.Kind == Found {
		d.pin(v)
	}
	return v
}

// freshClutch is a name that no clutch has.
func freshClutch(b *book.Book) string {
	for i := len(b.Clutches()) + 1; ; i++ {
		name := "C" + strconv.Itoa(i)
		if _, there := b.Clutch(name); !there {
			return name
		}
	}
}

// pin writes down what the form of eggs found knows when it is opened: each
// dam's last look and each box's free slots. It is sent along, so that the same
// form makes the same entries however late or often it arrives.
func (d Desk) pin(v url.Values) {
	for _, dam := range d.Book.Dams() {
		if t, ok := husbandry.LastEmptyLook(*d.Book, dam.Name, d.At); ok {
			v.Set(look+dam.Name, t.UTC().Format(time.RFC3339Nano))
		}
	}
	for _, x := range d.Book.Boxes() {
		var slots []string
		for c := 'a'; c <= 'z'; c++ {
			taken := slices.ContainsFunc(x.Eggs, func(id string) bool { e, _ := d.Book.Egg(id); return strings.EqualFold(e.Slot, string(c)) })
			if !taken {
				slots = append(slots, string(c))
			}
		}
		v.Set(free+x.ID, strings.Join(slots, " "))
	}
}

const look, free = "look ", "free "

// Pinned reports whether a value was written into a form by [Desk.Opened] and is
// no answer of a person.
func Pinned(name string) bool { return strings.HasPrefix(name, look) || strings.HasPrefix(name, free) }
