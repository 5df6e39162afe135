package metrics

import (
	"flag"
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/testutil/promlint"
)

var update = flag.Bool("update", false, "write the golden scrape again")

const goldenFile = "testdata/scrape.prom"

var at = time.Date(2026, 6, 9, 14, 30, 0, 0, time.UTC)

func ptr[T any](v T) *T { return &v }

// attempts are those of one sender: three messages, of which one went at the second attempt.
func attempts() map[Attempt]int {
	return map[Attempt]int{{"mail", "delivered"}: 3, {"mail", "retry"}: 1, {"mail", "refused"}: 0, {"mail", "dropped"}: 0}
}

type fixed struct{ now *snapshot.Snapshot }

func (f fixed) Now() *snapshot.Snapshot { return f.now }

func station() *snapshot.Snapshot {
	clutch := snapshot.Clutch{
		Clutch: "S1", Dam: ptr("Sorrel"), Eggs: []snapshot.Egg{{Egg: "S1-1", Fate: "hatched"}, {Egg: "S1-2", Fate: "waiting"}}, Profile: ptr("crested gecko"), Developed: ptr(0.62), Observed: ptr(0.96),
		Heat:   snapshot.Heat{DegreeDays: &snapshot.DegreeDays{Base: 14.2, SoFar: 544.5, Measured: 530, Required: 878}},
		State:  ptr(snapshot.StateIncubating),
		Window: &snapshot.Window{CheckFrom: at.AddDate(0, 0, 20), Likely: at.AddDate(0, 0, 27), LateAfter: at.AddDate(0, 0, 36)},
	}
	over := snapshot.Clutch{Clutch: "O1", Dam: ptr("Sorrel"), Developed: ptr(1.0), Eggs: []snapshot.Egg{{Egg: "O1-1", Fate: "hatched"}, {Egg: "O1-2", Fate: "lost"}}}
	return &snapshot.Snapshot{
		At:      at,
		Station: snapshot.Station{Name: "egg room", Version: "1.2.3", Clock: "synchronised"},
		Zones: []snapshot.Zone{
			{Zone: "room", TrendPerHour: ptr(1.2), Probes: []snapshot.Probe{
				{Probe: "shelf", Celsius: ptr(25.9), Humidity: ptr(0.52), Status: "ok", LastGood: ptr(at.Add(-3 * time.Second)), Errors: map[string]int{"bad-frame": 2, "no-answer": 1}},
				{Probe: "one-wire", Celsius: ptr(25.8), Status: "ok", LastGood: ptr(at.Add(-8500 * time.Millisecond))},
				{Probe: "door", Celsius: ptr(24.0), Humidity: ptr(0.5), Status: "stale", LastGood: ptr(at.Add(-time.Hour)), Errors: map[string]int{"no-answer": 360}},
				{Probe: "never", Status: "missing"},
			}},
			{Zone: "incubator", Probes: []snapshot.Probe{{Probe: "shelf", Celsius: ptr(25.9), Status: "ok", Errors: map[string]int{"bad-frame": 2}}}},
		},
		Boxes: []snapshot.Box{
			{Box: "B1", Zone: "room", Clutches: []snapshot.Clutch{clutch, {Clutch: `odd "name"`, Eggs: []snapshot.Egg{{Fate: "pipped"}}}}},
			{Box: "B2", Zone: "room", Clutches: []snapshot.Clutch{clutch, over}},
		},
		Alarms: []snapshot.Alarm{
			{Alarm: "temperature-high", AlarmPlace: snapshot.AlarmPlace{Zone: ptr("room")}, Priority: "warning", State: "active"},
			{Alarm: "probe-silent", AlarmPlace: snapshot.AlarmPlace{Zone: ptr("room"), Probe: ptr("door")}, Priority: "warning", State: "acknowledged"},
			{Alarm: "probe-silent", AlarmPlace: snapshot.AlarmPlace{Zone: ptr("room"), Probe: ptr("never")}, Priority: "warning", State: "shelved"},
			{Alarm: "humidity-low", AlarmPlace: snapshot.AlarmPlace{Zone: ptr("room")}, Priority: "notice", State: "shelved"},
			{Alarm: "humidity-high", AlarmPlace: snapshot.AlarmPlace{Zone: ptr("room")}, Priority: "notice", State: "returned"},
			{Alarm: "drift-up", AlarmPlace: snapshot.AlarmPlace{Zone: ptr("room")}, Priority: "notice", State: "suppressed"},
			{Alarm: "temperature-low", AlarmPlace: snapshot.AlarmPlace{Zone: ptr("room")}, Priority: "warning", State: "out-of-service"},
		},
		Health: snapshot.Health{Waiting: 2, OldestWaiting: ptr(at.Add(-20 * time.Minute)), StorageBytes: 101 << 20, Polled: true, Flushed: ptr(at.Add(-2 * time.Minute)), LastPoll: ptr(at.Add(-8 * time.Second)), PollSeconds: 10},
		Known: []snapshot.AlarmID{
			{Alarm: "temperature-high", Zone: "room", Priority: "warning"},
			{Alarm: "temperature-high", Zone: "room", Priority: "critical"},
			{Alarm: "probe-silent", Zone: "room", Probe: "shelf", Priority: "warning"},
			{Alarm: "storage-failing", Priority: "critical"},
		},
	}
}

