package web

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/forms"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/thermal/book"
	"github.com/google/go-cmp/cmp"
)

// desk is a station that keeps a book.
type desk struct{ b book.Book }

func (d *desk) Book() *book.Book { return &d.b }

func (d *desk) Act(context.Context, page.Action) error { return nil }

func (d *desk) Note(_ context.Context, draft book.Draft) error {
	p, err := d.b.Prepare(draft)
	if err == nil {
		d.b = p.Stored(nil)
	}
	return err
}

// add notes JSON lines.
func (d *desk) add(t testing.TB, lines string) {
	t.Helper()
	draft, err := book.ReadDraft(strings.NewReader(lines))
	if err == nil {
		err = d.Note(t.Context(), draft)
	}
	if err != nil {
		t.Fatal(err)
	}
}

func bookDesk(t *testing.T, more ...string) (*desk, http.Handler) {
	t.Helper()
	d := &desk{}
	begin := append([]string{
		`{"key":"a1","at":"2026-04-01T08:00:00Z","entry":"dam","dam":"Sorrel","profile":"crested gecko"}`,
		`{"key":"a2","at":"2026-04-01T08:00:00Z","entry":"box","box":"B1","zone":"room","dry_g":40,"water_g":40,"total_g":112}`,
		`{"key":"a3","at":"2026-06-07T19:00:00Z","entry":"looked","dam":"Sorrel","found":false}`,
	}, more...)
	d.add(t, strings.Join(begin, "\n"))
	o := options(season())
	o.Writer, o.Book, o.Profiles = d, d, []string{"crested gecko"}
	return d, handler(t, o)
}

// asking is a station that knows how heavy an egg is.
func asking(t *testing.T) (*desk, http.Handler) {
	t.Helper()
	d, _ := bookDesk(t, oneHatched)
	o := options(season())
	o.Writer, o.Book, o.Profiles = d, d, []string{"crested gecko"}
	o.EggG = func(string) (least, most float64) { return 1, 3 }
	return d, handler(t, o)
}

const twoEggs = `{"key":"c","at":"2026-04-20T08:00:00Z","entry":"clutch","clutch":"S1","dam":"Sorrel","eggs":2,"laid_after":"2026-04-19T08:00:00Z","laid_by":"2026-04-20T08:00:00Z"}
{"key":"c.1","at":"2026-04-20T08:00:00Z","entry":"placed","egg":"S1-1","box":"B1","slot":"a"}
{"key":"c.2","at":"2026-04-20T08:00:00Z","entry":"placed","egg":"S1-2","box":"B1","slot":"b"}`

const oneHatched = twoEggs + `
{"key":"h","at":"2026-06-08T08:00:00Z","entry":"hatched","egg":"S1-1"}`

// filled is what a browser sends of a form that was opened and not touched.
func filled(t *testing.T, h http.Handler, target string) url.Values {
	t.Helper()
	w := get(h, target)
	if w.Code != 200 {
		t.Fatalf("%s: status %d", target, w.Code)
	}
	return elementsOf(t, w).sent()
}

// Two taps and the button make a clutch laid since her last look, with its eggs
// in the next free slots; sent twice it is there once.
func TestEggsFound(t *testing.T) {
	d, h := bookDesk(t, twoEggs)
	f := filled(t, h, "/note/found")
	f.Set("dam", "Sorrel")
	f.Set("box", "B1")
	for range 2 {
		if w := post(h, "/note/found", form, f.Encode()); w.Code != http.StatusSeeOther {
			t.Fatalf("status %d: %s", w.Code, w.Body)
		}
	}
	if n := len(d.b.Clutches()); n != 2 {
		t.Fatalf("%d clutches, want 2: a double tap stored another", n)
	}
	c := d.b.Clutches()[1]
	if want := time.Date(2026, 6, 7, 19, 0, 0, 0, time.UTC); !c.Laid.After.Equal(want) || !c.Laid.By.Equal(at) {
		t.Errorf("laid %v, want from %v to %v", c.Laid, want, at)
	}
	if len(c.Eggs) != 2 || c.Eggs[0].Box != "B1" || c.Eggs[0].Slot != "c" || c.Eggs[1].Slot != "d" {
		t.Errorf("the eggs are %+v, want slots c and d of B1", c.Eggs)
	}

	// The same key with another content is refused, not dropped.
	f.Set("eggs", "1")
	w := post(h, "/note/found", form, f.Encode())
	if w.Code != http.StatusUnprocessableEntity || len(d.b.Clutches()) != 2 {
		t.Errorf("another form under an old key: status %d", w.Code)
	}
	if page := elementsOf(t, w); !page.has("div", "role=alert") || page.sent().Get("key") == f.Get("key") || page.sent().Get("eggs") != "1" {
		t.Errorf("the form that came back is not refused, or has the old key:\n%s", w.Body)
	}
	// One undo takes the clutch and its places away.
	undo := undoOf(t, h, f.Get("key"))
	for range 2 {
		if w := post(h, "/note", form, undo.Encode()); w.Code != http.StatusSeeOther {
			t.Fatalf("undo: status %d: %s", w.Code, w.Body)
		}
	}
	if n := len(d.b.Clutches()); n != 1 {
		t.Errorf("%d clutches after the undo, want 1", n)
	}
}

