package plausibility_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/booktest"
	"example.com/ootherm/thermal/book/plausibility"
)

// eggG is how heavy an egg may be of the one kind that these books know it of.
func eggG(profile string) (least, most float64) {
	if profile == "crested gecko" {
		return 1, 3
	}
	return 0, 0
}

// Two dams of two kinds, a box of known masses, one of which the dry medium alone is
// known, and one of which nothing is.
const scales = `{"key":"d1","at":"2026-04-01T00:00:00Z","entry":"dam","dam":"Sorrel","profile":"crested gecko"}
{"key":"d2","at":"2026-04-01T00:00:00Z","entry":"dam","dam":"Rue","profile":"my line"}
{"key":"x1","at":"2026-04-01T00:00:00Z","entry":"box","box":"B1","zone":"room","dry_g":40,"water_g":40,"total_g":112}
{"key":"x2","at":"2026-04-01T00:00:00Z","entry":"box","box":"B2","zone":"room","dry_g":40}
{"key":"x3","at":"2026-04-01T00:00:00Z","entry":"box","box":"B3","zone":"room"}
{"key":"c1","at":"2026-04-02T00:00:00Z","entry":"clutch","clutch":"S1","dam":"Sorrel","eggs":6,"laid_after":"2026-04-01T00:00:00Z","laid_by":"2026-04-02T00:00:00Z"}
{"key":"c2","at":"2026-04-02T00:00:00Z","entry":"clutch","clutch":"R1","dam":"Rue","eggs":2,"laid_after":"2026-04-01T00:00:00Z","laid_by":"2026-04-02T00:00:00Z"}
{"key":"p1","at":"2026-04-02T00:00:00Z","entry":"placed","egg":"S1-1","box":"B1","slot":"a"}
{"key":"p2","at":"2026-04-02T00:00:00Z","entry":"placed","egg":"S1-2","box":"B1","slot":"b"}
`

const threeHatched = `{"key":"h2","at":"2026-07-10T00:00:00Z","entry":"hatched","egg":"S1-2","mass_g":1.6}
{"key":"h3","at":"2026-07-10T00:00:00Z","entry":"hatched","egg":"S1-3","mass_g":1.9}
{"key":"h4","at":"2026-07-10T00:00:00Z","entry":"hatched","egg":"S1-4","mass_g":2.1}
`

