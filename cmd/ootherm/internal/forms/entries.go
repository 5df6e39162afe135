package forms

import (
	"fmt"
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
)

// Entries is what a form says that was filled in: entries under the form's key,
// of a time, by the reader's units. It looks at the form alone, so that a form
// sent twice says the same.
func (f Form) Entries(key string, at time.Time, units words.Units, sent url.Values) ([]book.Entry, error) {
	text := func(name string) string { return strings.TrimSpace(strings.ReplaceAll(sent.Get(name), "\r\n", "\n")) }
	e := book.Entry{Key: key, At: at, Kind: f.entry}
	for _, x := range f.Fields {
		v := text(x.Name)
		if x.Other != "" { // what was written goes before what was chosen
			for _, s := range sent[x.Name] {
				if s = strings.TrimSpace(s); s != "" {
					v = s
				}
			}
		}
		switch x.Name {
		case "dam":
			e.Dam = slices.DeleteFunc(slices.Clone(sent["dam"]), func(d string) bool { return d == "" })
		case "name":
			e.Dam = book.Names{v}
		case "box", "newbox":
			e.Box = v
		case "egg", "hatchling":
			e.Egg = v
		case "zone":
			e.Zone = v
		case "probe":
			e.Probe = v
		case "offset":
			var err error
			if e.OffsetK, err = difference(v, units); err != nil {
				return nil, err
			}
		case "slot":
			e.Slot = v
		case "profile":
			e.Profile = v
		case "verdict":
			if !slices.ContainsFunc(x.fixed, func(o Option) bool { return o.Value == v }) {
				return nil, Fault(fmt.Sprintf("%q is no verdict; it is fertile, infertile, slug or unsure", v))
			}
			e.Verdict = v
		case "what":
			e.What = v
		case "why":
			e.Why = v
		case "sire":
			e.Sire = v
		case "medium":
			e.Medium = v
		case "text":
			e.Text = v
		case "about":
			e.About = v
		case "clutch":
			e.Clutch = v
		case "eggs":
			n, err := strconv.Atoi(v)
			if err != nil {
				return nil, Fault("say how many eggs there are")
			}
			e.Eggs = n
		}
		if x.Sort == Number && v != "" {
			g, err := strconv.ParseFloat(strings.Replace(v, ",", ".", 1), 64)
			if err != nil || math.IsNaN(g) || math.IsInf(g, 0) {
				return nil, Fault(fmt.Sprintf("%q is no mass; write grams, like 112.5", v))
			}
			*map[string]**float64{"total_g": &e.TotalG, "water_g": &e.WaterG, "dry_g": &e.DryG, "mass_g": &e.MassG}[x.Name] = &g
		}
	}
	switch f.Kind {
	case "pairing", "rested", "retired":
		if len(e.Dam) != 1 {
			return nil, Fault("choose one dam")
		}
	case "looked":
		e.Found = "false"
	case Found:
		return found(e, sent)
	}
	return []book.Entry{e}, nil
}

// difference is a difference of temperature, in kelvin; nil for none. Its unit may
// stand behind it.
func difference(text string, units words.Units) (*float64, error) {
	if text == "" {
		return nil, nil
	}
	figure := strings.Replace(text, ",", ".", 1)
	for suffix, u := range map[string]words.Units{"F": words.Fahrenheit, "C": words.Celsius} {
		if rest, ok := strings.CutSuffix(strings.ToUpper(figure), suffix); ok {
			figure, units = strings.TrimRight(rest, " °"), u
		}
	}
	v, err := strconv.ParseFloat(figure, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return nil, Fault(fmt.Sprintf("%q is no difference of temperature; write degrees, like 0.5 or -0.5", text))
	}
	most := float64(book.MaxOffsetK)
	if units == words.Fahrenheit {
		most *= 1.8
	}
	if math.Abs(v) > most {
		return nil, Fault(fmt.Sprintf("%q is more than a box may differ from its probe or its place; write at most %g degrees", text, most))
	}
	if units == words.Fahrenheit {
		v /= 1.8
	}
	return &v, nil
}

