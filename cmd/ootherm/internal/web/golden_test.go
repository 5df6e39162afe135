package web

import (
	"flag"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
)

var update = flag.Bool("update", false, "write the golden pages again")

var (
	drawn       = regexp.MustCompile(`<(?:svg|path|line|rect|circle|text|use)\b[^>]*>`)
	coordinates = regexp.MustCompile(` (?:points|d|d?[xy][12]?|c[xy]|r|width|height|transform)="[^"]*"`)
	symbols     = regexp.MustCompile(`(?s)<svg class="symbols".*?</defs></svg>`)
	formKeys    = regexp.MustCompile(`"[pu]-[a-z2-7]{16}"`)
	manualText  = regexp.MustCompile(`(?s)(<article class="topic">|<ul class="topics">).*?(</article>|</ul>)`)
)

// normalised is a page without what a golden page does not hold: the shapes of all
// drawings, the coordinates of its own, the random keys of its forms and the texts of the manual. The parts of
// a drawing, their classes and their words stay.
func normalised(page string) string {
	page = symbols.ReplaceAllString(page, "")
	page = drawn.ReplaceAllStringFunc(page, func(svg string) string { return coordinates.ReplaceAllString(svg, "") })
	page = formKeys.ReplaceAllString(page, `"KEY"`)
	return manualText.ReplaceAllString(page, "$1$2")
}

// golden compares a page with its file in testdata, line by line.
func golden(t *testing.T, name, page string) {
	t.Helper()
	got := normalised(page)
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatalf("%v; make it with go test -update and look at it", err)
	}
	if got != string(want) {
		g, w := strings.Split(got, "\n"), strings.Split(string(want), "\n")
		for i := range min(len(g), len(w)) {
			if g[i] != w[i] {
				t.Fatalf("%s line %d:\n got %s\nwant %s", name, i+1, g[i], w[i])
			}
		}
		t.Fatalf("%s: %d lines, want %d", name, len(g), len(w))
	}
}

// goldenPages has the pages that are compared with testdata. The name of each begins
// with its template's; a dash and what is special about it may follow.
func goldenPages(t *testing.T) map[string]*httptest.ResponseRecorder {
	o := options(season())
	o.Writer = &ear{}
	busy := handler(t, o)
	var asked [3]string
	o.Incidents = looking{&asked}
	back := handler(t, o)
	empty := season()
	empty.Zones, empty.Boxes, empty.Unplaced, empty.Alarms, empty.Health.Waiting = nil, nil, nil, nil, 0
	_, noted := bookDesk(t, oneHatched)
	_, shut, _ := closed(t, "four warm eggs")
	life := lifeDesk(t)
	_, long := recordDesk(t)
	labels := handler(t, labelled(t, func(n *snapshot.Snapshot, _ *page.Options) { n.Boxes = n.Boxes[:2] }))
	refused := filled(t, noted, "/note/hatched")
	refused.Set("egg", "S1-1")
	return map[string]*httptest.ResponseRecorder{
		"first.html":            get(busy, "/"),
		"zone.html":             get(back, "/z/room"),
		"rehearsal.html":        get(back, "/rehearsal?zone=room"),
		"rehearsal-early.html":  get(back, "/rehearsal?zone=incubator"),
		"first-empty.html":      get(handler(t, options(empty)), "/"),
		"box.html":              get(busy, "/b/B2"),
		"clutch.html":           get(busy, "/c/S1"),
		"alarm.html":            get(busy, "/alarm?key="+url.QueryEscape("temperature-high.warning/room")),
		"incident.html":         get(back, "/incident?from=2026-06-09T08:00&to=2026-06-09T14:00"),
		"message.html":          get(busy, "/b/B99"),
		"message-starting.html": get(handler(t, options(nil)), "/"),
		"notes.html":            get(noted, "/note"),
		"note.html":             get(noted, "/note/found"),
		"note-refused.html":     post(noted, "/note/hatched", form, refused.Encode()),
		"medium.html":           get(noted, "/medium?dry=40&ratio=1"),
		"review.html":           get(life, "/review"),
		"dam.html":              get(life, "/review/Sorrel"),
		"noted.html":            get(long, "/noted?page=1"),
		"search.html":           get(long, "/search?q=s1"),
		"egg.html":              get(long, "/e/S1-2"),
		"egg-hatchling.html":    get(long, "/e/S1-1"),
		"damhistory.html":       get(long, "/d/Sorrel"),
		"sire.html":             get(long, "/s/Juniper"),
		"pairing.html":          get(long, "/s/Juniper/Sorrel"),
		"hatchlings.html":       get(long, "/hatchlings"),
		"probe.html":            get(long, "/p/shelf"),
		"box-candling.html":     get(long, "/b/B1?noted"),
		"labels.html":           get(labels, "/labels"),
		"login.html":            ask(shut, "/login?to=/b/B1"),
		"help.html":             get(busy, "/help"),
		"more.html":             get(back, "/more"),
		"topic.html":            get(busy, "/help/alarm-kinds"),
	}
}

func TestPagesAreGolden(t *testing.T) {
	status := map[string]int{"message.html": http.StatusNotFound, "message-starting.html": http.StatusServiceUnavailable, "note-refused.html": http.StatusUnprocessableEntity}
	pages := goldenPages(t)
	for name, page := range pages {
		want, ok := status[name]
		if !ok {
			want = http.StatusOK
		}
		if page.Code != want {
			t.Errorf("%s: status %d, want %d", name, page.Code, want)
		}
		t.Run(name, func(t *testing.T) { golden(t, name, page.Body.String()) })
	}
	kept, err := filepath.Glob("testdata/*.html")
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range kept {
		if _, ok := pages[filepath.Base(file)]; !ok {
			t.Errorf("%s: no page is compared with it", file)
		}
	}
}

// Every template has a golden page. The base and the parts are in all of them.
func TestEveryTemplateHasAGoldenPage(t *testing.T) {
	templates, err := os.ReadDir("page/templates")
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{"base": true, "parts": true, "records": true}
	for name := range goldenPages(t) {
		template, _, _ := strings.Cut(strings.TrimSuffix(name, ".html"), "-")
		seen[template] = true
	}
	for _, file := range templates {
		if name := strings.TrimSuffix(path.Base(file.Name()), ".html"); !seen[name] {
			t.Errorf("the template %s has no golden page", name)
		}
	}
}

// A golden page holds a drawing's parts and words, not where they lie.
func TestNormalisedDrawings(t *testing.T) {
	page := func(x, class string) string {
		return `<p id="d">5</p><svg class="plot" viewBox="0 0 340 132"><rect class="` + class + `" x="` + x + `" y="2" width="3" height="4"/><text x="1">Mon</text></svg>`
	}
	if a, b := normalised(page("1.0", "wanted")), normalised(page("2.0", "wanted")); a != b || !strings.Contains(a, `<rect class="wanted"/><text>Mon</text>`) || !strings.HasPrefix(a, `<p id="d">5</p><svg class="plot" viewBox="0 0 340 132">`) {
		t.Errorf("two places of one drawing are %s and %s", a, b)
	}
	if normalised(page("1.0", "wanted")) == normalised(page("1.0", "safe")) {
		t.Error("another part is the same")
	}
}