// What is hardly meant is asked for, with what it is held against; what is only odd is
// not.
func TestQuestions(t *testing.T) {
	for _, c := range []struct {
		what, before, entry string
		words               string // empty: nothing is asked
	}{
		{"a hatchling in milligrams, the first of its kind", "", `"entry":"hatched","egg":"S1-1","mass_g":1900`, "1900 g for the hatchling of S1-1? An egg of a crested gecko weighs 1 to 3 g"},
		{"a hatchling that is heavy for its kind's egg", "", `"entry":"hatched","egg":"S1-1","mass_g":2.9`, ""},
		{"a hatchling a tenth of what it is", "", `"entry":"hatched","egg":"S1-1","mass_g":0.19`, "0.19 g for the hatchling of S1-1? An egg of a crested gecko weighs 1 to 3 g"},
		{"a small hatchling", "", `"entry":"hatched","egg":"S1-1","mass_g":0.9`, ""},
		{"a box that stands in the book", "", `"entry":"box","box":"B3","zone":"room"`, "Box B3 is in the book already. Is it set up once more"},
		{"a box that holds eggs, which the book refuses", "", `"entry":"box","box":"B1","zone":"room"`, ""},
		{"a box that was emptied", `{"key":"e1","at":"2026-04-03T00:00:00Z","entry":"emptied","box":"B3"}` + "\n", `"entry":"box","box":"B3","zone":"room"`, ""},
		{"a new box", "", `"entry":"box","box":"B4","zone":"room"`, ""},
		{"no mass at all", "", `"entry":"hatched","egg":"S1-1"`, ""},
		{"ten times its kind's others", threeHatched, `"entry":"hatched","egg":"S1-1","mass_g":19`, "19 g for the hatchling of S1-1? Of the 3 others of its kind that were weighed, the middle one had 1.9 g at first"},
		{"a tenth of its kind's others", threeHatched, `"entry":"hatched","egg":"S1-1","mass_g":0.19`, "the middle one had 1.9 g at first"},
		{"heavier than the eggs of its kind are said to be, as its kind's others are", strings.ReplaceAll(threeHatched, `_g":`, `_g":3`), `"entry":"hatched","egg":"S1-1","mass_g":33`, ""},
		{"a kind of which nothing is known", threeHatched, `"entry":"hatched","egg":"R1-1","mass_g":150`, ""},
		{"a kind of which nothing is known, in milligrams", "", `"entry":"hatched","egg":"R1-1","mass_g":1900`, "1900 g for the hatchling of R1-1? Hardly any reptile weighs over 300 g when it hatches"},
		{"ten times its own earlier mass", threeHatched, `"entry":"hatchling","egg":"S1-3","what":"weighed","mass_g":20`, "20 g for the hatchling of S1-3? It weighed 1.9 g before"},
		{"a hatchling that grew", threeHatched, `"entry":"hatchling","egg":"S1-3","what":"weighed","mass_g":8`, ""},
		{"fed, and a tenth of its own mass", threeHatched, `"entry":"hatchling","egg":"S1-3","what":"fed","mass_g":0.2`, "It weighed 1.9 g before"},
		{"a young one never weighed before, grown past its kind's eggs", `{"key":"h1","at":"2026-07-10T00:00:00Z","entry":"hatched","egg":"S1-1"}` + "\n", `"entry":"hatchling","egg":"S1-1","what":"weighed","mass_g":9`, ""},
		{"a young one never weighed before, in milligrams", `{"key":"h1","at":"2026-07-10T00:00:00Z","entry":"hatched","egg":"S1-1"}` + "\n", `"entry":"hatchling","egg":"S1-1","what":"weighed","mass_g":1900`, "An egg of a crested gecko weighs"},

		{"a weighing like the last", "", `"entry":"weighed","box":"B1","total_g":108.5`, ""},
		{"a weighing whose point slipped", "", `"entry":"weighed","box":"B1","total_g":1085`, "1085 g for box B1? When it was set up it weighed 112 g, 40 g of it water"},
		{"a box that got wetter than it was", "", `"entry":"weighed","box":"B1","total_g":130`, ""},
		{"a box with twice its water, and eggs", "", `"entry":"weighed","box":"B1","total_g":157`, ""},
		{"a box with more than twice its water, and eggs", "", `"entry":"weighed","box":"B1","total_g":159`, "159 g for box B1?"},
		{"a box that dried out", "", `"entry":"weighed","box":"B1","total_g":73`, ""},
		{"a box lighter than without any water", "", `"entry":"weighed","box":"B1","total_g":71`, "71 g for box B1? When it was set up it weighed 112 g, 40 g of it water: without any left it would weigh 72 g"},
		{"a dry box out of which eggs were taken", threeHatched, `"entry":"weighed","box":"B1","total_g":70`, ""},
		{"less than its dry medium", "", `"entry":"weighed","box":"B2","total_g":39`, "39 g for box B2? Its dry medium alone weighed 40 g"},
		{"a box of unknown mass", "", `"entry":"weighed","box":"B3","total_g":4000`, ""},
		{"ten times its last weighing", `{"key":"w","at":"2026-05-01T00:00:00Z","entry":"weighed","box":"B3","total_g":120}` + "\n", `"entry":"weighed","box":"B3","total_g":1200`, "1200 g for box B3? It weighed 120 g before"},
		{"a weighing of an earlier use", "", `"at":"2026-03-01T00:00:00Z","entry":"weighed","box":"B1","total_g":1085`, ""},

		{"water as it takes", "", `"entry":"watered","box":"B1","water_g":10`, ""},
		{"more water than it began with", "", `"entry":"watered","box":"B1","water_g":100`, "100 g of water for box B1? It was set up with 40 g"},
		{"much water for a box of which nothing is known", "", `"entry":"watered","box":"B3","water_g":100`, ""},

		{"a box set up", "", `"entry":"box","box":"B9","zone":"room","dry_g":40,"water_g":32,"total_g":102`, ""},
		{"a box that weighs less than what is in it", "", `"entry":"box","box":"B9","zone":"room","dry_g":40,"water_g":400,"total_g":102`, "102 g in all for box B9? Its dry medium and its water weigh 440 g"},
		{"a weighing that says no mass, and is refused", "", `"entry":"weighed","box":"B1"`, ""},
		{"a mass below nothing, which is refused", "", `"entry":"hatched","egg":"S1-1","mass_g":-3`, ""},
		{"an entry of a clutch that is not there", "", `"entry":"hatched","egg":"Z9-1","mass_g":100`, ""},
	} {
		line := fmt.Sprintf(`{"key":"n",%s}`, c.entry)
		if !strings.Contains(c.entry, `"at"`) {
			line = strings.Replace(line, `"n",`, `"n","at":"2026-08-01T00:00:00Z",`, 1)
		}
		b := booktest.Fold(t, scales+c.before)
		var entries []book.Entry
		if e, err := book.Parse([]byte(line)); err == nil {
			entries = append(entries, e)
		} else { // as a form would have it that was left empty
			negative := -3.0
			entries = append(entries, book.Entry{Key: "n", At: time.Unix(1785542400, 0), Kind: book.KindWeighed, Box: "B1"},
				book.Entry{Key: "m", At: time.Unix(1785542400, 0), Kind: book.KindHatched, Egg: "S1-1", MassG: &negative})
		}
		got := plausibility.Questions(b, eggG, entries...)
		switch {
		case c.words == "" && len(got) > 0:
			t.Errorf("%s: asked %q", c.what, got)
		case c.words != "" && (len(got) != 1 || !strings.Contains(got[0], c.words)):
			t.Errorf("%s: asked %q, want %q", c.what, got, c.words)
		}
	}
	if got := plausibility.Questions(book.Book{}, eggG, booktest.Read(t, `{"key":"n","at":"2026-08-01T00:00:00Z","entry":"weighed","box":"B1","total_g":99000}`)...); len(got) != 0 {
		t.Errorf("an empty book asks %q", got)
	}
}

// What is in the book already was asked for when it was noted: the same form again is
// not asked again.
func TestEntriesInTheBookRaiseNoQuestion(t *testing.T) {
	const heavy = `{"key":"n","at":"2026-07-01T00:00:00Z","entry":"hatched","egg":"S1-1","mass_g":1900}` + "\n"
	if got := plausibility.Questions(booktest.Fold(t, scales+heavy), eggG, booktest.Read(t, heavy)...); len(got) != 0 {
		t.Errorf("asked %q", got)
	}
}
