package web

import (
	"encoding/json"
	"errors"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/chart"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
)

// kept are windows of thirty days, each narrower than the one before, and of
// another clutch.
type kept struct{ err error }

func (k kept) Shown(clutch string) ([]snapshot.Shown, error) {
	if k.err != nil {
		return nil, k.err
	}
	var all []snapshot.Shown
	for d := range 30 {
		day := at.AddDate(0, 0, d-30)
		for _, name := range []string{"S1", "S2"} {
			if clutch == "" || clutch == name {
				all = append(all, snapshot.Shown{Clutch: name, Box: "B1", Day: day.Format(time.DateOnly), At: day, Developed: float64(d) / 40,
					Window: snapshot.Window{CheckFrom: at.AddDate(0, 0, d-29), Likely: at.AddDate(0, 0, 7), LateAfter: at.AddDate(0, 0, 50-d)}})
			}
		}
	}
	return all, nil
}

func (k kept) Score() (snapshot.Score, error) {
	if k.err != nil {
		return snapshot.Score{}, k.err
	}
	return snapshot.Score{Hatches: 3, Ways: []snapshot.ScoreAt{{Way: 0.5, WindowScore: snapshot.WindowScore{N: 3}}}, Ages: []snapshot.AgeScore{}, Eggs: []snapshot.EggScore{}}, nil
}

// The page of a clutch draws the windows told before, each row with its day and its width,
// and says so to those who only hear it.
func TestClutchPageDrawsHowTheWindowNarrowed(t *testing.T) {
	o := options(season())
	o.Shown = kept{}
	f := boxPages{Site: &page.Site{Options: o}}.narrowed(snapshot.Clutch{Clutch: "S1", Laid: snapshot.Laid{Earliest: at.AddDate(0, 0, -40)}}, "B1", must(kept{}.Shown("")), at)
	page := elementsOf(t, get(handler(t, o), "/c/S1"))
	var drawing *element
	for _, svg := range page.find("svg", "role=img") {
		if strings.Contains(svg.attrs["aria-label"], "On 10 May the window was 79 d wide, on 8 June 21 d.") {
			drawing = svg
		}
	}
	if drawing == nil {
		t.Fatalf("the page does not draw %+v", f)
	}
	if eggs := drawing.inside.find("path", "class=egg"); len(eggs) != toldMost {
		t.Errorf("%d windows are drawn, want %d", len(eggs), toldMost)
	}
	if names := drawing.inside.find("text").texts(); !slices.Contains(names, "10 May: 79 d") || !slices.Contains(names, "8 Jun: 21 d") {
		t.Errorf("the rows are called %v", names)
	}
	if x := f.Plot.X; x.From >= chart.Seconds(at.AddDate(0, 0, -40)) || x.To <= chart.Seconds(at.AddDate(0, 0, 50)) {
		t.Errorf("the axis %v does not hold the windows", x)
	}
	for _, svg := range elementsOf(t, get(handler(t, options(season())), "/c/S1")).find("svg", "role=img") {
		if strings.Contains(svg.attrs["aria-label"], "the window was") {
			t.Error("without windows of earlier days something was drawn")
		}
	}
}

func must(all []snapshot.Shown, err error) []snapshot.Shown {
	if err != nil {
		panic(err)
	}
	return all
}

// Where they cannot be read the page stands without the drawing, and a program is
// told that there is no answer rather than an empty one.
func TestWindowsThatCannotBeRead(t *testing.T) {
	o := options(season())
	o.Shown = kept{errors.New("the file is gone")}
	h := handler(t, o)
	if w := get(h, "/c/S1"); w.Code != http.StatusOK || strings.Contains(w.Body.String(), "the window was") {
		t.Errorf("the page: status %d", w.Code)
	}
	if w := get(h, "/api/v1/score"); w.Code != http.StatusInternalServerError || strings.Contains(w.Body.String(), "gone") {
		t.Errorf("a program: status %d, %q", w.Code, w.Body)
	}
	o.Shown = kept{}
	var got snapshot.Score
	if err := json.Unmarshal(get(handler(t, o), "/api/v1/score").Body.Bytes(), &got); err != nil || got.Hatches != 3 || len(got.Ways) != 1 || got.Ways[0].Inside != nil {
		t.Errorf("%+v, %v; want three hatches, and no share that nobody counted", got, err)
	}
}

// A clutch that was too warm for a while is told so in plain words.
func TestClutchPageSaysWhatWasOutside(t *testing.T) {
	n := season()
	for i := range n.Boxes {
		for j := range n.Boxes[i].Clutches {
			if c := &n.Boxes[i].Clutches[j]; c.Clutch == "S1" {
				c.Outside = []snapshot.Outside{{Band: "safe", Side: "warm", Limit: 26.7, Seconds: 11400, LongestSeconds: 7200, Events: 2, DegreeHours: 2, Most: 1,
					Stages: []snapshot.Stage{{From: 0.3, To: 0.4}, {From: 0.4, To: 0.5}, {From: 0.8, To: 0.9}}},
					{Band: "wanted", Side: "cold", Limit: 22.2, Seconds: 90000, LongestSeconds: 7200, Events: 314, Most: 0.6},
					{Band: "wanted", Side: "warm", Limit: 24.4, Seconds: 162000, LongestSeconds: 9000, Events: 314, Most: 0.29}}
			}
		}
	}
	said := elementsOf(t, get(handler(t, options(n)), "/c/S1")).find("ul", "class=outside")[0].inside.texts()
	want := []string{
		"warmer than the safe 80.1 °F: 3 h 10 min in all, 2 times, longest 2 h, highest 81.9 °F; when 30 to 50 and 80 to 90 % developed",
		"colder than the wanted 72.0 °F: 1 d 1 h in all, longest 2 h, lowest 70.9 °F",
		"less than 0.5 °F past what is wanted: not listed",
	}
	if !slices.Equal(said, want) {
		t.Errorf("the page says %q, want %q", said, want)
	}
}

// The drawing of what eggs felt tints what their kind wants, since the hours outside are counted
// by that; where nothing is known of the kind, what the zone wants. What several probes tell is
// said to be theirs.
func TestClutchPageTintsWhatItCounts(t *testing.T) {
	n := season()
	c := clutch("S9", "Sorrel", 0.4, 20, 26, 34, "waiting")
	c.Outside = []snapshot.Outside{{Band: "wanted", Side: "cold", Limit: 22, Seconds: 7200, LongestSeconds: 7200, Events: 1, Most: 1}}
	n.Boxes = []snapshot.Box{box("B9", "room", "", c)}
	o := options(n)
	const middle = "Counted by the middle of the 4 probes of room; the drawing shows the coldest and the warmest of them."
	label := func() (label, text string) {
		all := elementsOf(t, get(handler(t, o), "/c/S9"))
		for _, svg := range all.find("svg", "role=img") {
			if strings.Contains(svg.attrs["aria-label"], "coldest to warmest probe") {
				label = svg.attrs["aria-label"]
			}
		}
		return label, plainly(t, o, "/c/S9", 200)
	}
	if said, text := label(); !strings.Contains(said, "Wanted 72.0-76.0 °F.") || !strings.Contains(text, "lowest 69.8 °F "+middle) {
		t.Errorf("%q; %q", said, text)
	}
	o.Bands = func(kind string) (wanted, safe snapshot.Band) {
		if kind == "crested gecko" {
			wanted = snapshot.Band{Low: ptr(22.0), High: ptr(24.0)}
		}
		return wanted, safe
	}
	if said, _ := label(); !strings.Contains(said, "Wanted 71.6-75.2 °F.") {
		t.Errorf("%q", said)
	}
}