// found is a clutch and its eggs' places. The box is the clutch's eggs', not its
// own.
func found(e book.Entry, sent url.Values) ([]book.Entry, error) {
	box := e.Box
	e.Box = ""
	if box == "" {
		return nil, Fault("choose the box that the eggs are in")
	}
	e.LaidBy = e.At
	if since := sent.Get("since"); since == "look" {
		// The earliest of several dams': it may be hers.
		for _, d := range e.Dam {
			t, err := time.Parse(time.RFC3339Nano, sent.Get(look+d))
			if err != nil {
				return nil, Fault("no earlier look is noted for " + d + ": choose how long ago her lay box was last seen empty")
			}
			if e.LaidAfter.IsZero() || t.Before(e.LaidAfter) {
				e.LaidAfter = t
			}
		}
		if len(e.Dam) == 0 {
			return nil, Fault("without a dam there is no last look: choose how long ago the lay box was last seen empty")
		}
	} else {
		d, err := time.ParseDuration(since)
		if err != nil || d <= 0 {
			return nil, Fault("say since when the eggs may have been laid")
		}
		e.LaidAfter = e.At.Add(-d)
	}
	if e.LaidAfter.After(e.LaidBy) {
		return nil, Fault("the last look that found none is later than the time of this form: look at the time, or choose how long before it the eggs may have been laid")
	}
	slots := strings.Fields(strings.ReplaceAll(sent.Get("slots"), ",", " "))
	if len(slots) == 0 {
		slots = strings.Fields(sent.Get(free + box))
	}
	if e.Eggs < 1 || e.Eggs > 100 || len(slots) < e.Eggs {
		return nil, Fault(fmt.Sprintf("%d eggs need as many slots, and there are %d: write a name for each, like a b c", e.Eggs, len(slots)))
	}
	all := []book.Entry{e}
	for i := range e.Eggs {
		all = append(all, book.Entry{Key: fmt.Sprintf("%s.%d", e.Key, i+1), At: e.At, Kind: book.KindPlaced, Egg: book.EggID(e.Clutch, i+1), Box: box, Slot: slots[i]})
	}
	return all, nil
}

// Undo voids an entry, with the places that came with it by its form. The voids
// have the key given and are of a time.
func Undo(b *book.Book, target, key string, at time.Time) []book.Entry {
	var voids []book.Entry
	for i, t := 0, target; ; i++ {
		if _, _, ok := b.Entry(t); !ok && i > 0 {
			return voids
		}
		voids = append(voids, book.Entry{Key: fmt.Sprintf("%s.%d", key, i), At: at, Kind: book.KindVoid, Void: t})
		t = fmt.Sprintf("%s.%d", target, i+1)
	}
}

// Part reports whether an entry is the place of an egg that came with its
// clutch, and is undone with it.
func Part(b *book.Book, e book.Entry) bool {
	base, _, part := strings.Cut(e.Key, ".")
	if !part || e.Kind != book.KindPlaced {
		return false
	}
	_, _, ok := b.Entry(base)
	return ok
}

// Refused is what the book has against a form's entries, each once: without their
// lines and keys, which no person wrote, and with the name that the form has for
// what was asked, by a field of it, or by "at" or "key".
func (f Form) Refused(faults book.Faults, called func(name string, x Field) string) []string {
	var all []string
	for _, x := range faults {
		text := x.Words
		if i := slices.IndexFunc(f.Fields, func(y Field) bool { return x.Field != "" && y.fills() == x.Field }); i >= 0 {
			text = called(f.Fields[i].Name, f.Fields[i]) + ": " + text
		} else if x.Field == "at" || x.Field == "key" {
			text = called(x.Field, Field{}) + ": " + text
		}
		if !slices.Contains(all, text) {
			all = append(all, text)
		}
	}
	return all
}

// fills is the field of an entry that an answer goes into.
func (f Field) fills() string {
	switch f.Name {
	case "name":
		return "dam"
	case "newbox":
		return "box"
	case "hatchling":
		return "egg"
	case "slots":
		return "slot"
	case "since":
		return "laid_after"
	case "offset":
		return "offset_k"
	}
	return f.Name
}

// Short is what a field asks for, without what stands beside it in brackets.
func (f Field) Short() string {
	short, _, _ := strings.Cut(f.Label, " (")
	return short
}

// Said is an entry in a few words.
func Said(e book.Entry) string {
	all := All()
	i := slices.IndexFunc(all, func(f Form) bool {
		return f.entry == e.Kind && (f.Kind != "moved" || e.Egg == "")
	})
	title := strings.ToUpper(string(e.Kind[:1])) + string(e.Kind[1:])
	if i >= 0 {
		title = all[i].Title
	}
	if e.Kind == book.KindLooked && e.Found.Eggs() {
		title = "Looked, eggs there"
	}
	parts := []string{e.Clutch, strings.Join(e.Dam, " or "), e.Sire, e.Egg, e.Box, e.Zone, e.Verdict, e.What, e.Why, e.About, e.Text}
	if e.Eggs > 0 {
		parts = append(parts, words.Count(e.Eggs, "egg", "eggs"))
	}
	for _, g := range []*float64{e.TotalG, e.WaterG, e.MassG} {
		if g != nil {
			parts = append(parts, fmt.Sprintf("%g g", *g))
		}
	}
	parts = slices.DeleteFunc(parts, func(s string) bool { return s == "" })
	if len(parts) == 0 {
		return title
	}
	return title + ": " + strings.Join(parts, ", ")
}