func undoOf(t *testing.T, h http.Handler, key string) url.Values {
	t.Helper()
	for _, f := range elementsOf(t, get(h, "/note")).find("form") {
		if f.inside.has("input", "name=undo", "value="+key) {
			return f.inside.sent()
		}
	}
	t.Fatalf("the book offers no undo of %s", key)
	return nil
}

// Of several that may be ticked a browser would want each that is required, so
// that none could be left out.
func TestNoFormWantsAllTicked(t *testing.T) {
	_, h := bookDesk(t, oneHatched)
	for _, f := range forms.All() {
		for _, in := range elementsOf(t, get(h, "/note/"+f.Kind)).find("input", "type=checkbox", "required") {
			t.Errorf("%s: %v", f.Kind, in.attrs)
		}
	}
}

// object is a JSON object as a map.
func object(t *testing.T, text string) (fields map[string]any) {
	t.Helper()
	if err := json.Unmarshal([]byte(text), &fields); err != nil {
		t.Fatalf("%v in %s", err, text)
	}
	return fields
}

// Every form stores just what it shows, once.
func TestEveryForm(t *testing.T) {
	for kind, c := range map[string]struct {
		set  url.Values
		want string // of the entry stored, beside key and time
	}{
		"looked":    {url.Values{"dam": {"Sorrel"}}, `"entry":"looked","dam":"Sorrel","found":false`},
		"candled":   {url.Values{"egg": {"S1-2"}, "verdict": {"fertile"}}, `"entry":"candled","egg":"S1-2","verdict":"fertile"`},
		"weighed":   {url.Values{"total_g": {"108,5"}}, `"entry":"weighed","box":"B1","total_g":108.5`},
		"watered":   {url.Values{"water_g": {"4"}}, `"entry":"watered","box":"B1","water_g":4`},
		"moved":     {url.Values{"zone": {"incubator"}, "offset": {"-1,8"}}, `"entry":"moved","box":"B1","zone":"incubator","offset_k":-1`}, // written in °F
		"egg-moved": {url.Values{"egg": {"S1-2"}, "slot": {"k"}}, `"entry":"moved","egg":"S1-2","box":"B1","slot":"k"`},
		"pipped":    {url.Values{"egg": {"S1-2"}}, `"entry":"pipped","egg":"S1-2"`},
		"hatched":   {url.Values{"egg": {"S1-2"}, "mass_g": {"1.9"}}, `"entry":"hatched","egg":"S1-2","mass_g":1.9`},
		"lost":      {url.Values{"egg": {"S1-2"}, "why": {"mould"}}, `"entry":"lost","egg":"S1-2","why":"mould"`},
		"hatchling": {url.Values{"hatchling": {"S1-1"}, "what": {"weighed"}, "mass_g": {"2"}}, `"entry":"hatchling","egg":"S1-1","what":"weighed","mass_g":2`},
		"note":      {url.Values{"text": {"a dent"}, "about": {"B1"}}, `"entry":"note","about":"B1","text":"a dent"`},
		"rested":    {url.Values{"dam": {"Sorrel"}}, `"entry":"rested","dam":"Sorrel"`},
		"retired":   {url.Values{"dam": {"Sorrel"}}, `"entry":"retired","dam":"Sorrel"`},
		"pairing":   {url.Values{"dam": {"Sorrel"}, "sire": {"Juniper"}}, `"entry":"pairing","dam":"Sorrel","sire":"Juniper"`},
		"dam":       {url.Values{"name": {"Tansy"}, "profile": {"crested gecko"}}, `"entry":"dam","dam":"Tansy","profile":"crested gecko"`},
		"box":       {url.Values{"newbox": {"B2"}, "zone": {"room"}, "dry_g": {"40"}}, `"entry":"box","box":"B2","zone":"room","dry_g":40`},
	} {
		d, h := bookDesk(t, oneHatched)
		before := d.b.Len()
		f := filled(t, h, "/note/"+kind)
		for k, v := range c.set {
			f[k] = v
		}
		for range 2 {
			if w := post(h, "/note/"+kind, form, f.Encode()); w.Code != http.StatusSeeOther {
				t.Errorf("%s: status %d: %s", kind, w.Code, w.Body)
			}
		}
		all := slices.Collect(d.b.Arrived())
		line, err := all[len(all)-1].MarshalJSON()
		if err != nil || len(all) != before+1 {
			t.Errorf("%s: %d entries after %d: %v", kind, len(all), before, err)
		}
		want := fmt.Sprintf(`{"key":%q,"at":"2026-06-09T14:30:00Z",%s}`, f.Get("key"), c.want)
		if diff := cmp.Diff(object(t, want), object(t, string(line))); diff != "" {
			t.Errorf("%s (-want +stored):\n%s", kind, diff)
		}
		undo := undoOf(t, h, f.Get("key"))
		if w := post(h, "/note", form, undo.Encode()); w.Code != http.StatusSeeOther {
			t.Errorf("%s: undo: status %d", kind, w.Code)
		}
		if _, by, _ := d.b.Entry(f.Get("key")); by == "" {
			t.Errorf("%s: the undo did not undo it", kind)
		}
	}
}

