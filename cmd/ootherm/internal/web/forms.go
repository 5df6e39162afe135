package web

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/app/now"
	"example.com/ootherm/cmd/ootherm/internal/app/words"
	"example.com/ootherm/thermal/book"
)

// formKind is one form of the book: its fields are those of the entry it makes.
type formKind struct {
	Kind, Title, Hint string
	entry             book.Kind
	fields            []string
}

// kindFound is the one form that makes several entries: a clutch and where each
// of its eggs was placed.
const kindFound = "found"

// forms are the forms in the order of a season, the daily ones first. A box and
// an egg are moved by two forms, since one entry has two shapes.
func forms() []formKind {
	return []formKind{
		{kindFound, "Eggs found", "Keep the laid side up; turning kills.", book.KindClutch, []string{"dam", "eggs", "since", "box", "slots", "clutch"}},
		{"placed", "Egg placed", "Keep the laid side up; turning kills.", book.KindPlaced, []string{"egg", "box", "slot"}},
		{"looked", "Looked, no eggs", "A look into the lay box that found none dates the next clutch.", book.KindLooked, []string{"dam"}},
		{"candled", "Candled", "", book.KindCandled, []string{"egg", "verdict"}},
		{"weighed", "Box weighed", "", book.KindWeighed, []string{"box", "total_g"}},
		{"watered", "Box watered", "", book.KindWatered, []string{"box", "water_g"}},
		{"moved", "Box moved", "Carry it level; never turn eggs.", book.KindMoved, []string{"box", "zone", "probe", "offset"}},
		{"egg-moved", "Egg moved", "Keep the laid side up; turning kills.", book.KindMoved, []string{"egg", "box", "slot"}},
		{"pipped", "Pipped", "", book.KindPipped, []string{"egg"}},
		{"hatched", "Hatched", "", book.KindHatched, []string{"egg", "mass_g"}},
		{"lost", "Lost", "", book.KindLost, []string{"egg", "why"}},
		{"hatchling", "Hatchling", "", book.KindHatchling, []string{"hatchling", "what", "mass_g"}},
		{"note", "A note", "", book.KindNote, []string{"text", "about"}},
		{"pairing", "Paired", "", book.KindPairing, []string{"dam", "sire"}},
		{"dam", "A new dam", "", book.KindDam, []string{"name", "profile"}},
		{"box", "A box set up", "", book.KindBox, []string{"newbox", "zone", "probe", "offset", "medium", "dry_g", "water_g", "total_g"}},
		{"emptied", "Box emptied", "", book.KindEmptied, []string{"box"}},
	}
}

func formOf(kind string) (formKind, bool) {
	all := forms()
	i := slices.IndexFunc(all, func(f formKind) bool { return f.Kind == kind })
	if i < 0 {
		return formKind{}, false
	}
	return all[i], true
}

type option struct {
	Value, Text string
	Chosen      bool
}

type fieldView struct {
	Name, Label, Type, Value, None string
	Must, Many                     bool
	Options                        []option
}

// thumbs is how many options are shown as buttons; more go into a list.
const thumbs = 8

// pick offers options, with what was sent before, or the only one, chosen.
func pick(name, label, none string, must bool, sent []string, options []option) fieldView {
	f := fieldView{Name: name, Label: label, None: none, Must: must, Type: "pick", Options: options}
	if len(options) > thumbs {
		f.Type = "list"
	}
	for i := range options {
		options[i].Chosen = slices.Contains(sent, options[i].Value) || len(sent) == 0 && must && len(options) == 1
	}
	return f
}

func plain(names []string) []option {
	var all []option
	for _, n := range names {
		all = append(all, option{Value: n, Text: n})
	}
	return all
}

