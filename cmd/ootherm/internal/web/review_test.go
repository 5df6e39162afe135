package web

import (
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"slices"
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/web/seasons"
	"example.com/ootherm/thermal/book/review"
	"example.com/ootherm/thermal/book/stats"
)

// seasonBook has a dam with 3 of 9 hatched beside one with 26 of 32.
func seasonBook() string {
	var l []string
	add := func(format string, a ...any) { l = append(l, fmt.Sprintf(format, a...)) }
	add(`{"key":"d2","at":"2026-01-01T08:00:00Z","entry":"dam","dam":"Tansy"}`)
	for name, x := range map[string][2]int{"Sorrel": {3, 9}, "Tansy": {26, 32}} {
		add(`{"key":"c%s","at":"2026-04-02T08:00:00Z","entry":"clutch","clutch":"%s","dam":"%s","eggs":%d,"laid_after":"2026-04-01T08:00:00Z","laid_by":"2026-04-02T08:00:00Z"}`, name, name, name, x[1])
		for i := range x[1] {
			what := "lost"
			if i < x[0] {
				what = "hatched"
			}
			add(`{"key":"%s%d","at":"2026-06-01T08:00:00Z","entry":"%s","egg":"%s-%d"}`, name, i, what, name, i+1)
		}
	}
	return strings.Join(l, "\n")
}

func TestReview(t *testing.T) {
	_, h := bookDesk(t, seasonBook())
	if w := get(h, "/review?from=2026-03-01&to=2026-06-30"); w.Code != 200 {
		t.Errorf("status %d", w.Code)
	}
	var v seasons.View
	if err := json.Unmarshal(get(h, "/api/v1/review?from=2026-03-01&to=2026-06-30").Body.Bytes(), &v); err != nil || len(v.Dams) != 2 || v.Room.Laid != 41 || v.Room.Hatched.Count != 29 || v.Room.Alive.Low != nil {
		t.Errorf("%+v, %v", v, err)
	}
	for _, d := range v.Dams {
		if r := d.Hatched; d.Name == "Sorrel" && (r.Count != 3 || r.Of != 9 || math.Round(100**r.Low) != 12 || math.Round(100**r.High) != 65) {
			t.Errorf("of hers hatched %v, want 3 of 9 (12-65 %%)", r)
		}
	}
	if err := json.Unmarshal(get(h, "/api/v1/review?from=2026-05-01&to=2026-06-30").Body.Bytes(), &v); err != nil || v.Room.Laid != 0 {
		t.Errorf("another season holds %d eggs (%v)", v.Room.Laid, err)
	}
	for _, bad := range []string{"from=x", "from=2026-07-01&to=2026-06-01"} {
		if w := get(h, "/review?"+bad); w.Code != 422 {
			t.Errorf("%s: status %d", bad, w.Code)
		}
	}
}

// lifeOf is a season of three dams with hatchlings, one clutch that waits, and one
// of nobody; and a season before.
func lifeOf() string {
	l := []string{
		`{"key":"d2","at":"2025-01-01T08:00:00Z","entry":"dam","dam":"Tansy/2","profile":"crested gecko"}`,
		`{"key":"o","at":"2025-05-01T08:00:00Z","entry":"clutch","clutch":"O1","dam":"Tansy/2","eggs":5,"laid_after":"2025-05-01T08:00:00Z","laid_by":"2025-05-01T08:00:00Z"}`,
		`{"key":"u","at":"2026-04-01T08:00:00Z","entry":"clutch","clutch":"U1","eggs":1,"laid_after":"2026-04-01T08:00:00Z","laid_by":"2026-04-01T08:00:00Z"}`,
	}
	clutch := func(id, dam string, eggs int) {
		l = append(l, fmt.Sprintf(`{"key":"c%[1]s","at":"2026-04-01T08:00:00Z","entry":"clutch","clutch":%[1]q,"dam":%[2]q,"eggs":%[3]d,"laid_after":"2026-03-31T08:00:00Z","laid_by":"2026-04-01T08:00:00Z"}`, id, dam, eggs))
	}
	clutch("S1", "Sorrel", 4)
	clutch("S2", "Sorrel", 2)
	clutch("T1", "Tansy/2", 3)
	for i, e := range []string{"S1-1", "S1-2", "S1-3", "S1-4", "T1-1", "T1-2", "T1-3"} {
		l = append(l, fmt.Sprintf(`{"key":"h%d","at":"2026-05-0%dT08:00:00Z","entry":"hatched","egg":%q}`, i, i+1, e))
	}
	l = append(l, `{"key":"x","at":"2026-05-06T08:00:00Z","entry":"hatchling","egg":"S1-1","what":"died"}`,
		`{"key":"y","at":"2026-06-01T08:00:00Z","entry":"hatchling","egg":"S1-2","what":"fed"}`)
	return strings.Join(l, "\n")
}

