package web

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/chart"
	"example.com/ootherm/cmd/ootherm/internal/web/notes"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
)

// The page of a clutch begins with its dates and how far away they are; then come its eggs.
func TestClutchPageBeginsWithItsDates(t *testing.T) {
	for state, c := range map[string]struct {
		clutch snapshot.Clutch
		want   []string
	}{
		"away":       {clutch("S1", "Sorrel", .94, 3, 7, 11, "waiting", "waiting"), []string{"Sorrel S1", "laid 9-10 Apr, 60 days ago", "7 days to go", "94 % developed. Nothing to do until 12 June.", "check from 12 Jun in 3 days", "likely 16 Jun in 7 days", "late after 20 Jun in 11 days", "Eggs", "S1-1", "Why it is 8 days wide", "A probe in the box: 2 days less."}},
		"from today": {later(clutch("S1", "Sorrel", .94, 0, 4, 9, "waiting"), 9*time.Hour), []string{"Check from today", "94 % developed. Likely 13 June.", "check from 9 Jun today"}},
		"look":       {in(snapshot.StateCheckDaily, clutch("S1", "Sorrel", .99, -2, 1, 6, "waiting")), []string{"Check daily", "Likely 10 June.", "check from 7 Jun 2 days ago", "likely 10 Jun in 1 day"}},
		"hatching":   {in(snapshot.StateHatching, clutch("S1", "Sorrel", .99, -2, 0, 6, "waiting", "hatched")), []string{"Look now", "An egg of the clutch hatched.", "likely 9 Jun today"}},
		"late":       {in(snapshot.StateLate, clutch("S1", "Sorrel", 1.06, -12, -6, -1, "waiting")), []string{"Late since 8 Jun", "late after 8 Jun 1 day ago"}},
		"any day":    {unlikely(in(snapshot.StateCheckDaily, clutch("S1", "Sorrel", .99, -2, 1, 6, "waiting"))), []string{"Check daily", "Any day now, or not at all.", "likely any day or not at all"}},
		"no window":  {in("", snapshot.Clutch{Clutch: "S1", Missing: []string{snapshot.MissingModel}, Eggs: []snapshot.Egg{{Egg: "S1-1", Fate: "waiting"}}}), []string{"No window yet", "Nothing is known of how long"}},
		"not likely": {unlikely(clutch("S1", "Sorrel", .5, 30, 40, 50, "waiting")), []string{"30 days to go"}},
	} {
		n := season()
		n.Boxes = []snapshot.Box{box("B1", "room", "", c.clutch)}
		t.Run(state, func(t *testing.T) { inOrder(t, plainly(t, options(n), "/c/S1", http.StatusOK), c.want...) })
	}
}

// The heat rises from laid to today; where it will meet what the eggs need, the window is
// cast on the axis. What cannot be projected is not.
func TestHeatOfAClutch(t *testing.T) {
	m := clutchMaker{boxPages: boxPages{Site: &page.Site{Options: options(season())}}, n: season()}
	draw := func(c snapshot.Clutch) elements {
		f := m.heat(c, must(kept{}.Shown("S1")), at)
		if f == nil {
			return nil
		}
		return figureElements(t, *f)
	}
	all := draw(clutch("S1", "Sorrel", .7, 20, 26, 34, "waiting"))
	if n := len(all.find("line", "class=cast")); n != 3 || !all.has("rect", "class=need") || !all.has("path", "class=coming") || len(all.find("path", "class=egg")) != 1 {
		t.Errorf("%d lines are cast from what is needed", n)
	}
	if rows := all.find("tr", "data-x"); len(rows) != 25 || rows[24].text != "now70 %" {
		t.Errorf("the table ends with %v", rows.texts())
	}
	if !strings.Contains(all.find("svg", "role=img")[0].attrs["aria-label"], "70 % developed") {
		t.Error("those who hear the page are not told how far it is")
	}
	for name, c := range map[string]snapshot.Clutch{"late": in(snapshot.StateLate, clutch("S1", "Sorrel", 1.06, -12, -6, -1, "waiting")), "no likely day": unlikely(clutch("S1", "Sorrel", .9, -2, 1, 6, "waiting"))} {
		if all := draw(c); all.has("path", "class=coming") || all.has("rect", "class=need") || !all.has("path", "class=temperature") {
			t.Errorf("%s: what cannot be projected is, or nothing is drawn", name)
		}
	}
	c := clutch("S1", "Sorrel", .9, 1, 2, 3, "waiting")
	c.Developed = nil
	if draw(c) != nil {
		t.Error("what is not known is drawn")
	}
}

