package forms

import (
	"fmt"
	"maps"
	"net/url"
	"slices"
	"strconv"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
)

// What may be chosen follows the book and the station; an empty desk knows what is
// the same everywhere.
func TestOptions(t *testing.T) {
	d := season(t)
	for name, want := range map[string][]Option{
		"dam":       {{"Sorrel", "Sorrel, last look 7 June 19:00"}},
		"box":       {{"B1", "B1, 2 eggs"}, {"B2", "B2, 0 eggs"}},
		"egg":       {{"S1-3", "S1-3, Sorrel, box B1 slot c"}, {"S1-4", "S1-4, Sorrel, box B1 slot d"}, {"S2-1", "S2-1, Sorrel"}},
		"hatchling": {{"S1-1", "S1-1, Sorrel"}},
		"whose":     {{"Sorrel", "Sorrel, crested gecko"}, {"Tansy", "Tansy, no kind"}},
		"laying":    {{"S2", "S2, Sorrel, crested gecko"}, {"S1", "S1, Sorrel, crested gecko"}},
		"zone":      {{"incubator", "incubator"}, {"room", "room"}},
		"probe":     {{"", "none of its own"}, {"incubator-air", "incubator-air (incubator)"}, {"shelf", "shelf (room)"}, {"dummy-box", "dummy-box (room)"}},
		"profile":   {{"crested gecko", "crested gecko"}, {"leopard gecko", "leopard gecko"}},
	} {
		if got := d.Options(fields[name]); !slices.Equal(got, want) {
			t.Errorf("%s: options are %q, want %q", name, got, want)
		}
		if got := (Desk{}).Options(fields[name]); len(got) > 0 {
			t.Errorf("%s: with no station the options are %q", name, got)
		}
	}
	for name, want := range map[string][]string{
		"eggs": {"1", "2", "3", "4", "5", "6"}, "since": {"look", "24h", "72h", "168h"},
		"verdict": {"fertile", "infertile", "slug", "unsure"}, "what": {"fed", "shed", "weighed", "died"},
	} {
		for _, d := range []Desk{d, {}} {
			if got := Values(d.Options(fields[name])); !slices.Equal(got, want) {
				t.Errorf("%s: options are %q, want %q", name, got, want)
			}
		}
	}
}

// Boxes are offered by name, the lower number first; to be weighed, those that are due before
// the others.
func TestBoxesInOrder(t *testing.T) {
	now := time.Date(2026, 6, 9, 12, 0, 0, 0, time.UTC)
	var entries []book.Entry
	for i, name := range []string{"N1", "B10", "B2", "B1"} {
		entries = append(entries, book.Entry{Key: strconv.Itoa(i), At: now.AddDate(0, 0, -30), Kind: book.KindBox, Box: name, Zone: "room"})
	}
	b, err := book.Fold(entries)
	if err != nil {
		t.Fatal(err)
	}
	soon, since := now.Add(time.Hour), now.Add(-time.Hour)
	d := Desk{Book: &b, At: now, Now: &snapshot.Snapshot{Boxes: []snapshot.Box{{Box: "B1", Medium: &snapshot.Medium{WeighNext: &soon}}, {Box: "B2", Medium: &snapshot.Medium{}}, {Box: "N1", Medium: &snapshot.Medium{WeighNext: &since}}, {Box: "B10", Medium: &snapshot.Medium{WeighNext: &since}}}}}
	for kind, want := range map[string][]string{"weighed": {"B10", "N1", "B1", "B2"}, "watered": {"B1", "B2", "B10", "N1"}} {
		f, _ := Of(kind)
		if got := Values(d.Options(f.Fields[0])); !slices.Equal(got, want) {
			t.Errorf("%s: the boxes are %q, want %q", kind, got, want)
		}
	}
}

// A form that is opened has the usual answers, and the only option where there is
// one. Eggs found also has the looks and the free slots of that moment.
func TestOpened(t *testing.T) {
	d := season(t)
	d.Now.Zones = d.Now.Zones[:1]
	for kind, want := range map[string]url.Values{
		"placed": {}, "looked": {}, "candled": {}, "note": {}, "dam": {"profile": {"crested gecko"}}, "weighed": {}, "amended": {},
		"hatchling": {"hatchling": {"S1-1"}},
		"moved":     {"zone": {"incubator"}, "probe": {""}},
		"box":       {"zone": {"incubator"}, "probe": {""}},
		Found: {
			"eggs": {"2"}, "since": {"look"}, "clutch": {"C3"}, "look Sorrel": {"2026-06-07T19:00:00Z"}, "look Tansy": {"none"},
			"free B1": {"a b e f g h i j k l m n o p q r s t u v w x y z"},
			"free B2": {"a b c d e f g h i j k l m n o p q r s t u v w x y z"},
			"free B3": {"a b c d e f g h i j k l m n o p q r s t u v w x y z"},
		},
	} {
		f, _ := Of(kind)
		if got := d.Opened(f); !maps.EqualFunc(got, want, slices.Equal) {
			t.Errorf("%s: opened with %q, want %q", kind, got, want)
		}
	}
	f, _ := Of(Found)
	for name := range d.Opened(f) {
		if asked := slices.ContainsFunc(f.Fields, func(x Field) bool { return x.Name == name }); asked == Pinned(name) {
			t.Errorf("%s: pinned is %t", name, Pinned(name))
		}
	}
	b, err := note(t, *d.Book, `{"key":"g","at":"2026-06-08T08:00:00Z","entry":"clutch","clutch":"C4","eggs":1,"laid_after":"2026-06-07T08:00:00Z","laid_by":"2026-06-08T08:00:00Z"}`)
	if err != nil {
		t.Fatal(err)
	}
	d.Book = &b
	if got := d.Opened(f).Get("clutch"); got != "C5" {
		t.Errorf("the name of a new clutch is %q, want C5: C4 is taken", got)
	}
}

