package web

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"iter"
	"math"
	"net"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/alarmpages"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"github.com/google/go-cmp/cmp"
)

// keys lists every key of a JSON value with its path; a list's members share one.
func keys(v any, path string, into map[string]bool) {
	switch v := v.(type) {
	case map[string]any:
		for k, x := range v {
			into[path+k] = true
			if path+k == "zones[].probes[].errors" {
				continue // its keys are causes
			}
			keys(x, path+k+".", into)
		}
	case []any:
		for _, x := range v {
			keys(x, strings.TrimSuffix(path, ".")+"[].", into)
		}
	}
}

func TestNowKeepsItsContract(t *testing.T) {
	w := get(handler(t, options(season())), "/api/v1/now")
	if w.Code != 200 || w.Header().Get("Content-Type") != "application/json" {
		t.Fatalf("status %d, type %q", w.Code, w.Header().Get("Content-Type"))
	}
	var v any
	if err := json.Unmarshal(w.Body.Bytes(), &v); err != nil {
		t.Fatal(err)
	}
	got := map[string]bool{}
	keys(v, "", got)
	want := map[string]bool{}
	add := func(path string, names string) {
		for _, n := range strings.Fields(names) {
			want[path+n] = true
		}
	}
	add("", "at station zones boxes unplaced dams alarms pending health")
	add("station.", "name version clock uptime_seconds")
	add("zones[].", "zone kind temperature_c relative_humidity dew_point_c vapour_pressure_deficit_pa absolute_humidity_g_m3 trend_c_per_hour set_point_c spread_k spread_c wanted safe humidity probes learning_until")
	add("zones[].wanted.", "low_c high_c")
	add("zones[].safe.", "low_c high_c")
	add("zones[].humidity.", "low high")
	add("zones[].probes[].", "probe temperature_c relative_humidity age_seconds saturated status cause last_success errors")
	add("boxes[].", "box zone probe measured offset_k offset_kelvin condensing medium clutches")
	add("boxes[].medium.", "medium dry_g water_g total_g wanted_ratio ratio weighed weigh_next add_g add_low_g add_high_g loses_g_per_day lost warning unknown drying")
	add("boxes[].medium.drying.", "loses_g_per_kpa_hour loses_low_g_per_kpa_hour loses_high_g_per_kpa_hour spans since foretold_lost_g foretold_lost_low_g foretold_lost_high_g foretold_lost loses_now_g_per_hour lost_last_day_g usual_g_per_day times_the_usual")
	add("dams[].", "dam profile due last_laid last_paired last_look intervals interval_days look_from earliest likely latest because")
	add("dams[].last_laid.", "earliest latest")
	add("boxes[].clutches[].", "clutch dam profile eggs laid developed observed degree_days equivalent_c equivalent_celsius window line_window state why because missing outside")
	add("boxes[].clutches[].eggs[].", "egg slot fate")
	add("boxes[].clutches[].laid.", "earliest latest")
	add("boxes[].clutches[].degree_days.", "base_c so_far measured required")
	add("boxes[].clutches[].window.", "check_from likely late_after late")
	add("boxes[].clutches[].line_window.", "check_from likely late_after late")
	add("boxes[].clutches[].why.", "days parts remedy")
	add("boxes[].clutches[].why.parts[].", "cause days")
	add("boxes[].clutches[].why.remedy.", "cause days")
	add("alarms[].", "key alarm zone box probe priority state since value limit peak unit stands seen coming detail until recovery")
	add("pending[].", "key alarm zone box probe priority since raised_at value limit unit")
	add("alarms[].coming.", "limit_c about earliest latest")
	add("unplaced[].", "clutch dam profile eggs laid")
	add("unplaced[].eggs[].", "egg slot fate")
	add("unplaced[].laid.", "earliest latest")
	add("health.", "flushed flush_failing waiting oldest_waiting storage_bytes polled silent_buses copies deliveries last_poll poll_interval_seconds")
	add("health.deliveries[].", "sender waiting next_try refused error alarms_fail_since")
	for k := range want {
		if !got[k] {
			t.Errorf("%s is missing", k)
		}
	}
	for k := range got {
		if !want[k] {
			t.Errorf("%s is not in the contract", k)
		}
	}
}

