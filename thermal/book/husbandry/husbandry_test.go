package husbandry_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/thermal/book/booktest"
	"example.com/ootherm/thermal/book/husbandry"
)

const wetBox = `{"key":"x1","at":"2026-04-01T00:00:00Z","entry":"box","box":"B1","zone":"room","dry_g":40,"water_g":40,"total_g":112}
{"key":"x2","at":"2026-04-01T00:00:00Z","entry":"box","box":"B2","zone":"room"}
{"key":"c1","at":"2026-04-01T00:00:00Z","entry":"clutch","clutch":"S1","eggs":3,"laid_after":"2026-03-31T00:00:00Z","laid_by":"2026-04-01T00:00:00Z"}
{"key":"p1","at":"2026-04-01T00:10:00Z","entry":"placed","egg":"S1-1","box":"B1","slot":"a"}
`

func TestWater(t *testing.T) {
	scale := husbandry.Scale{EggG: 1, EggMostG: 2}
	for _, c := range []struct {
		what   string
		lines  string
		want   husbandry.Water
		next   string
		words  string
		slight float64 // error of the scale
	}{
		{"a loss", `{"key":"w1","at":"2026-05-01T00:00:00Z","entry":"weighed","box":"B1","total_g":108}`,
			husbandry.Water{Add: 4, Low: 4, High: 4, Ratio: 0.9, PerDay: 4.0 / 30}, "2026-05-08T00:00:00Z", "", 0},
		{"the scale's error", `{"key":"w1","at":"2026-05-01T00:00:00Z","entry":"weighed","box":"B1","total_g":108}`,
			husbandry.Water{Add: 4, Low: 3, High: 5, Ratio: 0.9, PerDay: 4.0 / 30}, "2026-05-08T00:00:00Z", "", 0.5},
		{"water added since", `{"key":"w1","at":"2026-05-01T00:00:00Z","entry":"weighed","box":"B1","total_g":108}
{"key":"w2","at":"2026-05-01T00:05:00Z","entry":"watered","box":"B1","water_g":4}`,
			husbandry.Water{Ratio: 1, PerDay: 4.0 / 30}, "2026-05-08T00:00:00Z", "", 0},
		{"water added before", `{"key":"w1","at":"2026-04-16T00:00:00Z","entry":"watered","box":"B1","water_g":2}
{"key":"w2","at":"2026-05-01T00:00:00Z","entry":"weighed","box":"B1","total_g":108}`,
			husbandry.Water{Add: 4, Low: 4, High: 4, Ratio: 0.9, PerDay: 6.0 / 30}, "2026-05-08T00:00:00Z", "", 0},
		{"an egg taken out", `{"key":"m1","at":"2026-04-20T00:00:00Z","entry":"moved","egg":"S1-1","box":"B2","slot":"a"}
{"key":"w1","at":"2026-05-01T00:00:00Z","entry":"weighed","box":"B1","total_g":106}`,
			husbandry.Water{Add: 4.5, Low: 4, High: 5, Ratio: 35.5 / 40, PerDay: 4.5 / 30}, "2026-05-08T00:00:00Z", "", 0},
		// Set up at 112 g with an egg. Had it gone alone the box would weigh 110 to
		// 111 g; it weighs 105, so 5 to 6 g are water, of 40 g: 34.5/40 is left.
		{"an egg lost", `{"key":"m1","at":"2026-04-20T00:00:00Z","entry":"lost","egg":"S1-1","why":"mould"}
{"key":"w1","at":"2026-05-01T00:00:00Z","entry":"weighed","box":"B1","total_g":105}`,
			husbandry.Water{Add: 5.5, Low: 5, High: 6, Ratio: 34.5 / 40, PerDay: 5.5 / 30}, "2026-05-08T00:00:00Z", "", 0},
		{"an egg hatched", `{"key":"m1","at":"2026-04-30T00:00:00Z","entry":"hatched","egg":"S1-1"}
{"key":"w1","at":"2026-05-01T00:00:00Z","entry":"weighed","box":"B1","total_g":105}`,
			husbandry.Water{Add: 5.5, Low: 5, High: 6, Ratio: 34.5 / 40, PerDay: 5.5 / 30}, "2026-05-08T00:00:00Z", "", 0},
		{"more water than it lost", `{"key":"w1","at":"2026-05-01T00:00:00Z","entry":"weighed","box":"B1","total_g":108}
{"key":"w2","at":"2026-05-01T00:05:00Z","entry":"watered","box":"B1","water_g":9}`,
			husbandry.Water{Ratio: 45.0 / 40, PerDay: 4.0 / 30}, "2026-05-08T00:00:00Z", "add nothing", 0},
		{"two eggs put in later", `{"key":"m1","at":"2026-04-20T00:00:00Z","entry":"placed","egg":"S1-2","box":"B1","slot":"b"}
{"key":"m2","at":"2026-04-20T00:00:00Z","entry":"placed","egg":"S1-3","box":"B1","slot":"c"}
{"key":"w1","at":"2026-05-01T00:00:00Z","entry":"weighed","box":"B1","total_g":110}`,
			husbandry.Water{Add: 5, Low: 4, High: 6, Ratio: 35.0 / 40, PerDay: 5.0 / 30}, "2026-05-08T00:00:00Z", "", 0},
		{"an egg put in after the weighing", `{"key":"w1","at":"2026-05-01T00:00:00Z","entry":"weighed","box":"B1","total_g":108}
{"key":"m1","at":"2026-05-02T00:00:00Z","entry":"placed","egg":"S1-2","box":"B1","slot":"b"}`,
			husbandry.Water{Add: 4, Low: 4, High: 4, Ratio: 0.9, PerDay: 4.0 / 30}, "2026-05-08T00:00:00Z", "", 0},
		{"heavier than at first", `{"key":"w1","at":"2026-05-01T00:00:00Z","entry":"weighed","box":"B1","total_g":117}`,
			husbandry.Water{Ratio: 45.0 / 40, PerDay: -5.0 / 30}, "2026-05-08T00:00:00Z", "5.0 g heavier", 0},
		{"lighter than without water", `{"key":"w1","at":"2026-05-01T00:00:00Z","entry":"weighed","box":"B1","total_g":62}`,
			husbandry.Water{Add: 40, Low: 40, High: 40, Ratio: math.NaN(), PerDay: 50.0 / 30}, "2026-05-03T09:36:00Z", "more than the 40.0 g of water", 0},
		{"too little to tell", `{"key":"w1","at":"2026-05-01T00:00:00Z","entry":"weighed","box":"B1","total_g":111}`,
			husbandry.Water{Add: 1, Low: 0, High: 3, Ratio: 39.0 / 40, PerDay: 1.0 / 30}, "2026-05-08T00:00:00Z", "", 1},
		{"drying fast", `{"key":"w1","at":"2026-04-03T00:00:00Z","entry":"weighed","box":"B1","total_g":108}`,
			husbandry.Water{Add: 4, Low: 4, High: 4, Ratio: 0.9, PerDay: 2}, "2026-04-05T00:00:00Z", "", 0},
		{"weighed at once", `{"key":"w1","at":"2026-04-01T01:00:00Z","entry":"weighed","box":"B1","total_g":112}`,
			husbandry.Water{Ratio: 1, PerDay: math.NaN()}, "2026-04-08T01:00:00Z", "", 0},
	} {
		t.Run(c.what, func(t *testing.T) {
			scale := scale
			scale.ErrorG = c.slight
			w, err := husbandry.WaterOf(booktest.Fold(t, wetBox+c.lines), "B1", scale)
			if err != nil {
				t.Fatal(err)
			}
			for _, v := range [][2]float64{{w.Add, c.want.Add}, {w.Low, c.want.Low}, {w.High, c.want.High}, {w.Ratio, c.want.Ratio}, {w.PerDay, c.want.PerDay}} {
				if math.Abs(v[0]-v[1]) > 1e-9 || math.IsNaN(v[0]) != math.IsNaN(v[1]) {
					t.Errorf("water is %+v, want %+v", w, c.want)
					break
				}
			}
			if !w.Next.Equal(booktest.Time(t, c.next)) {
				t.Errorf("next weighing %v, want %s", w.Next, c.next)
			}
			if (c.words == "") != (w.Warning == "") || !strings.Contains(w.Warning, c.words) {
				t.Errorf("warning is %q, want %q", w.Warning, c.words)
			}
		})
	}
}