// lifeDesk is a station with the book of lifeOf, whose clutches took as long as paces
// say.
func lifeDesk(t *testing.T) http.Handler {
	d := &desk{}
	d.add(t, `{"key":"d1","at":"2025-01-01T08:00:00Z","entry":"dam","dam":"Sorel","profile":"crested gecko"}
{"key":"d1-name","at":"2025-01-01T08:00:00Z","entry":"amended","dam":"Sorel","name":"Sorrel"}`+"\n"+lifeOf())
	o := options(season())
	o.Writer, o.Book = d, d
	o.Paces = func() map[string]review.Duration {
		return map[string]review.Duration{"S1": {Days: 33, Expected: 30, SD: 0.06}, "T1": {Days: 300, Expected: 30, SD: 0.06, Implausible: true}}
	}
	return handler(t, o)
}

// The golden pages have what is said of the last season.
func TestADamsPage(t *testing.T) {
	h := lifeDesk(t)
	leads(t, get(h, "/review"), "/review/Tansy%2F2?from=2026-01-01&to=2026-06-09", "/review?from=2025-01-01&to=2025-12-31")
	cells := func(target, label string) []string {
		return elementsOf(t, get(h, target)).find("table", "class=tally")[0].inside.find("td", "data-label="+label).texts()
	}
	if laid := cells("/review/Tansy%2F2?from=2025-01-01&to=2025-12-31", "Laid"); laid[0] != "5 in 1, 5 still waiting" {
		t.Errorf("in an earlier season of hers are laid %q", laid)
	}
	if days := elementsOf(t, get(h, "/review/Tansy%2F2")).find("td", "data-label=Days to the hatch").texts(); !slices.Equal(days, []string{"300: not believed, see its dates"}) {
		t.Errorf("dates that are not believed give %q", days)
	}
	if w := get(h, "/review/Sorel"); w.Code != 200 || !strings.Contains(w.Body.String(), "Sorrel, the season") {
		t.Errorf("a name of hers that was amended: status %d", w.Code)
	}
	if w := get(h, "/review/Nobody"); w.Code != 404 {
		t.Errorf("a dam that is not there: status %d", w.Code)
	}
	var v seasons.View
	if err := json.Unmarshal(get(h, "/api/v1/review?dam=Sorrel").Body.Bytes(), &v); err != nil || len(v.Dams) != 1 || len(v.Dams[0].Survival) != 1 ||
		v.Dams[0].Survival[0].Followed != 4 || v.Dams[0].Days.Ratio == nil || v.Dams[0].NotHatched != 2 {
		t.Errorf("%+v, %v", v, err)
	}
	if w := get(h, "/api/v1/review?dam=Sorel"); w.Code != 200 || !strings.Contains(w.Body.String(), `"name":"Sorrel"`) {
		t.Errorf("a name of hers that was amended: %d: %s", w.Code, w.Body)
	}
	if w := get(h, "/api/v1/review?dam=Nobody"); w.Code != 422 {
		t.Errorf("a dam that is not there: status %d", w.Code)
	}
}

// A curve ends where hardly any hatchling is still followed: one death among the
// last two is no half.
func TestACurveEndsWithItsHatchlings(t *testing.T) {
	spans := []stats.Span{{Days: 90}, {Days: 60, Ended: true}}
	for range 10 {
		spans = append(spans, stats.Span{Days: 14})
	}
	c := seasons.SurvivalOf("the room", spans)
	if strings.Contains(c.Figure.Plot.Label, "50") || c.Figure.Plot.X.To != 14 || !strings.Contains(c.Figure.Caption, "12 on day 14") || len(c.Lines) != 1 || !strings.HasPrefix(c.Lines[0], "1 died after day 14, when too few") {
		t.Errorf("the curve says %q %q", c.Lines, c.Caption)
	}
	if c := seasons.SurvivalOf("her", spans[:2]); c.Figure != nil || len(c.Lines) != 1 {
		t.Errorf("two hatchlings have a curve: %+v", c)
	}
}