// A program that walks a list must not meet null in its place; every other
// absence is null.
func TestNowHasEmptyListsAndNulls(t *testing.T) {
	n := &snapshot.Snapshot{At: at, Zones: []snapshot.Zone{{Zone: "z"}, {Zone: "y", Probes: []snapshot.Probe{{Probe: "p"}}}}, Boxes: []snapshot.Box{{Box: "b"}, {Box: "c", Clutches: []snapshot.Clutch{{Clutch: "k"}}}}}
	before, err := json.Marshal(n)
	if err != nil {
		t.Fatal(err)
	}
	body := get(handler(t, options(n)), "/api/v1/now").Body.String()
	for _, want := range []string{`"alarms":[]`, `"pending":[]`, `"dams":[]`, `"medium":null`, `"probes":[]`, `"clutches":[]`, `"eggs":[]`, `"because":[]`, `"missing":[]`, `"errors":{}`,
		`"temperature_c":null`, `"window":null`, `"state":null`, `"why":null`, `"developed":null`, `"dam":null`, `"low_c":null`, `"age_seconds":null`, `"cause":null`, `"flushed":null`} {
		if !strings.Contains(body, want) {
			t.Errorf("the JSON lacks %s:\n%s", want, body)
		}
	}
	if after, _ := json.Marshal(n); !bytes.Equal(before, after) {
		t.Error("serving the state changed it")
	}
	body = get(handler(t, options(&snapshot.Snapshot{})), "/api/v1/now").Body.String()
	if n := object(t, body); !cmp.Equal(n["zones"], []any{}) || !cmp.Equal(n["boxes"], []any{}) {
		t.Errorf("an empty station has no lists: %s", body)
	}
}

func TestNowWithoutAState(t *testing.T) {
	if w := get(handler(t, options(nil)), "/api/v1/now"); w.Code != http.StatusServiceUnavailable {
		t.Errorf("before the first state: status %d", w.Code)
	}
	n := season()
	n.Zones[0].Celsius = ptr(math.NaN())
	if w := get(handler(t, options(n)), "/api/v1/now"); w.Code != http.StatusInternalServerError || strings.Contains(w.Body.String(), "zones") {
		t.Errorf("a figure that JSON cannot hold: status %d, %s", w.Code, w.Body)
	}
}

func TestHealth(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*snapshot.Snapshot)
		lag    time.Duration
		status int
		want   string
	}{
		"well":             {func(*snapshot.Snapshot) {}, 0, 200, "well: every bus was polled, saved 2 min ago; 1 probe does not answer: door\n"},
		"three polls old":  {func(*snapshot.Snapshot) {}, 30 * time.Second, 200, "well"},
		"not saved yet":    {func(n *snapshot.Snapshot) { n.Health.Flushed = nil }, 0, 200, "none saved since the start"},
		"a bus not polled": {func(n *snapshot.Snapshot) { n.Health.Polled = false }, 0, 503, "not well: a bus was not polled within three polls"},
		"a silent bus":     {func(n *snapshot.Snapshot) { n.Health.Silent = []string{"/dev/i2c-1"} }, 0, 503, "not well: nothing on /dev/i2c-1 answered in the last three polls"},
		"a silent probe": {func(n *snapshot.Snapshot) { n.Zones[0].Probes[0].Status = "stale" }, 0, 200,
			"2 probes do not answer: incubator-air, door\n"},
		"flush failing":      {func(n *snapshot.Snapshot) { n.Health.FlushFailing = true }, 0, 503, "could not be saved (saved 2 min ago)"},
		"both":               {func(n *snapshot.Snapshot) { n.Health.Polled, n.Health.FlushFailing = false, true }, 0, 503, "three polls; see that its probes are plugged in; the last readings"},
		"the station hangs":  {func(*snapshot.Snapshot) {}, 31 * time.Second, 503, "stopped reporting 31 s ago"},
		"the clock set back": {func(*snapshot.Snapshot) {}, -time.Hour, 200, "well"},
	} {
		n := season()
		c.change(n)
		o := options(n)
		o.Clock = func() time.Time { return at.Add(c.lag) }
		w := get(handler(t, o), "/healthz")
		if w.Code != c.status || !strings.Contains(w.Body.String(), c.want) {
			t.Errorf("%s: %d %q, want %d %q", name, w.Code, w.Body, c.status, c.want)
		}
	}
	if w := get(handler(t, options(nil)), "/healthz"); w.Code != 503 {
		t.Errorf("before the first state: status %d", w.Code)
	}
}

