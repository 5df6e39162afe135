package web

import (
	"math"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

func reads(units string) func(*http.Request) {
	return func(r *http.Request) { r.AddCookie(&http.Cookie{Name: unitsCookie, Value: units}) }
}

// mixed is a station whose every text with degrees has both units.
func mixed() *snapshot.Snapshot {
	n := season()
	for i := range n.Alarms {
		if n.Alarms[i].Detail != nil {
			n.Alarms[i].DetailIn = map[string]string{"fahrenheit": *n.Alarms[i].Detail, "celsius": strings.Replace(*n.Alarms[i].Detail, "79.0 °F", "26.1 °C", 1)}
		}
	}
	n.Boxes[0].Offset = -0.5
	n.Boxes[0].Clutches[0].Because = append(n.Boxes[0].Clutches[0].Because, "by the book the box is 0.9 °F colder than its probe")
	return n
}

// Each page has one kind of degrees: those that its reader chose.
func TestPagesHaveTheReadersUnits(t *testing.T) {
	d, _ := bookDesk(t, oneHatched)
	o := options(mixed())
	o.Writer, o.Book = d, d
	h := handler(t, o)
	pages := []string{"/", "/z/room", "/z/incubator?span=week", "/z/room?span=season", "/b/B1", "/c/S1", "/c/S2", "/medium", "/review", "/review/Sorrel",
		"/alarm?key=" + url.QueryEscape("temperature-high.warning/room"), "/alarm?key=" + url.QueryEscape("cumulative.critical/box:B2"), "/note/moved"}
	for _, target := range pages {
		for units, other := range map[string]string{"celsius": "°F", "fahrenheit": "°C"} {
			page := ask(h, target, here, reads(units))
			if page.Code != http.StatusOK {
				t.Fatalf("%s: status %d", target, page.Code)
			}
			text := page.Body.String()
			if i := strings.Index(text, other); i >= 0 {
				t.Errorf("%s for a reader of %s says %q", target, units, text[max(0, i-60):i+len(other)])
			}
		}
		if station := get(h, target).Body.String(); !strings.Contains(station, "°F") && strings.Contains(station, "°C") {
			t.Errorf("%s is not in the station's units where the reader chose none", target)
		}
	}
}

// A difference scales and never shifts; a reading does both.
func TestDifferencesAreScaledOnly(t *testing.T) {
	h := handler(t, options(mixed()))
	for units, want := range map[string][]string{
		"celsius":    {"probes 0.8 °C apart", "25.8", "rising 1.2 °C per hour", "wanted 22.2 to 24.4 °C"},
		"fahrenheit": {"probes 1.4 °F apart", "78.4", "rising 2.1 °F per hour", "wanted 72.0 to 76.0 °F"},
	} {
		page := strings.NewReplacer("\u00a0", " ", "–", " to ", "-", " to ").Replace(ask(h, "/", here, reads(units)).Body.String())
		for _, w := range want {
			if !strings.Contains(page, w) {
				t.Errorf("for a reader of %s the page does not say %q", units, w)
			}
		}
	}
	for units, want := range map[string]string{"celsius": "by the book the box is 0.5 °C colder than its probe", "fahrenheit": "by the book the box is 0.9 °F colder than its probe"} {
		if page := ask(h, "/c/S1", here, reads(units)).Body.String(); !strings.Contains(page, want) {
			t.Errorf("for a reader of %s the page does not say %q", units, want)
		}
	}
}

// The API has Celsius for everybody.
func TestProgramsReadCelsius(t *testing.T) {
	h := handler(t, options(season()))
	if a, b := ask(h, "/api/v1/now", here, reads("fahrenheit")).Body.String(), ask(h, "/api/v1/now", here, reads("celsius")).Body.String(); a != b {
		t.Error("a reader's units change the API")
	}
}

func TestUnitsAreChosenByAForm(t *testing.T) {
	h := handler(t, options(season()))
	for units, want := range map[string]string{"celsius": "celsius", "fahrenheit": "fahrenheit", "station": ""} {
		w := post(h, "/units", form, "units="+units)
		cookies := w.Result().Cookies()
		if w.Code != http.StatusSeeOther || len(cookies) != 1 || cookies[0].Name != unitsCookie || cookies[0].Value != want || (cookies[0].MaxAge < 0) != (want == "") {
			t.Errorf("%s: status %d, cookies %v", units, w.Code, cookies)
		}
	}
	if w := post(h, "/units", form, "units=kelvin"); w.Code != http.StatusBadRequest || len(w.Result().Cookies()) > 0 {
		t.Errorf("kelvin: status %d, cookies %v", w.Code, w.Result().Cookies())
	}
	if w := post(h, "/units", form, "units=celsius", with("Sec-Fetch-Site", "cross-site")); w.Code != http.StatusForbidden {
		t.Errorf("from another site: status %d", w.Code)
	}
	if page := ask(h, "/", here, reads("kelvin")).Body.String(); !strings.Contains(page, "°F") {
		t.Error("a cookie that nobody gave changes the units")
	}
}

// A form that was filled in before the reader chose other units means what it said then.
func TestFormsKeepTheirUnits(t *testing.T) {
	d, _ := bookDesk(t)
	o := options(season())
	o.Writer, o.Book = d, d
	h := handler(t, o)
	if page := ask(h, "/note/moved", here, reads("celsius")).Body.String(); !strings.Contains(page, `name="units" value="celsius"`) {
		t.Fatal("the form does not say its units")
	}
	answers := url.Values{"key": {"p-aaaaaaaaaaaaaaaa"}, "at": {"2026-06-09T14:00"}, "box": {"B1"}, "zone": {"incubator"}, "offset": {"-0.9"}, "units": {"fahrenheit"}}
	if w := post(h, "/note/moved?send", form, answers.Encode(), reads("celsius")); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", w.Code, w.Body)
	}
	entries := slices.Collect(d.b.Arrived())
	if k := entries[len(entries)-1].OffsetK; k == nil || math.Abs(*k+0.5) > 1e-9 {
		t.Errorf("-0.9 °F is noted as %v K", k)
	}
}