func TestWaterUnknown(t *testing.T) {
	b := booktest.Fold(t, wetBox)
	for box, words := range map[string]string{"B1": "weigh it", "B2": "its mass in all when set up is not known", "B9": "not in the book"} {
		if w, err := husbandry.WaterOf(b, box, husbandry.Scale{}); err == nil || w != (husbandry.Water{}) || !strings.Contains(err.Error(), words) {
			t.Errorf("box %s: %+v, error %v", box, w, err)
		}
	}
	if got := husbandry.WaterFor(40, 0.8); math.Abs(got-32) > 1e-12 {
		t.Errorf("water for 40 g at 0.8 to 1: %g, want 32", got)
	}
}

// The loss of a box that eggs left is not told without their mass; one that kept
// its eggs needs none.
func TestWaterWithoutEggMass(t *testing.T) {
	weighed := wetBox + `{"key":"w1","at":"2026-05-01T00:00:00Z","entry":"weighed","box":"B1","total_g":108}
`
	if w, err := husbandry.WaterOf(booktest.Fold(t, weighed), "B1", husbandry.Scale{}); err != nil || w.Add != 4 {
		t.Errorf("with its egg: %+v, %v", w, err)
	}
	left := weighed + `{"key":"m1","at":"2026-04-20T00:00:00Z","entry":"lost","egg":"S1-1"}`
	if w, err := husbandry.WaterOf(booktest.Fold(t, left), "B1", husbandry.Scale{}); err == nil || w != (husbandry.Water{}) || !strings.Contains(err.Error(), "egg_g") {
		t.Errorf("without its egg: %+v, %v", w, err)
	}
}