// laidWithin answers the form of eggs that were found so long after the last look.
func laidWithin(d time.Duration) url.Values {
	return url.Values{"dam": {"Sorrel"}, lookPrefix + "Sorrel": {at.Add(-d).Format(time.RFC3339Nano)}, "eggs": {"1"}, "since": {sinceLook}, "box": {"B1"}, "slots": {"x"}, "clutch": {"C9"}}
}

// Probable mistakes are questioned, what is plausible or in the book already is not.
func TestDoubts(t *testing.T) {
	hatched, _ := Of("hatched")
	pipped, _ := Of("pipped")
	weighed, _ := Of("weighed")
	found, _ := Of(Found)
	for name, c := range map[string]struct {
		form      Form
		key       string
		answers   url.Values
		developed float64
		want      []string
	}{
		"a hatch in time":          {hatched, "k", url.Values{"egg": {"S1-3"}, "mass_g": {"1.9"}}, 0.97, nil},
		"a hatch long before":      {hatched, "k", url.Values{"egg": {"S1-3"}}, 0.31, []string{"S1-3 hatched? By the heat it had it is 31 % of the way: see that it is the right egg."}},
		"a pip just before half":   {pipped, "k", url.Values{"egg": {"S1-3"}}, 0.49, []string{"S1-3 pipped? By the heat it had it is 49 % of the way: see that it is the right egg."}},
		"a pip at half":            {pipped, "k", url.Values{"egg": {"S1-3"}}, 0.5, nil},
		"an egg without a place":   {pipped, "k", url.Values{"egg": {"S2-1"}}, 0.1, nil},
		"a hatch noted already":    {hatched, "e1", url.Values{"egg": {"S1-3"}}, 0.1, nil},
		"grams for milligrams":     {hatched, "k", url.Values{"egg": {"S1-3"}, "mass_g": {"1900"}}, 0.97, []string{"1900 g for the hatchling of S1-3? An egg of a crested gecko weighs 1 to 3 g."}},
		"a mass long before":       {hatched, "k", url.Values{"egg": {"S1-3"}, "mass_g": {"1900"}}, 0.2, []string{"1900 g for the hatchling of S1-3? An egg of a crested gecko weighs 1 to 3 g.", "S1-3 hatched? By the heat it had it is 20 % of the way: see that it is the right egg."}},
		"eggs of no dam":           {found, "k", url.Values{"eggs": {"1"}, "since": {"72h"}, "box": {"B1"}, "slots": {"x"}, "clutch": {"C9"}}, 0.97, []string{"C9: no dam is named. Is it not known who laid these eggs?"}},
		"eggs of a dam":            {found, "k", url.Values{"dam": {"Sorrel"}, "eggs": {"1"}, "since": {"72h"}, "box": {"B1"}, "slots": {"x"}, "clutch": {"C9"}}, 0.97, nil},
		"eggs of two weeks":        {found, "k", laidWithin(14 * 24 * time.Hour), 0.97, nil},
		"eggs of many weeks":       {found, "k", laidWithin(62 * 24 * time.Hour), 0.97, []string{"C9: laid 8 Apr to 9 Jun, by the last look without eggs? That makes its hatch window 62 d wider. Choose a shorter time if you know it."}},
		"a box as before":          {weighed, "k", url.Values{"box": {"B1"}, "total_g": {"108.5"}}, 0.97, nil},
		"a point forgotten in box": {weighed, "k", url.Values{"box": {"B1"}, "total_g": {"1085"}}, 0.97, []string{"1085 g for box B1? When it was set up it weighed 112 g, 40 g of it water."}},
	} {
		d := season(t)
		*d.Now.Boxes[0].Clutches[0].Developed = c.developed
		entries, err := c.form.Entries(c.key, at, words.Celsius, c.answers)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if got := d.Doubts(entries); !slices.Equal(got, c.want) {
			t.Errorf("%s: questions are %q, want %q", name, got, c.want)
		}
		if !c.form.Asks() {
			t.Errorf("%s: a form that may be questioned says that it is not", name)
		}
		if got := (Desk{}).Doubts(entries); got != nil {
			t.Errorf("%s: an empty desk asks %q", name, got)
		}
	}
	if f, _ := Of("note"); f.Asks() {
		t.Error("a note may be questioned")
	}
	d := season(t)
	d.EggG = nil
	entries, err := hatched.Entries("k", at, words.Celsius, url.Values{"egg": {"S1-3"}, "mass_g": {"1900"}})
	if err != nil {
		t.Fatal(err)
	}
	if got := d.Doubts(entries); len(got) != 1 {
		t.Errorf("with no egg's mass known, the questions are %q, want one", got)
	}
}