// field makes one field of a form from what the book and the station hold. sent
// is what was typed before.
func (s *server) field(name string, b *book.Book, n *now.Now, at time.Time, sent map[string][]string) fieldView {
	was := sent[name]
	value := ""
	if len(was) > 0 {
		value = was[0]
	}
	typed := func(label, kind string, must bool) fieldView {
		return fieldView{Name: name, Label: label, Type: kind, Value: value, Must: must}
	}
	switch name {
	case "dam":
		var all []option
		for _, d := range b.Dams() {
			if !d.Retired.IsZero() {
				continue
			}
			text := d.Name
			if t, ok := b.LastLook(d.Name, at); ok {
				text += ", last look " + s.Reader.When(t, at)
			}
			all = append(all, option{Value: d.Name, Text: text})
		}
		f := pick(name, "Dam (several where they live together)", "No dam is in the book yet; note one first.", false, was, all)
		f.Type, f.Many = "pick", true
		return f
	case "eggs":
		if len(was) == 0 {
			was = []string{"2"}
		}
		return pick(name, "How many", "", true, was, plain([]string{"1", "2", "3", "4", "5", "6"}))
	case "since":
		if len(was) == 0 {
			was = []string{"look"}
		}
		return pick(name, "Laid", "", true, was, []option{{Value: "look", Text: "since the last look"}, {Value: "24h", Text: "within a day"}, {Value: "72h", Text: "within 3 days"}, {Value: "168h", Text: "within a week"}})
	case "box":
		var all []option
		for _, x := range b.Boxes() {
			if x.InUse {
				all = append(all, option{Value: x.ID, Text: x.ID + ", " + words.Count(len(x.Eggs), "egg", "eggs")})
			}
		}
		return pick(name, "Box", "No box is in use; set one up first.", true, was, all)
	case "egg", "hatchling":
		var all []option
		for _, c := range b.Clutches() {
			for _, e := range c.Eggs {
				inside := e.Fate == book.Waiting || e.Fate == book.Pipped
				gone := slices.ContainsFunc(e.Hatchling, func(h book.Event) bool { return h.What == book.Died })
				if name == "egg" && inside || name == "hatchling" && e.Fate == book.Hatched && !gone {
					text := strings.Join(slices.DeleteFunc([]string{e.ID, strings.Join(c.Dams, " or ")}, func(s string) bool { return s == "" }), ", ")
					if inside && e.Box != "" {
						text += ", box " + e.Box + " slot " + e.Slot
					}
					all = append(all, option{Value: e.ID, Text: text})
				}
			}
		}
		slices.SortStableFunc(all, func(x, y option) int { return cmp.Compare(x.Value, y.Value) })
		return pick(name, capital(name), "None is in the book.", true, was, all)
	case "zone":
		var all []string
		for _, z := range n.Zones {
			all = append(all, z.Zone)
		}
		return pick(name, "Zone", "No zone is set up.", true, was, plain(all))
	case "probe":
		all := []option{{Value: "", Text: "none of its own"}}
		for _, z := range n.Zones {
			for _, p := range z.Probes {
				all = append(all, option{Value: p.Probe, Text: p.Probe + " (" + z.Zone + ")"})
			}
		}
		if len(was) == 0 {
			was = []string{""}
		}
		return pick(name, "Probe in the box", "", true, was, all)
	case "profile":
		return pick(name, "Kind", "", false, was, plain(s.Profiles))
	case "verdict":
		return pick(name, "Verdict", "", true, was, []option{{Value: book.Fertile, Text: "fertile"}, {Value: book.Infertile, Text: "infertile"}, {Value: book.Slug, Text: "slug"}, {Value: "unsure", Text: "cannot tell"}})
	case "what":
		return pick(name, "What", "", true, was, plain([]string{book.Fed, book.Shed, book.Weighed, book.Died}))
	case "slots":
		return typed("Slots (empty: the next free ones)", "text", false)
	case "clutch":
		return typed("Name of the clutch", "text", true)
	case "name":
		return typed("Her name", "text", true)
	case "newbox":
		return typed("Name of the box", "text", true)
	case "slot":
		return typed("Slot", "text", true)
	case "sire":
		return typed("Sire", "text", true)
	case "total_g":
		return typed("Mass in all, g", "number", false)
	case "water_g":
		return typed("Water, g (the same in ml)", "number", false)
	case "dry_g":
		return typed("Dry medium, g", "number", false)
	case "mass_g":
		return typed("Mass, g", "number", false)
	case "offset":
		unit := "°C"
		if s.Reader.Units == words.Fahrenheit {
			unit = "°F"
		}
		return typed("If it is warmer than that probe or place: by how much, "+unit+" (-1 is colder)", "text", false)
	case "medium":
		return typed("Medium", "text", false)
	case "text":
		return typed("Note", "long", true)
	case "about":
		return typed("About (a dam, a box, an egg)", "text", false)
	}
	return typed("Why", "text", false) // why, the one that is left
}

// said is an entry in a few words.
func said(e book.Entry) string {
	i := slices.IndexFunc(forms(), func(f formKind) bool {
		return f.entry == e.Kind && (f.Kind != "moved" || e.Egg == "")
	})
	title := capital(string(e.Kind))
	if i >= 0 {
		title = forms()[i].Title
	}
	if e.Kind == book.KindLooked && e.Found.Eggs() {
		title = "Looked, eggs there"
	}
	parts := []string{e.Clutch, strings.Join(e.Dam, " or "), e.Egg, e.Box, e.Zone, e.Verdict, e.What, e.Why, e.About, e.Text}
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