func TestNextWeighing(t *testing.T) {
	b := booktest.Fold(t, wetBox+`{"key":"x3","at":"2026-04-01T00:00:00Z","entry":"box","box":"B3","zone":"room","dry_g":40,"water_g":40,"total_g":112}
{"key":"w1","at":"2026-04-03T00:00:00Z","entry":"weighed","box":"B3","total_g":108}
{"key":"w2","at":"2026-04-09T00:00:00Z","entry":"weighed","box":"B2","total_g":108}`)
	for box, want := range map[string]string{
		"B1": "2026-04-08T00:00:00Z", // a week after its set-up
		"B2": "2026-04-16T00:00:00Z", // a week after a weighing that tells nothing of its water
		"B3": "2026-04-05T00:00:00Z", // it dries fast
	} {
		if got, ok := husbandry.NextWeighing(b, box, husbandry.Scale{}); !ok || !got.Equal(booktest.Time(t, want)) {
			t.Errorf("box %s: %v, want %s", box, got, want)
		}
	}
	if got, ok := husbandry.NextWeighing(b, "B9", husbandry.Scale{}); ok || !got.IsZero() {
		t.Errorf("a box that is not there: %v", got)
	}
}

func TestNextLaying(t *testing.T) {
	const dam = `{"key":"d","at":"2025-01-01T00:00:00Z","entry":"dam","dam":"Sorrel"}
{"key":"p","at":"2026-03-01T00:00:00Z","entry":"pairing","dam":"Sorrel","sire":"Ash"}
`
	clutches := func(days ...string) string {
		l := booktest.LinesFrom(100)
		for i, d := range days {
			l.Clutch(d, letter(i), `"dam":"Sorrel",`, 2)
		}
		return l.String()
	}
	for _, c := range []struct {
		what, lines, now       string
		look, from, likely, by string // none when empty
	}{
		{"paired", dam, "2026-03-02", "2026-03-19", "2026-03-26", "2026-03-31", "2026-04-15"},
		{"laid once", dam + clutches("2026-04-01"), "2026-04-02", "2026-04-19", "2026-04-26", "2026-05-06", "2026-05-16"},
		{"one short interval", dam + clutches("2026-04-01", "2026-04-21"), "2026-04-22", "2026-05-04", "2026-05-11", "2026-05-11", "2026-06-05"},
		{"three intervals", dam + clutches("2026-04-01", "2026-05-01", "2026-05-31", "2026-07-04"), "2026-07-05", "2026-07-27", "2026-08-03", "2026-08-03", "2026-08-07"},
		{"an interval over winter", dam + clutches("2025-08-01", "2026-04-01"), "2026-04-02", "2026-04-19", "2026-04-26", "2026-05-06", "2026-05-16"},
		{"paired again", dam + clutches("2026-02-01", "2026-02-25"), "2026-03-02", "2026-03-19", "2026-03-26", "2026-03-31", "2026-04-15"},
		{"long ago", dam, "2026-08-01", "", "", "", ""},
		{"rested", dam + `{"key":"r","at":"2026-03-05T00:00:00Z","entry":"rested","dam":"Sorrel"}`, "2026-03-06", "", "", "", ""},
		{"retired", dam + `{"key":"r","at":"2026-03-05T00:00:00Z","entry":"retired","dam":"Sorrel"}`, "2026-03-06", "", "", "", ""},
		{"nobody", `{"key":"d","at":"2025-01-01T00:00:00Z","entry":"dam","dam":"Fern"}`, "2026-03-06", "", "", "", ""},
	} {
		t.Run(c.what, func(t *testing.T) {
			l, ok := husbandry.NextLaying(booktest.Fold(t, c.lines), "Sorrel", booktest.Time(t, c.now+"T00:00:00Z"))
			if ok != (c.from != "") {
				t.Fatalf("forecast %+v, %v", l, ok)
			}
			if !ok {
				return
			}
			got := []string{l.Look.Format("2006-01-02"), l.From.Format("2006-01-02"), l.Likely.Format("2006-01-02"), l.By.Format("2006-01-02")}
			day := func(t time.Time) string { return t.Format("2006-01-02") }
			if l.Intervals == 0 != (l.Interval == 0) || l.Last.By.IsZero() != strings.Contains(l.Because, "pairing") || day(l.Paired) != "2026-03-01" {
				t.Errorf("it rests on %d intervals of %v, a clutch of %v and a pairing of %v (%s)", l.Intervals, l.Interval, l.Last, l.Paired, l.Because)
			}
			if want := []string{c.look, c.from, c.likely, c.by}; strings.Join(got, " ") != strings.Join(want, " ") {
				t.Errorf("look, from, likely, by are %v, want %v (%s)", got, want, l.Because)
			}
		})
	}
}