func figureElements(t *testing.T, f chart.Figure) elements {
	t.Helper()
	w := httptest.NewRecorder()
	w.WriteString(string(f.HTML()))
	return elementsOf(t, w)
}

// Every egg that waits has its forms in its row; what is noted there leads back to the page,
// which says what was noted and can undo it.
func TestEggsAreNotedInPlace(t *testing.T) {
	d, h := bookDesk(t, oneHatched)
	page := elementsOf(t, get(h, "/c/S1"))
	var kinds []string
	for _, f := range page.find("form", "data-draft") {
		kinds = append(kinds, f.attrs["data-draft"])
	}
	if want := []string{"hatchling Weighed S1-1", "hatchling Fed S1-1", "hatchling Shed S1-1", "hatchling Died S1-1", "candled S1-2", "pipped S1-2", "hatched S1-2", "lost S1-2"}; !slices.Equal(kinds, want) {
		t.Fatalf("the forms are %v, want %v", kinds, want)
	}
	ids := map[string]bool{}
	for _, e := range page.find("", "id") {
		if ids[e.attrs["id"]] {
			t.Errorf("two elements are called %s", e.attrs["id"])
		}
		ids[e.attrs["id"]] = true
	}
	sent := page.find("form", "data-draft=hatched S1-2")[0].inside.sent()
	sent.Set("mass_g", "1.8")
	w := post(h, "/note/hatched", form, sent.Encode())
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/c/S1?noted" {
		t.Fatalf("status %d to %s: %s", w.Code, w.Header().Get("Location"), w.Body)
	}
	if e, _ := d.b.Egg("S1-2"); e.Fate != "hatched" || *e.HatchG != 1.8 {
		t.Errorf("the egg is %+v", e)
	}
	page = elementsOf(t, get(h, "/c/S1?noted"))
	done := page.find("div", "class=done")
	if len(done) != 1 || !strings.HasPrefix(done[0].text, "Noted: Hatched: S1-2, 1.8 g.") {
		t.Fatalf("it says %v", done.texts())
	}
	undo := done[0].inside.sent()
	if w := post(h, "/note", form, undo.Encode()); w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/c/S1?noted=undone" {
		t.Errorf("undo: status %d to %s: %s", w.Code, w.Header().Get("Location"), w.Body)
	}
	if e, _ := d.b.Egg("S1-2"); e.Fate != "waiting" {
		t.Errorf("undone, the egg is %+v", e)
	}
	o := options(season())
	o.Book = d
	if page := elementsOf(t, get(handler(t, o), "/c/S1")); page.has("form", "method=post") {
		t.Error("where nothing can be written there are forms")
	}
}

// A form that was on a page leads back to that page alone.
func TestBackStaysHere(t *testing.T) {
	for back, want := range map[string]string{"/c/S1": "/c/S1", "/b/B%2F1": "/b/B%2F1", "/c/": "", "//evil": "", "/c/../x": "", "/c/S1?x": "", "/c/S1#x": "", `/c/\evil`: "", "/note": "", "https://evil/c/S1": "", "/c/a\nb": ""} {
		if got := notes.BackTo(url.Values{"back": {back}}); got != want {
			t.Errorf("%q leads to %q, want %q", back, got, want)
		}
	}
}

// A clutch of which no egg waits says when it hatched, how long it took and how far off the
// forecast was; it is found though it is in no box any more.
func TestFinishedClutch(t *testing.T) {
	d, _ := bookDesk(t, oneHatched, `{"key":"h2","at":"2026-06-08T20:00:00Z","entry":"hatched","egg":"S1-2"}`)
	n := season()
	n.Boxes = nil
	o := options(n)
	o.Book, o.Shown = d, kept{}
	inOrder(t, plainly(t, o, "/c/S1", http.StatusOK), "Sorrel S1", "Hatched 8 Jun", "2 hatched 8 Jun, 49 days after it was laid.", "days taken 49 laid to hatch", "likely was 16 Jun 8 days sooner", "window was 23 days wide",
		"The hatch lay in the window as it was told on", "S1-1", "hatched", "What is noted", "Hatched: S1-2")
	page := elementsOf(t, get(handler(t, o), "/"))
	if got := page.find("details", "data-fold=finished"); len(got) != 1 || got[0].inside.links()["/c/S1"] != "S1 Sorrel 2 hatched 8 Jun, 49 days after it was laid" {
		t.Errorf("the first page lists %v", got.texts())
	}
	inOrder(t, plainly(t, o, "/c/none", http.StatusNotFound), "No such clutch")
}