// What the book refuses comes back as it was typed, with the reason and the
// same key, and nothing of how the program calls things.
func TestARefusedFormKeepsWhatWasTyped(t *testing.T) {
	d, h := bookDesk(t, oneHatched)
	before := d.b.Len()
	f := filled(t, h, "/note/hatched")
	f.Set("egg", "S1-1")
	f.Set("mass_g", "1.75")
	f.Set("at", "2026-06-09T09:15")
	w := post(h, "/note/hatched", form, f.Encode())
	if w.Code != http.StatusUnprocessableEntity || d.b.Len() != before {
		t.Fatalf("an egg hatched twice: status %d", w.Code)
	}
	page := elementsOf(t, w)
	for _, name := range []string{"mass_g", "at", "key"} {
		if got := page.sent().Get(name); got != f.Get(name) {
			t.Errorf("the form that came back has %s=%s, want %s", name, got, f.Get(name))
		}
	}
	for _, reason := range page.find("div", "role=alert").texts() {
		if slices.Contains(strings.Fields(reason), f.Get("key")) {
			t.Error("the reason names the form's key, which no person chose")
		}
	}
	if !page.has("div", "role=alert") {
		t.Error("the form that came back gives no reason")
	}
	for _, bad := range []string{"mass_g=NaN&egg=S1-2&key=k&at=2026-06-09T09:15", "mass_g=x&egg=S1-2&key=k&at=2026-06-09T09:15", "egg=S1-2&key=k&at=yesterday", "egg=S1-2&key=&at=2026-06-09T09:15"} {
		if w := post(h, "/note/hatched", form, bad); w.Code != http.StatusUnprocessableEntity {
			t.Errorf("%s: status %d", bad, w.Code)
		}
	}
	if d.b.Len() != before {
		t.Error("a refused form left entries")
	}
}