func TestResting(t *testing.T) {
	const rested = `{"key":"d","at":"2026-01-01T00:00:00Z","entry":"dam","dam":"Sorrel"}
{"key":"r","at":"2026-03-01T00:00:00Z","entry":"rested","dam":"Sorrel"}
`
	for lines, want := range map[string]bool{
		rested: true,
		rested + `{"key":"p","at":"2026-02-01T00:00:00Z","entry":"pairing","dam":"Sorrel","sire":"Ash"}`: true,
		rested + `{"key":"p","at":"2026-04-01T00:00:00Z","entry":"pairing","dam":"Sorrel","sire":"Ash"}`: false,
		rested + `{"key":"p","at":"2026-04-01T00:00:00Z","entry":"retired","dam":"Sorrel"}`:              true,
	} {
		if got := husbandry.Resting(booktest.Fold(t, lines), "Sorrel"); got != want {
			t.Errorf("resting is %v after\n%s", got, lines)
		}
	}
	if husbandry.Resting(booktest.Fold(t, rested), "Fern") {
		t.Error("nobody rests")
	}
}

// letter names the clutches of a test.
func letter(i int) string { return string(rune('A' + i)) }

const twoDams = `{"key":"d1","at":"2026-04-01T00:00:00Z","entry":"dam","dam":"Sorrel","profile":"crested gecko"}
{"key":"d2","at":"2026-04-01T00:00:00Z","entry":"dam","dam":"Fern","profile":"gargoyle gecko"}
{"key":"c1","at":"2026-04-02T00:00:00Z","entry":"clutch","clutch":"S1","dam":"Sorrel","eggs":2,"laid_after":"2026-04-01T00:00:00Z","laid_by":"2026-04-02T00:00:00Z"}
`

