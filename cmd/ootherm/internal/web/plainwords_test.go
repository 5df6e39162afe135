package web

import (
	"html"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/forms"
)

// inner are words of the program that no page shows to a reader.
var inner = regexp.MustCompile(`\b(web|book|forms|app|label): |\bUTC\b|\b[a-z]+_[a-z]+\b|\d\dT\d\d:\d\d:\d\d|\bentry [a-z]\d?\b|\bp-[a-z0-9]{16}\b|\bNaN\b|strconv|json`)

// What the book refuses is told by what the form asks, in the station's own time,
// and other entries as the book's page lists them.
func TestRefusalsAreInTheReadersWords(t *testing.T) {
	d, _ := bookDesk(t, oneHatched)
	o := options(season())
	o.Writer, o.Book, o.Profiles = d, d, []string{"crested gecko"}
	var err error
	if o.Reader.Place, err = time.LoadLocation("America/New_York"); err != nil {
		t.Fatal(err)
	}
	h := handler(t, o)
	before := d.b.Len()
	for _, c := range []struct {
		kind string
		set  url.Values
		want string
	}{
		{"hatched", url.Values{"egg": {"S1-1"}}, "Egg: S1-1 hatched already (Hatched: S1-1, 8 June 04:00): check the egg, or undo that entry"},
		{"hatched", url.Values{"egg": {"S1-2"}, "mass_g": {"-3"}}, "Mass, g: -3 is no mass in grams"},
		{"hatched", url.Values{"egg": {"S1-2"}, "at": {"2026-04-19T08:00"}}, "Egg: clutch S1 of egg S1-2 is not in the book on 19 April 08:00: enter the clutch first, or check the name and the date; it is there only later (Eggs found: S1, Sorrel, 2 eggs, 20 April 04:00)"},
		{"hatched", url.Values{"egg": {"S1-2"}, "at": {"1950-04-19T08:00"}}, "When: is in the year 1950"},
		{"hatched", url.Values{"egg": {"S1-2"}, "at": {""}}, "say when it was"},
		{"hatchling", url.Values{"hatchling": {"S1-1"}, "what": {"weighed"}}, "Mass, g: is missing: say what it weighed"},
		{"hatchling", url.Values{"hatchling": {"S1-2"}, "what": {"fed"}}, "Hatchling: S1-2 has not hatched on 10:30: say when it hatched first"},
		{"weighed", url.Values{"total_g": {""}}, "Mass with the box, g: is missing"},
		{"weighed", url.Values{"box": {"B9"}, "total_g": {"100"}}, "Box: B9 is not in the book on 10:30: set it up first"},
		{"box", url.Values{"newbox": {"B1"}, "zone": {"room"}}, "Name of the box: B1 still holds S1-2: move them, or say that it was moved where only its place changed"},
		{"box", url.Values{"newbox": {"B2"}, "zone": {"room"}, "offset": {"99"}}, `"99" is more than a box may differ from its probe or its place; write at most 18 degrees`},
		{"dam", url.Values{"name": {"Sorrel"}}, "Her name: Sorrel is in the book already (A new dam: Sorrel, crested gecko, 1 April 04:00)"},
		{"dam", url.Values{"name": {strings.Repeat("a", 201)}}, "Her name: is longer than 200 letters"},
		{"placed", url.Values{"egg": {"S1-2"}, "slot": {"c"}}, "S1-2 was placed already (Egg placed: S1-2, B1, 20 April 04:00): say that it was moved"},
		{"emptied", url.Values{}, "Box: B1 still holds S1-2"},
		{"found", url.Values{"dam": {"Sorrel"}, "clutch": {"S1"}, "since": {"24h"}}, "Name of the clutch: S1 is in the book already (Eggs found: S1, Sorrel, 2 eggs, 20 April 04:00)"},
		{"found", url.Values{"dam": {"Sorrel"}, "at": {"2026-06-01T08:00"}}, "the last look that found none is later than the time of this form"},
		{"note", url.Values{"text": {strings.Repeat("a", 10_001)}}, "Note: is longer than 10000 letters"},
	} {
		f := filled(t, h, "/note/"+c.kind)
		for k, v := range c.set {
			f[k] = v
		}
		w := post(h, "/note/"+c.kind, form, f.Encode())
		_, said, found := strings.Cut(w.Body.String(), `role="alert"`)
		said, _, _ = strings.Cut(said, "</div>")
		said = html.UnescapeString(said)
		if w.Code != http.StatusUnprocessableEntity || !found || !strings.Contains(said, c.want) || inner.MatchString(said) {
			t.Errorf("%s %v: status %d, %q; want %q and not %q", c.kind, c.set, w.Code, said, c.want, inner.FindString(said))
		}
	}
	undo := undoOf(t, h, "c")
	w := post(h, "/note", form, undo.Encode())
	text := html.UnescapeString(w.Body.String())
	if want := "Egg placed: S1-1, B1, 20 April 04:00 cannot be undone while Hatched: S1-1, 8 June 04:00 depends on it: undo that first."; w.Code != 422 || !strings.Contains(text, want) || inner.MatchString(text[strings.Index(text, "<main>"):strings.Index(text, "</main>")]) {
		t.Errorf("undo: status %d: %s, want %q", w.Code, text, want)
	}
	if d.b.Len() != before {
		t.Error("what was refused is in the book")
	}
}