// scrape is what a scraper gets, without the figures of the process.
func scrape(t testing.TB, n *snapshot.Snapshot) string {
	t.Helper()
	h, err := New(fixed{n}, attempts, "1.2.3")
	if err != nil {
		t.Fatal(err)
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/metrics", nil))
	if w.Code != http.StatusOK {
		t.Fatalf("status %d: %s", w.Code, w.Body)
	}
	var b strings.Builder
	for line := range strings.Lines(w.Body.String()) {
		if strings.Contains(line, "ootherm_") {
			b.WriteString(strings.ReplaceAll(line, runtime.Version(), "GO"))
		}
	}
	return b.String()
}

// The figures of the process are its own: the kernel counts the network of the whole machine.
func TestFiguresOfTheProcess(t *testing.T) {
	h, err := New(fixed{station()}, attempts, "1.2.3")
	if err != nil {
		t.Fatal(err)
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/metrics", nil))
	if text := w.Body.String(); w.Code != http.StatusOK || !strings.Contains(text, "\nprocess_resident_memory_bytes ") || strings.Contains(text, "process_network") {
		t.Errorf("status %d: %s", w.Code, text)
	}
}

func TestGoldenScrape(t *testing.T) {
	got := scrape(t, station())
	if *update {
		if err := os.WriteFile(goldenFile, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(goldenFile)
	if err != nil {
		t.Fatalf("%v; make it with go test -update and look at it", err)
	}
	if got != string(want) {
		t.Errorf("got:\n%s\nwant:\n%s", got, want)
	}
}

// The two names that lint calls wrong are meant: degree-days are the trade's
// unit, and their help says so. No other may join them.
var meant = []string{
	`ootherm_clutch_degree_days use base unit "seconds" instead of "days"`,
	`ootherm_clutch_required_degree_days use base unit "seconds" instead of "days"`,
}

func TestLint(t *testing.T) {
	problems, err := promlint.New(strings.NewReader(scrape(t, station()))).Lint()
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, p := range problems {
		got = append(got, p.Metric+" "+p.Text)
	}
	slices.Sort(got)
	if !slices.Equal(got, meant) {
		t.Errorf("lint says:\n%s\nand is meant to say:\n%s", strings.Join(got, "\n"), strings.Join(meant, "\n"))
	}
}

// A figure that is not known is no series; a zero would be believed.
func TestAbsentIsAbsent(t *testing.T) {
	got := scrape(t, station())
	for _, bad := range []string{
		`ootherm_probe_temperature_celsius{probe="door"`, `ootherm_probe_humidity_ratio{probe="door"`,
		`temperature_celsius{probe="never"`, `success_timestamp_seconds{probe="never"`, `clutch="O1"`, `ootherm_probe_humidity_ratio{probe="one-wire"`, `ootherm_zone_trend_celsius_per_hour{zone="incubator"}`,
		`ootherm_clutch_developed_ratio{box="B1",clutch="odd`, "NaN",
	} {
		if strings.Contains(got, bad) {
			t.Errorf("the scrape holds %s", bad)
		}
	}
	quiet := station()
	quiet.Health = snapshot.Health{}
	for _, name := range []string{"ootherm_outbox_oldest", "ootherm_last_poll", "ootherm_last_flush"} {
		if got := scrape(t, quiet); strings.Contains(got, name) {
			t.Errorf("what never was has %s", name)
		}
	}
	if got := scrape(t, nil); strings.Count(got, "\n") != 9 || !strings.Contains(got, `ootherm_build_info{goversion="GO",version="1.2.3"} 1`) {
		t.Errorf("before the first state there is more than the build and the attempts:\n%s", got)
	}
}

func TestAlarmsAreZeroOrOne(t *testing.T) {
	for _, c := range []struct {
		alarm, zone, priority string
		want                  float64
	}{
		{"temperature-high", "room", "warning", 1},  // active
		{"temperature-high", "room", "critical", 0}, // never raised
		{"probe-silent", "room", "warning", 1},      // one of three holds
		{"humidity-low", "room", "notice", 0},       // shelved
		{"humidity-high", "room", "notice", 0},      // returned
		{"drift-up", "room", "notice", 0},           // suppressed
		{"temperature-low", "room", "warning", 0},   // out of service
		{"storage-failing", "", "critical", 0},      // the station's own
	} {
		line := fmt.Sprintf("ootherm_alarm_active{alarm=%q,priority=%q,zone=%q} %g\n", c.alarm, c.priority, c.zone, c.want)
		if got := scrape(t, station()); !strings.Contains(got, line) {
			t.Errorf("the scrape lacks %s", line)
		}
	}
}

// Names and figures from outside must not cost the scrape.
func TestOddNamesAndFigures(t *testing.T) {
	n := station()
	n.Zones[0].Zone = "a\xffb\n\"c\""
	n.Zones[0].Probes[0].Celsius = ptr(math.Inf(1))
	got := scrape(t, n)
	if strings.Contains(got, "+Inf") {
		t.Error("an infinite temperature is in the scrape")
	}
	if !strings.Contains(got, "zone=\"a\uFFFDb\\n\\\"c\\\"\"") {
		t.Errorf("the zone's name is not in the scrape:\n%s", got)
	}
}

func TestTwoCollectorsInOneRegistryAreRefused(t *testing.T) {
	r := prometheus.NewRegistry()
	if err := r.Register(NewCollector(fixed{station()}, attempts, "1")); err != nil {
		t.Fatal(err)
	}
	if err := r.Register(NewCollector(fixed{station()}, attempts, "1")); err == nil {
		t.Error("the same metrics were registered twice")
	}
}

func BenchmarkScrape(b *testing.B) {
	h, err := New(fixed{station()}, attempts, "1.2.3")
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		h.ServeHTTP(httptest.NewRecorder(), httptest.NewRequest(http.MethodGet, "/metrics", nil))
	}
}