// script gives points from a list, then an error if there is one, and notes what
// was asked for.
type script struct {
	points   []page.Point
	err      error
	probe    *string
	from, to *time.Time
}

func (s script) Readings(_ context.Context, probe string, from, to time.Time) iter.Seq2[page.Point, error] {
	if s.probe != nil {
		*s.probe, *s.from, *s.to = probe, from, to
	}
	return func(yield func(page.Point, error) bool) {
		for _, p := range s.points {
			if !yield(p, nil) {
				return
			}
		}
		if s.err != nil {
			yield(page.Point{Celsius: math.NaN(), Humidity: math.NaN()}, s.err)
		}
	}
}

// Raw gives the same points, each a degree colder, so that they can be told apart.
func (s script) Hourly(context.Context, string, time.Time, time.Time) iter.Seq2[page.Hour, error] {
	return func(func(page.Hour, error) bool) {}
}

func (s script) Raw(ctx context.Context, probe string, from, to time.Time) iter.Seq2[page.Point, error] {
	return func(yield func(page.Point, error) bool) {
		for p, err := range s.Readings(ctx, probe, from, to) {
			p.Celsius--
			if !yield(p, err) {
				return
			}
		}
	}
}

func TestReadings(t *testing.T) {
	var probe string
	var from, to time.Time
	o := options(season())
	o.Past = script{probe: &probe, from: &from, to: &to, points: []page.Point{
		{At: at.In(time.FixedZone("", 7200)), Celsius: 23.25, Humidity: 0.5},
		{At: at.Add(1500 * time.Millisecond), Celsius: math.NaN(), Humidity: math.Inf(1), Cause: `bad "frame"`},
	}}
	h := handler(t, o)
	w := get(h, "/api/v1/readings?probe=shelf&from=2026-06-09T00:00:00%2B02:00&to=2026-06-10T00:00:00Z")
	const want = `{"readings":[{"at":"2026-06-09T14:30:00Z","temperature_c":23.25,"relative_humidity":0.5,"cause":null},` +
		`{"at":"2026-06-09T14:30:01.5Z","temperature_c":null,"relative_humidity":null,"cause":"bad \"frame\""}]}` + "\n"
	if w.Code != 200 || w.Body.String() != want || w.Header().Get("Content-Type") != "application/json" {
		t.Errorf("%d %s:\n%s\nwant\n%s", w.Code, w.Header().Get("Content-Type"), w.Body, want)
	}
	if probe != "shelf" || !from.Equal(time.Date(2026, 6, 8, 22, 0, 0, 0, time.UTC)) || !to.Equal(time.Date(2026, 6, 10, 0, 0, 0, 0, time.UTC)) {
		t.Errorf("asked for %s from %v to %v", probe, from, to)
	}
	get(h, "/api/v1/readings?probe=shelf")
	if !to.Equal(at) || !from.Equal(at.AddDate(0, 0, -1)) {
		t.Errorf("without bounds asked from %v to %v, want the last day", from, to)
	}
	for raw, want := range map[string]float64{"": 23.25, "&raw=false": 23.25, "&raw=true": 22.25} {
		var got struct {
			Readings []struct {
				Celsius *float64 `json:"temperature_c"`
			}
		}
		w := get(h, "/api/v1/readings?probe=shelf"+raw)
		if err := json.Unmarshal(w.Body.Bytes(), &got); err != nil || len(got.Readings) != 2 || *got.Readings[0].Celsius != want {
			t.Errorf("with %q: %s, want %v first (%v)", raw, w.Body, want, err)
		}
	}
	o.Past = script{}
	h = handler(t, o)
	if w := get(h, "/api/v1/readings?probe=shelf"); w.Code != 200 || w.Body.String() != "{\"readings\":[]}\n" {
		t.Errorf("a probe without readings: %d %s", w.Code, w.Body)
	}
	for query, c := range map[string]struct {
		status int
		want   string
	}{
		"":                                      {400, "which probe?"},
		"probe=":                                {400, "which probe?"},
		"probe=nobody":                          {404, `no probe is called "nobody"`},
		"probe=shelf&from=yesterday":            {400, `from="yesterday" is no time; write it like`},
		"probe=shelf&to=2026-06-09":             {400, `to="2026-06-09" is no time`},
		"probe=shelf&to=":                       {400, `to="" is no time`},
		"probe=shelf&probe=door":                {400, "probe is given 2 times"},
		"probe=shelf&until=2026-06-09T00:00:00": {400, `"until" is not known`},
		"probe=shelf&raw=yes":                   {400, `raw="yes" is neither true nor false`},
		"probe=%zz":                             {400, "cannot be read"},
		"probe=a;b":                             {400, "cannot be read"},
		"probe=shelf&from=2026-06-10T00:00:00Z": {400, "is not before"},
		"probe=shelf&from=2026-06-09T14:30:00Z": {400, "is not before"},
	} {
		w := get(h, "/api/v1/readings?"+query)
		if said := strings.ReplaceAll(w.Body.String(), `\"`, `"`); w.Code != c.status || !strings.Contains(said, c.want) {
			t.Errorf("?%s: %d %q, want %d %q", query, w.Code, w.Body, c.status, c.want)
		}
	}
}