// No page of a book shows words of the program, asked rightly or wrongly.
func TestNoPageShowsInnerWords(t *testing.T) {
	d, _ := bookDesk(t, oneHatched)
	o := options(season())
	o.Writer, o.Book, o.Profiles, o.LabelURL = d, d, []string{"crested gecko"}, "http://eggroom.local:8080"
	h := handler(t, o)
	targets := []string{"/", "/note", "/medium", "/medium?dry=abc", "/medium?dry=1&ratio=x", "/labels", "/labels?box=zz", "/review", "/review?from=x", "/review?from=2026-05-01&to=2026-04-01",
		"/review/Nobody", "/review/Sorrel", "/b/B1", "/b/none", "/c/S1", "/c/none", "/alarm", "/alarm?key=x", "/note/none", "/nothing", "/b/B1/label.png?dpi=1", "/b/zz/label.png"}
	for _, f := range forms.All() {
		targets = append(targets, "/note/"+f.Kind, "/note/"+f.Kind+"?box=x&egg=y&mass_g=z&at=q")
	}
	for _, target := range targets {
		w := get(h, target)
		if text := plainly2(w.Body.String()); inner.MatchString(text) {
			t.Errorf("%s: %q in %q", target, inner.FindString(text), text)
		}
	}
}

var tags = regexp.MustCompile(`(?s)<head>.*</head>|<[^>]*>`)

func plainly2(body string) string {
	return strings.Join(strings.Fields(html.UnescapeString(tags.ReplaceAllString(body, " "))), " ")
}

// A form that is too large, or no form, is told so.
func TestFormsThatCannotBeRead(t *testing.T) {
	d, h := bookDesk(t, oneHatched)
	before := d.b.Len()
	large := "key=k&at=2026-06-09T09:15&text=" + strings.Repeat("a", 3<<20)
	for _, c := range []struct {
		target, kind, body string
		status             int
		want               string
	}{
		{"/note/note", form, large, 413, "This is too large: a form has at most 256 kB. Nothing was noted or changed."},
		{"/note", form, "undo=c&key=k&x=" + large, 413, "too large"},
		{"/act", form, "do=acknowledge&alarm=" + large, 413, "too large"},
		{"/note/note", "text/plain", "text=a", 400, "The form came empty"},
		{"/note/note", "", large, 400, "The form came empty"},
		{"/note/note", form, "%zz", 400, "The form could not be read"},
		{"/note", form, "", 400, "The form came empty"},
	} {
		w := post(h, c.target, c.kind, c.body)
		if text := plainly2(w.Body.String()); w.Code != c.status || !strings.Contains(text, c.want) || len(text) > 2000 {
			t.Errorf("%s as %q: status %d, %.300s; want %d, %q", c.target, c.kind, w.Code, text, c.status, c.want)
		}
	}
	if d.b.Len() != before {
		t.Error("something was noted")
	}
}