// What is hardly meant is asked for once, beside what was typed; the same again is
// noted, another such figure is asked for again, and a form that is in the book is not.
func TestWhatIsHardlyMeantIsAskedForOnce(t *testing.T) {
	for kind, c := range map[string]struct {
		set   url.Values
		field string
		other string // as improbable
	}{
		"hatched":   {url.Values{"egg": {"S1-2"}, "mass_g": {"1900"}}, "mass_g", "19"},
		"hatchling": {url.Values{"hatchling": {"S1-1"}, "what": {"weighed"}, "mass_g": {"1900"}}, "mass_g", "0.1"},
		"weighed":   {url.Values{"total_g": {"1085"}}, "total_g", "60"},
		"watered":   {url.Values{"water_g": {"41"}}, "water_g", "400"},
		"box":       {url.Values{"newbox": {"B2"}, "zone": {"room"}, "dry_g": {"400"}, "total_g": {"112"}}, "total_g", "113"},
	} {
		d, h := asking(t)
		before := d.b.Len()
		f := filled(t, h, "/note/"+kind)
		for k, v := range c.set {
			f[k] = v
		}
		ask := func() {
			t.Helper()
			w := post(h, "/note/"+kind, form, f.Encode())
			page := elementsOf(t, w)
			back := page.sent()
			if w.Code != http.StatusUnprocessableEntity || d.b.Len() != before || !page.has("div", "role=alert") {
				t.Fatalf("%s: status %d, %d entries more", kind, w.Code, d.b.Len()-before)
			}
			if back.Get(c.field) != f.Get(c.field) || back.Get("key") != f.Get("key") || back.Get("sure") == "" || back.Get("sure") == f.Get("sure") {
				t.Fatalf("%s: %v came back of %v", kind, back, f)
			}
			f.Set("sure", back.Get("sure"))
		}
		ask()
		was := f.Get(c.field)
		f.Set(c.field, c.other)
		ask()
		f.Set(c.field, was)
		ask()
		for range 2 {
			if w := post(h, "/note/"+kind, form, f.Encode()); w.Code != http.StatusSeeOther || d.b.Len() != before+1 {
				t.Fatalf("%s: said to be right: status %d, %d entries more", kind, w.Code, d.b.Len()-before)
			}
		}
		f.Del("sure") // the first answer was lost, and the form is sent as it was first
		if w := post(h, "/note/"+kind, form, f.Encode()); w.Code != http.StatusSeeOther {
			t.Errorf("%s: a form that is in the book is asked for again: status %d", kind, w.Code)
		}
	}
}

// An egg that hatches long before its time may be the wrong one.
func TestAnEggThatIsFarFromHatching(t *testing.T) {
	const lines = `{"key":"e","at":"2026-04-20T08:00:00Z","entry":"clutch","clutch":"M1","dam":"Sorrel","eggs":3,"laid_after":"2026-04-19T08:00:00Z","laid_by":"2026-04-20T08:00:00Z"}
{"key":"e2","at":"2026-04-20T08:00:00Z","entry":"clutch","clutch":"T1","dam":"Sorrel","eggs":2,"laid_after":"2026-04-19T08:00:00Z","laid_by":"2026-04-20T08:00:00Z"}`
	for _, kind := range []string{"pipped", "hatched"} {
		d, h := bookDesk(t, lines)
		for egg, status := range map[string]int{"M1-1": http.StatusUnprocessableEntity, "T1-1": http.StatusSeeOther} { // 22 and 62 % of the way
			f := filled(t, h, "/note/"+kind)
			f.Set("egg", egg)
			w := post(h, "/note/"+kind, form, f.Encode())
			if w.Code != status {
				t.Fatalf("%s %s: status %d: %s", egg, kind, w.Code, w.Body)
			}
			if status == http.StatusSeeOther {
				continue
			}
			f.Set("sure", elementsOf(t, w).sent().Get("sure"))
			if w := post(h, "/note/"+kind, form, f.Encode()); w.Code != http.StatusSeeOther {
				t.Errorf("%s %s, said to be right: status %d", egg, kind, w.Code)
			}
		}
		if e, _ := d.b.Egg("M1-1"); e.Fate == book.Waiting {
			t.Errorf("M1-1 still waits")
		}
	}
}

// The first clutch of a dam takes the usual answer: without a look to date it by, it is
// at most a week old. Another answer counts as well.
func TestEggsFoundWithoutALook(t *testing.T) {
	for since, want := range map[string]time.Duration{"": 7 * 24 * time.Hour, "72h": 72 * time.Hour} {
		d, h := bookDesk(t, `{"key":"t","at":"2026-04-01T08:00:00Z","entry":"dam","dam":"Tansy"}`)
		f := filled(t, h, "/note/found")
		f.Set("dam", "Tansy")
		f.Set("box", "B1")
		if since != "" {
			f.Set("since", since)
		}
		if w := post(h, "/note/found", form, f.Encode()); w.Code != http.StatusSeeOther {
			t.Fatalf("status %d: %s", w.Code, w.Body)
		}
		if c := d.b.Clutches()[0]; !c.Laid.After.Equal(at.Add(-want)) {
			t.Errorf("%q: laid after %v", since, c.Laid.After)
		}
	}
}