func TestReadingsThatBreakOff(t *testing.T) {
	many := make([]page.Point, 5000)
	for i := range many {
		many[i] = page.Point{At: at.Add(time.Duration(i) * time.Second), Celsius: 20, Humidity: 0.5}
	}
	for name, c := range map[string]struct {
		points []page.Point
		whole  bool // an answer in words is still possible
	}{
		"at once": {nil, true}, "before anything was sent": {many[:3], true}, "after much was sent": {many, false},
	} {
		o := options(season())
		o.Past = script{points: c.points, err: errors.New("a torn block")}
		srv := httptest.NewServer(handler(t, o))
		status := 0
		res, err := http.Get(srv.URL + "/api/v1/readings?probe=shelf")
		if err == nil {
			status = res.StatusCode
			_, err = io.Copy(io.Discard, res.Body)
			_ = res.Body.Close()
		}
		srv.Close()
		if c.whole && (status != 500 || err != nil) {
			t.Errorf("%s: status %d, %v; want 500 in words", name, status, err)
		}
		if !c.whole && err == nil {
			t.Errorf("%s: the client took the part for the whole", name)
		}
	}
}

// nowhere counts what is written and keeps nothing.
type nowhere struct {
	header http.Header
	bytes  int
}

func (n *nowhere) Header() http.Header         { return n.header }
func (n *nowhere) WriteHeader(int)             {}
func (n *nowhere) Write(b []byte) (int, error) { n.bytes += len(b); return len(b), nil }

// A season of a probe goes through in one buffer: what is allocated does not
// grow with what is sent.
func TestReadingsAreNotHeldInMemory(t *testing.T) {
	allocated := func(n int) (float64, int) {
		o := options(season())
		points := make([]page.Point, n)
		for i := range points {
			points[i] = page.Point{At: at.Add(time.Duration(i) * 10 * time.Second), Celsius: 23.4, Humidity: 0.5}
		}
		o.Past = script{points: points}
		h := handler(t, o)
		var sent int
		a := testing.AllocsPerRun(3, func() {
			r := httptest.NewRequest(http.MethodGet, "/api/v1/readings?probe=shelf", nil)
			r.Host = "localhost"
			w := &nowhere{header: http.Header{}}
			h.ServeHTTP(w, r)
			sent = w.bytes
		})
		return a, sent
	}
	few, _ := allocated(10)
	many, sent := allocated(100_000)
	if sent < 100_000*80 {
		t.Fatalf("only %d bytes went out", sent)
	}
	if many > few+20 {
		t.Errorf("100,000 readings cost %.0f allocations, 10 cost %.0f", many, few)
	}
}

