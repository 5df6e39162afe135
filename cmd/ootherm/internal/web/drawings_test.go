package web

import (
	"slices"
	"strings"
	"testing"
)

// Book entries are marks in the drawings of a zone and of a probe, of every span.
func TestBookEntriesAreMarked(t *testing.T) {
	_, h := recordDesk(t)
	for target, want := range map[string]map[string]int{
		"/z/room":                                {"#s-hatched": 2, "#s-water": 2}, // in the week and in the season
		"/z/room?from=2025-06-19&to=2025-06-22":  {"#s-lost": 1},
		"/p/shelf?from=2025-06-19&to=2025-06-22": {"#s-lost": 1},
		"/z/incubator":                           {"#s-hatched": 0, "#s-water": 0},
	} {
		uses := elementsOf(t, get(h, target)).find("figure")
		if want["#s-lost"] > 0 && !strings.Contains(uses[0].text, "Marks: cross, lost; dot, placed or another entry.") {
			t.Errorf("%s: the marks are not explained: %s", target, uses[0].text)
		}
		for href, n := range want {
			got := 0
			for _, f := range uses {
				got += len(f.inside.find("use", "href="+href))
			}
			if got != n {
				t.Errorf("%s: %d marks %s, want %d", target, got, href, n)
			}
		}
	}
}

// Weeks, seasons and what a clutch felt are drawn from summaries: no reading is scanned for them.
func TestLongPlotsReadSummaries(t *testing.T) {
	d, _ := recordDesk(t)
	scans := 0
	o := options(season())
	o.Book, o.Past = d, past{every: 1e9, calls: &scans}
	h := handler(t, o)
	for _, target := range []string{"/z/room?from=2026-01-01&to=2026-06-01", "/p/shelf?from=2026-05-01&to=2026-05-08", "/c/S1", "/e/S1-2", "/e/T0-1", "/b/B1"} {
		if page := elementsOf(t, get(h, target)); !page.has("path", "class=temperature") || scans > 0 {
			t.Errorf("%s: %d scans of readings", target, scans)
		}
	}
}

// A clutch's page draws what its own eggs felt, on the axis of its other figures, with what was
// noted and the alarms of that time as marks; a finished one does too.
func TestWhatAClutchFelt(t *testing.T) {
	d, _ := recordDesk(t)
	var asked [3]string
	o := options(season())
	o.Writer, o.Book, o.Incidents, o.Shown = d, d, looking{&asked}, kept{}
	h := handler(t, o)
	for target, marks := range map[string][]string{"/c/S1": {"hatched", "waiting", "warm"}, "/c/T0": {"lost"}} {
		page := elementsOf(t, get(h, target))
		var felt elements
		for _, s := range page.find("section") {
			if strings.HasPrefix(s.text, "The temperature it felt") {
				felt = s.inside
			}
		}
		if len(felt.find("path", "class=temperature")) != 1 || !felt.has("div", "class=unseen") {
			t.Fatalf("%s: no drawing of what it felt, or no table of it", target)
		}
		for _, m := range marks {
			if !felt.has("use", "href=#s-"+m) {
				t.Errorf("%s: %s is not marked", target, m)
			}
		}
	}
	if page := elementsOf(t, get(h, "/c/S1")); !slices.ContainsFunc(page.find("h2"), func(e *element) bool { return e.text == "What went wrong" }) {
		t.Error("the alarms of its time are not listed")
	}
}

// An incident is drawn zone by zone; a short one by its readings, a long one by its days.
func TestIncidentIsDrawn(t *testing.T) {
	var asked [3]string
	o := options(season())
	o.Incidents = looking{&asked}
	h := handler(t, o)
	for target, caption := range map[string]string{"/incident?from=2026-06-09T08:00&to=2026-06-09T14:00": "Lowest ", "/incident?from=2026-05-01T08:00&to=2026-06-09T14:00": "Line: mean of each day"} {
		figures := elementsOf(t, get(h, target)).find("figure")
		if len(figures) != 2 || !strings.Contains(figures[0].text, caption) || !figures[0].inside.has("path", "class=temperature") {
			t.Errorf("%s: %d figures: %v", target, len(figures), figures.texts())
		}
	}
}

// The season sets dams side by side: a dot with its interval for each measure, ringed where
// it stands out, and two sentences that say so.
func TestDamsSideBySide(t *testing.T) {
	_, h := bookDesk(t, seasonBook())
	page := elementsOf(t, get(h, "/review?from=2026-03-01&to=2026-06-30"))
	dams := page.find("table", "class=dots")
	if len(dams) != 2 {
		t.Fatalf("%d dams", len(dams))
	}
	for _, d := range dams {
		rows := d.inside.find("td", "class=dot")
		if len(rows) != 4 || !d.inside.has("circle", "class=estimate") || !d.inside.has("line", "class=interval") || !d.inside.has("line", "class=reference") {
			t.Errorf("%s: %d measures", d.text, len(rows))
		}
	}
	if n := len(page.find("circle", "class=ring")); n != 2 || !page.has("tr", "class=stands") {
		t.Errorf("%d dots are ringed", n)
	}
	say := page.find("p", "class=say")
	if len(say) != 2 || !strings.HasPrefix(say[0].text, "Sorrel: 3 of her 9 eggs hatched; of the others' eggs, 26 of 32. That is not chance (") || !strings.HasSuffix(say[0].text, "but it may be her, her mate or her boxes.") {
		t.Errorf("it says %q", say.texts())
	}
	if links := page.links(); links["/c/Sorrel"] == "" {
		t.Error("her clutches are not linked")
	}
}