// The verdicts of a box are told, and undone, as one.
func TestVerdictsOfABoxBelongTogether(t *testing.T) {
	f, _ := Of(BoxCandled)
	opened := season(t).Opened(f)
	opened.Set("box", "B1")
	opened.Set("every", "fertile")
	entries, err := f.Entries("k", at, words.Celsius, opened)
	if err != nil {
		t.Fatal(err)
	}
	b, err := note(t, *season(t).Book, lines(t, entries))
	if err != nil {
		t.Fatal(err)
	}
	part, _, _ := b.Entry("k.1")
	if whole := Whole(&b, part); whole.Key != "k" || SaidWhole(&b, whole) != "Candled: S1-3, fertile; S1-4, fertile" {
		t.Errorf("told as %q of %s", SaidWhole(&b, whole), whole.Key)
	}
	if voids := Undo(&b, "k", "u", at); len(voids) != 2 {
		t.Errorf("undone by %v", voids)
	}
}

// An undo voids a clutch together with its places, and the book takes that.
func TestUndo(t *testing.T) {
	f, _ := Of(Found)
	entries, err := f.Entries("k", at, words.Celsius, good[Found].answers)
	if err != nil {
		t.Fatal(err)
	}
	b, err := note(t, *season(t).Book, lines(t, entries))
	if err != nil {
		t.Fatal(err)
	}
	later := at.Add(time.Minute)
	voids := Undo(&b, "k", "u", later)
	for i, want := range []string{"k", "k.1", "k.2", "k.3"} {
		e := voids[i]
		if e.Kind != book.KindVoid || e.Void != want || e.Key != fmt.Sprintf("u.%d", i) || !e.At.Equal(later) {
			t.Errorf("void %d is %+v, want one of %s", i, e, want)
		}
		target, _, _ := b.Entry(want)
		if Part(&b, target) != (i > 0) {
			t.Errorf("%s: it is a part of another: %t", want, i == 0)
		}
	}
	if len(voids) != 4 {
		t.Fatalf("%d voids, want 4", len(voids))
	}
	b, err = note(t, b, lines(t, voids))
	if err != nil {
		t.Fatal(err)
	}
	if _, there := b.Clutch("S3"); there {
		t.Error("the clutch is still there")
	}
	if got := Undo(&b, "e1", "u", later); len(got) != 1 || got[0].Void != "e1" {
		t.Errorf("the undo of one entry is %+v", got)
	}
}

func TestSaid(t *testing.T) {
	for kind, want := range map[string]string{
		Found: "Eggs found: S3, Sorrel, 3 eggs", "placed": "Egg placed: S2-1, B2", "looked": "Looked, no eggs: Sorrel",
		"candled": "Candled: S1-3, fertile", "weighed": "Box weighed: B1, 108.5 g", "watered": "Box watered: B1, 4 g",
		"moved": "Box moved: B1, incubator", "egg-moved": "Egg moved: S1-3, B2", "pipped": "Pipped: S1-3",
		"hatched": "Hatched: S1-3, 1.9 g", "lost": "Lost: S1-3, mould", "hatchling": "Hatchling: S1-1, weighed, 2 g",
		"note": "A note: B1, a dent\nbelow", "pairing": "Paired: Sorrel, Juniper", "rested": "Dam resting: Sorrel",
		"amended": "A dam's kind or name corrected: Tansy, leopard gecko, named Tansie", "clutch-amended": "A clutch's kind corrected: S2, a guess, leopard gecko",
		"retired": "Dam retired: Sorrel", "dam": "A new dam: Yarrow, crested gecko", "box": "A box set up: B4, room, 112 g, 40 g", "emptied": "Box emptied: B2",
	} {
		f, _ := Of(kind)
		entries, err := f.Entries("k", at, words.Celsius, good[kind].answers)
		if err != nil {
			t.Fatal(err)
		}
		if got := Said(entries[0]); got != want {
			t.Errorf("%s is %q, want %q", kind, got, want)
		}
	}
	for _, c := range []struct {
		e    book.Entry
		want string
	}{
		{book.Entry{Kind: book.KindLooked, Dam: book.Names{"Sorrel", "Tansy"}, Found: "true"}, "Looked, eggs there: Sorrel or Tansy"},
		{book.Entry{Kind: book.KindVoid, Void: "k"}, "Void"},
		{book.Entry{Kind: book.KindCalibrated, Probe: "shelf"}, "Calibrated"},
	} {
		if got := Said(c.e); got != c.want {
			t.Errorf("%+v is %q, want %q", c.e, got, c.want)
		}
	}
}