// A box's page, where its label leads, leads on to the forms about it.
func TestABoxLeadsToItsForms(t *testing.T) {
	_, h := bookDesk(t, `{"key":"b","at":"2026-04-01T08:00:00Z","entry":"box","box":"B2","zone":"room"}`)
	page := get(h, "/b/B2")
	for _, kind := range []string{"found", "weighed", "watered", "moved", "emptied"} {
		target := "/note/" + kind + "?back=%2Fb%2FB2&box=B2"
		leads(t, page, target)
		if got := filled(t, h, target).Get("box"); got != "B2" {
			t.Errorf("%s has the box %q chosen", target, got)
		}
	}
}

// A form may be kept by the browser, so that Back finds it without a connection;
// nothing else may, and no page runs a script that is not a file of the station.
func TestWhatABrowserMayKeep(t *testing.T) {
	_, h := bookDesk(t, oneHatched)
	for target, want := range map[string]string{"/note": "private, no-cache", "/note/weighed": "private, no-cache", "/": "no-store", "/b/B1": "no-store", "/api/v1/now": "no-store", "/review": "no-store"} {
		w := get(h, target)
		if got := w.Header().Get("Cache-Control"); got != want {
			t.Errorf("%s: Cache-Control %q, want %q", target, got, want)
		}
		if csp := w.Header().Get("Content-Security-Policy"); !strings.Contains(csp, "script-src 'self';") || strings.Contains(csp, "unsafe") {
			t.Errorf("%s: Content-Security-Policy %q", target, csp)
		}
		if strings.HasPrefix(target, "/api/") {
			continue
		}
		for _, script := range elementsOf(t, w).find("script") {
			if src := script.attrs["src"]; !page.IsFile(src) || script.text != "" {
				t.Errorf("%s has the script %v %s", target, script.attrs, script.text)
			}
		}
	}
	for _, script := range []string{"/form.js", "/fold.js", "/chart.js", "/live.js", "/locale.js", "/waiting.js", "/worker.js"} {
		if w := get(h, script); w.Code != 200 || !strings.HasPrefix(w.Header().Get("Content-Type"), "text/javascript") {
			t.Errorf("%s: status %d, %s", script, w.Code, w.Header().Get("Content-Type"))
		}
	}
}

// The time is the phone's, to the second; where its clock is off, it is told, and
// the form goes on by the station's.
func TestThePhonesTime(t *testing.T) {
	d, h := bookDesk(t)
	send := func(instant, sentAt time.Time) (*httptest.ResponseRecorder, url.Values) {
		f := filled(t, h, "/note/note")
		f.Set("text", "a dent")
		f.Set("clock", "phone")
		f.Set("at", "2026-06-10T01:00") // as the phone's own zone has it
		f.Set("shown", "2026-06-10T01:00")
		f.Set("instant", instant.Format(time.RFC3339))
		f.Set("sent", sentAt.Format(time.RFC3339))
		return post(h, "/note/note", form, f.Encode()), f
	}
	last := func() time.Time {
		all := slices.Collect(d.b.Arrived())
		return all[len(all)-1].At
	}
	noted := at.Add(-26 * time.Hour) // sent for the first time a day ago, without a connection
	if w, _ := send(noted, at.Add(5*time.Minute)); w.Code != http.StatusSeeOther || !last().Equal(noted) {
		t.Errorf("status %d, noted at %v, want %v", w.Code, last(), noted)
	}
	for off, want := range map[time.Duration]string{
		5*time.Minute + time.Second: "5 min ahead of the station's, which shows 14:30.", -3 * time.Hour: "3 h behind the station's, which shows 14:30.",
		24 * 365 * time.Hour: "365 d ahead of the station's, which shows 9 June 2026 14:30.",
	} {
		before := d.b.Len()
		w, f := send(at.Add(off-time.Minute), at.Add(off))
		page := elementsOf(t, w)
		reason := page.find("div", "role=alert").find("").texts()
		if w.Code != http.StatusUnprocessableEntity || d.b.Len() != before || len(reason) != 1 || !strings.Contains(reason[0], " is "+want) {
			t.Errorf("a clock %v off: status %d, %d entries more, want %q in %q", off, w.Code, d.b.Len()-before, want, reason)
		}
		back := page.sent()
		for name, want := range map[string]string{"at": "2026-06-09T14:29", "clock": "station", "key": f.Get("key"), "text": "a dent"} {
			if got := back.Get(name); got != want {
				t.Errorf("a clock %v off: the form that came back has %s=%s, want %s", off, name, got, want)
			}
		}
	}
}