func TestNames(t *testing.T) {
	h := handler(t, options(season()))
	for host, want := range map[string]int{
		"localhost": 200, "localhost:8080": 200, "LOCALHOST.": 200, "127.0.0.1:8080": 200, "[::1]:8080": 200, "[::1]": 200, "192.168.1.7:8080": 200,
		"eggroom.local:8080": 200, "EggRoom.local": 200,
		"evil.example": 421, "evil.example:8080": 421, "eggroom.local.evil.example": 421, "127.0.0.1.evil.example": 421, "": 421, "localhost.evil": 421,
	} {
		r := httptest.NewRequest(http.MethodGet, "/healthz", nil)
		r.Host = host
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if w.Code != want {
			t.Errorf("asked for as %q: status %d, want %d", host, w.Code, want)
		}
	}
	r := httptest.NewRequest(http.MethodGet, "/healthz", nil)
	r.Host = "anything"
	r = r.WithContext(context.WithValue(r.Context(), http.LocalAddrContextKey, net.Addr(&net.UnixAddr{Name: "ootherm.sock", Net: "unix"})))
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	if w.Code != 200 {
		t.Errorf("through the socket: status %d", w.Code)
	}
}

func TestRoutes(t *testing.T) {
	o := options(season())
	o.Metrics = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { fmt.Fprint(w, "metrics") })
	h := handler(t, o)
	for target, want := range map[string]int{"/": 200, "/b/B1": 200, "/c/S1": 200, "/c/S9": 404, "/style.css": 200, "/icon.svg": 200, "/metrics": 200, "/none": 404, "/b/": 404} {
		w := get(h, target)
		if w.Code != want {
			t.Errorf("%s: status %d, want %d", target, w.Code, want)
		}
		for _, k := range []string{"Content-Security-Policy", "X-Content-Type-Options", "Referrer-Policy"} {
			if w.Header().Get(k) == "" {
				t.Errorf("%s: no %s", target, k)
			}
		}
		if csp := w.Header().Get("Content-Security-Policy"); strings.Contains(csp, "unsafe") || !strings.Contains(csp, "default-src 'self'") {
			t.Errorf("%s: the policy is %q", target, csp)
		}
	}
	for _, method := range []string{"POST", "PUT", "DELETE", "PATCH"} {
		for _, target := range []string{"/", "/b/B1", "/c/S1", "/api/v1/now", "/api/v1/readings", "/healthz", "/metrics", "/act", "/api/v1/book"} {
			r := httptest.NewRequest(method, target, nil)
			r.Host = "localhost"
			w := httptest.NewRecorder()
			h.ServeHTTP(w, r)
			if w.Code != http.StatusMethodNotAllowed {
				t.Errorf("%s %s on a station that only reads: status %d", method, target, w.Code)
			}
		}
	}
	r := httptest.NewRequest(http.MethodHead, "/", nil)
	r.Host = "localhost"
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	if w.Code != 200 {
		t.Errorf("HEAD /: status %d", w.Code)
	}
}

func TestNewRefusesWhatCannotServe(t *testing.T) {
	for name, change := range map[string]func(*page.Options){
		"no source": func(o *page.Options) { o.Source = nil }, "no past": func(o *page.Options) { o.Past = nil }, "no clock": func(o *page.Options) { o.Clock = nil },
		"a url without a host": func(o *page.Options) { o.URL = "eggroom" }, "a url that is none": func(o *page.Options) { o.URL = "http://[" },
	} {
		o := options(season())
		change(&o)
		if h, err := New(o); err == nil || h != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestAlarmsAreSorted(t *testing.T) {
	var got []string
	for _, a := range alarmpages.Sorted([]snapshot.Alarm{
		{Key: "shelved", State: "shelved", Priority: "critical"}, {Key: "returned", State: "returned", Priority: "critical"},
		{Key: "new", State: "active", Priority: "warning", Since: at}, {Key: "old", State: "active", Priority: "warning", Since: at.Add(-time.Hour)},
		{Key: "seen", State: "acknowledged", Priority: "critical"}, {Key: "seen warning", State: "acknowledged", Priority: "warning", Since: at.Add(-2 * time.Hour)}, {Key: "odd", State: "odd"},
	}) {
		got = append(got, a.Key)
	}
	want := []string{"seen", "old", "new", "seen warning", "returned", "shelved", "odd"}
	if !slices.Equal(got, want) {
		t.Errorf("sorted %v, want %v", got, want)
	}
}