func TestLastEmptyLook(t *testing.T) {
	b := booktest.Fold(t, twoDams+`{"key":"l1","at":"2026-05-01T00:00:00Z","entry":"looked","dam":"Sorrel"}
{"key":"l2","at":"2026-05-02T00:00:00Z","entry":"looked","found":"digging"}
{"key":"l3","at":"2026-05-03T00:00:00Z","entry":"looked","dam":"Sorrel","found":2}
{"key":"l4","at":"2026-05-04T00:00:00Z","entry":"looked","dam":"Fern","found":false}
{"key":"l5","at":"2026-05-05T00:00:00Z","entry":"looked","dam":["Fern","Sorrel"],"found":true}
`)
	for before, want := range map[string]string{
		"2026-06-01T00:00:00Z": "2026-05-02T00:00:00Z", // of no dam in particular
		"2026-05-02T00:00:00Z": "2026-05-01T00:00:00Z", // her own
		"2026-05-01T00:00:00Z": "2026-04-02T00:00:00Z", // her clutch
	} {
		if got, ok := husbandry.LastEmptyLook(b, "Sorrel", booktest.Time(t, before)); !ok || !got.Equal(booktest.Time(t, want)) {
			t.Errorf("last look before %s was %v, want %s", before, got, want)
		}
	}
	if got, ok := husbandry.LastEmptyLook(b, "Sorrel", booktest.Time(t, "2026-04-01T00:00:00Z")); ok {
		t.Errorf("a look before any: %v", got)
	}
	if got, ok := husbandry.LastEmptyLook(b, "Moss", booktest.Time(t, "2026-06-01T00:00:00Z")); ok {
		t.Errorf("a look at a dam without a lay box: %v", got)
	}
}

// The care of a book: boxes in use, with their water where it is known, and dams that do not
// rest.
func TestCareOf(t *testing.T) {
	b := booktest.Fold(t, wetBox+`{"key":"w1","at":"2026-05-01T00:00:00Z","entry":"weighed","box":"B1","total_g":92}
{"key":"f1","at":"2026-03-01T00:00:00Z","entry":"dam","dam":"Mia"}
{"key":"f2","at":"2026-03-01T00:00:00Z","entry":"dam","dam":"Ida"}
{"key":"d1","at":"2026-04-01T00:00:00Z","entry":"pairing","dam":"Mia","sire":"Rex"}
{"key":"d2","at":"2026-04-01T00:00:00Z","entry":"pairing","dam":"Ida","sire":"Rex"}
{"key":"d3","at":"2026-04-02T00:00:00Z","entry":"rested","dam":"Ida"}
`)
	paired := time.Date(2026, 4, 1, 0, 0, 0, 0, time.UTC)
	for days, want := range map[int]husbandry.Due{17: husbandry.DueLater, 18: husbandry.DueLook, 44: husbandry.DueLook, 45: husbandry.DueOverdue} {
		c := husbandry.CareOf(b, paired.AddDate(0, 0, days), func(string) husbandry.Scale { return husbandry.Scale{} })
		if len(c.Dams) != 1 || c.Dams[0].Dam.Name != "Mia" || c.Dams[0].Due != want {
			t.Errorf("after %d days: %+v, want %s", days, c.Dams, want)
		}
		if len(c.Boxes) != 2 || c.Boxes[0].Unknown != nil || c.Boxes[1].Unknown == nil {
			t.Fatalf("boxes: %+v", c.Boxes)
		}
		if lost, known := c.Boxes[0].LostShare(); !known || lost != 0.5 {
			t.Errorf("lost %v (%v), want half of the water", lost, known)
		}
		if _, known := c.Boxes[1].LostShare(); known || !c.Boxes[1].NextWeighing.IsZero() {
			t.Error("a box that was never weighed: its water is known, or it is due")
		}
	}
}
