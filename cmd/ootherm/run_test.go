package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/clock"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/storage"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/history"
)

// eggRoom is a station in a process of its own, its kernel files and its mail.
type eggRoom struct {
	t            *testing.T
	dir, config  string
	data, listen string
	mail         *mailbox
	beats        atomic.Int64
	process      *exec.Cmd
	as           func(*exec.Cmd) // makes the process that of another user; nil: of this one
	log          string          // where what it says goes
}

func newEggRoom(t *testing.T) *eggRoom {
	r := &eggRoom{t: t, dir: t.TempDir(), listen: freePort(t)}
	r.data = filepath.Join(r.dir, "data")
	var port string
	r.mail, port = openMailbox(t)
	watcher := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { r.beats.Add(1) }))
	t.Cleanup(watcher.Close)
	for device, name := range map[string]string{"iio:device0": "bme280", "iio:device1": "si7020"} {
		put(t, r.dir, "iio/"+device+"/name", name+"\n")
	}
	put(t, r.dir, "iio/iio:device1/in_temp_offset", "-4368\n")
	put(t, r.dir, "iio/iio:device1/in_temp_scale", "10.725097656\n")
	r.air(23.3)
	r.config = put(t, r.dir, "ootherm.toml", fmt.Sprintf(`[station]
name = "egg room"
units = "fahrenheit"
time_zone = "UTC"
listen = %q
url = "http://eggroom.local:8080"
data = %q
every = "200ms"
flush = "1s"
heartbeat = { url = %q, every = "1s" }
[[probe]]
name = "shelf"
driver = "iio"
path = %q
device = "bme280"
[[probe]]
name = "dummy-box"
driver = "iio"
path = %q
[[probe]]
name = "warm"
driver = "simulated"
celsius = 27
[[zone]]
name = "room"
kind = "room"
probes = ["shelf", "dummy-box"]
set_point = "74F"
wanted = { low = "72F", high = "76F", deadband = "0.5F", on_delay = "2s", off_delay = "1s" }
safe = { low = "66F", high = "80F", off_delay = "1s" }
[[zone]]
name = "incubator"
kind = "incubator"
probes = ["warm"]
[[sender]]
name = "mail"
kind = "email"
host = "127.0.0.1"
port = %s
tls = "none"
from = "station@example.org"
to = ["keeper@example.org"]
`, r.listen, r.data, watcher.URL, r.dir+"/iio", r.dir+"/iio/iio:device1", port))
	return r
}

// air sets what the kernel says of both probes: files are replaced whole, as a
// reader sees them.
func (r *eggRoom) air(celsius float64) {
	r.t.Helper()
	for name, text := range map[string]string{
		"iio:device0/in_temp_input":             fmt.Sprintf("%d\n", int(celsius*1000)),
		"iio:device0/in_humidityrelative_input": "52000\n",
		"iio:device1/in_temp_raw":               fmt.Sprintf("%d\n", int(math.Round(celsius*1000/10.725097656))+4368),
	} {
		path := filepath.Join(r.dir, "iio", name)
		aside := put(r.t, r.dir, "aside", text)
		if err := os.Rename(aside, path); err != nil {
			r.t.Fatal(err)
		}
	}
}

func (r *eggRoom) start() {
	r.t.Helper()
	r.log = filepath.Join(r.t.TempDir(), "log")
	log, err := os.Create(r.log)
	if err != nil {
		r.t.Fatal(err)
	}
	defer log.Close() // the station has its own
	r.process = command(context.Background(), "run", "--config", r.config)
	r.process.Stderr = log
	if r.as != nil {
		r.as(r.process)
	}
	if err := r.process.Start(); err != nil {
		r.t.Fatal(err)
	}
	r.t.Cleanup(func() { r.end(syscall.SIGKILL) })
	r.t.Cleanup(func() {
		if r.t.Failed() {
			r.end(syscall.SIGQUIT) // its goroutines go to its log
			r.t.Logf("the station said:\n%s", r.said())
		}
	})
	eventually(r.t, "the station is well", func() bool {
		resp, err := http.Get("http://" + r.listen + "/healthz")
		if err != nil {
			return false
		}
		defer resp.Body.Close()
		return resp.StatusCode == http.StatusOK
	})
}

// said is what the station has said so far.
func (r *eggRoom) said() string {
	text, err := os.ReadFile(r.log)
	if err != nil {
		r.t.Fatal(err)
	}
	return string(text)
}

// end ends the station, within a minute, and gives its exit code.
func (r *eggRoom) end(signal syscall.Signal) int {
	if r.process == nil {
		return 0
	}
	process := r.process.Process
	_ = process.Signal(signal)
	// The unit allows half a minute. A station that does not end has the exit code -1.
	kill := time.AfterFunc(time.Minute, func() { _ = process.Kill() })
	defer kill.Stop()
	_ = r.process.Wait()
	code := r.process.ProcessState.ExitCode()
	r.process = nil
	return code
}

func (r *eggRoom) get(path string) []byte {
	r.t.Helper()
	resp, err := http.Get("http://" + r.listen + path)
	if err != nil {
		r.t.Fatal(err)
	}
	defer resp.Body.Close()
	b, err := io.ReadAll(resp.Body)
	if err != nil || resp.StatusCode != http.StatusOK {
		r.t.Fatalf("%s: %d, %v: %s", path, resp.StatusCode, err, b)
	}
	return b
}

func (r *eggRoom) now() snapshot.Snapshot {
	r.t.Helper()
	var n snapshot.Snapshot
	if err := json.Unmarshal(r.get("/api/v1/now"), &n); err != nil {
		r.t.Fatal(err)
	}
	return n
}

// readings counts the readings of a probe that the station can show.
func (r *eggRoom) readings(probe string) int {
	return bytes.Count(r.get("/api/v1/readings?probe="+probe), []byte(`"at"`))
}

// active is the state of the wanted band's alarm.
func (r *eggRoom) active() (snapshot.Alarm, bool) {
	for _, a := range r.now().Alarms {
		if a.Key == "temperature-low.warning/room" && a.State == "active" {
			return a, true
		}
	}
	return snapshot.Alarm{}, false
}

// past fills the history with most of an hour in which the room cools by 1.2 K an
// hour: as readings of this boot where the machine has run long enough, else as
// what an earlier boot left.
func (r *eggRoom) past() {
	r.t.Helper()
	machine, err := clock.System()
	if err != nil {
		r.t.Fatal(err)
	}
	at, err := machine.Read()
	if err != nil {
		r.t.Fatal(err)
	}
	id, start := machine.Boot(), at.Wall.Add(-at.Uptime)
	from, to := at.Uptime-35*time.Minute, at.Uptime-10*time.Second
	if from < 0 {
		id, start = "an earlier boot", at.Wall.Add(-time.Hour)
		from, to = 0, time.Hour-at.Uptime-10*time.Second
	}
	files, err := storage.Open(r.t.Context(), r.data, storage.Options{})
	if err != nil {
		r.t.Fatal(err)
	}
	db, err := files.Readings(r.t.Context())
	if err != nil {
		r.t.Fatal(err)
	}
	h, err := history.Open(db, history.Options{})
	if err != nil {
		r.t.Fatal(err)
	}
	boot, err := h.Begin(id, start, 0, at.Synchronised)
	if err != nil {
		r.t.Fatal(err)
	}
	var all []sensor.Reading
	for up := from; up < to; up += 30 * time.Second {
		for _, probe := range []string{"shelf", "dummy-box"} {
			all = append(all, sensor.Reading{
				Probe: probe, Stamp: sensor.Stamp{Boot: boot.Number, Uptime: up},
				Measurement: sensor.Measurement{Celsius: 22.6 + 1.2*(to-up).Hours(), Humidity: math.NaN()},
			})
		}
	}
	if err := h.Append(all); err != nil {
		r.t.Fatal(err)
	}
	if err := h.Flush(); err != nil {
		r.t.Fatal(err)
	}
	if err := files.Close(); err != nil {
		r.t.Fatal(err)
	}
}

// bookOf is a box with three clutches of two dams, moved mid-way, by its times.
func bookOf(at time.Time) string {
	day := func(ago float64) string {
		return at.Add(-time.Duration(ago * 24 * float64(time.Hour))).UTC().Format(time.RFC3339)
	}
	var b strings.Builder
	line := func(key string, ago float64, rest string) {
		fmt.Fprintf(&b, `{"key":%q,"at":%q,%s}`+"\n", key, day(ago), rest)
	}
	line("a1", 9, `"entry":"dam","dam":"Sorrel","profile":"crested gecko"`)
	line("a2", 9, `"entry":"dam","dam":"Tansy","profile":"crested gecko"`)
	line("a3", 9, `"entry":"box","box":"B1","zone":"room","probe":"dummy-box"`)
	line("a4", 9, `"entry":"box","box":"B2","zone":"room"`)
	for i, c := range []struct {
		id, dam string
		ago     float64
	}{{"S1", "Sorrel", 8}, {"T1", "Tansy", 6}, {"S2", "Sorrel", 2}} {
		line("c"+c.id, c.ago, fmt.Sprintf(`"entry":"clutch","clutch":%q,"dam":%q,"eggs":1,"laid_after":%q,"laid_by":%q`, c.id, c.dam, day(c.ago+1), day(c.ago)))
		line("p"+c.id, c.ago, fmt.Sprintf(`"entry":"placed","egg":"%s-1","box":"B1","slot":"%c"`, c.id, 'a'+i))
	}
	line("m1", 1, `"entry":"moved","box":"B1","zone":"incubator","probe":"warm"`)
	line("q1", 0.5, `"entry":"clutch","clutch":"T2","dam":"Tansy","eggs":2,"laid_after":"`+day(1.5)+`","laid_by":"`+day(0.5)+`"`)
	line("q2", 0.5, `"entry":"placed","egg":"T2-1","box":"B2","slot":"a"`)
	return b.String()
}

// The value falls; the mail comes and says what a person woken by it needs; page,
// JSON and metrics agree; killed and started again, the alarm is still active, is
// not told under a second identity, and nothing flushed is lost.
func TestFromKernelFileToMailAndPage(t *testing.T) {
	t.Parallel()
	r := newEggRoom(t)
	r.past()
	r.air(22.65)
	r.start()
	if got := do(t, bookOf(time.Now()), "book", "add", "--config", r.config); got.code != 0 {
		t.Fatalf("noting the book while the station runs: %d: %s", got.code, got.errout)
	}
	if got := do(t, "", "windows", "--config", r.config); got.code != 0 || !strings.Contains(got.out, "Sorrel") {
		t.Errorf("windows while the station runs: %d: %s%s", got.code, got.out, got.errout)
	}
	eventually(t, "the heartbeat is called", func() bool { return r.beats.Load() > 0 })

	r.air(21.9) // 71.4 F
	eventually(t, "the alarm is active", func() bool { _, ok := r.active(); return ok })
	const subject = "▼ ROOM too cold: 71.4 °F (limit 72.0)"
	eventually(t, "the mail comes", func() bool { texts, _ := r.mail.told(subject); return len(texts) > 0 })
	texts, _ := r.mail.told(subject)
	for _, part := range []string{"Since ", "°F per hour", "Eggs here: 1 box, 1 egg.", "Second probe (", "(agrees)", "First: "} {
		if !strings.Contains(texts[0], part) {
			t.Errorf("the mail lacks %q:\n%s", part, texts[0])
		}
	}
	r.agree()

	before := r.now()
	kept := r.readings("shelf")
	eventually(t, "they are flushed", func() bool {
		n := r.now()
		return n.Health.Flushed != nil && n.Health.Flushed.After(before.At)
	})
	r.end(syscall.SIGKILL)
	r.start()
	if n := r.readings("shelf"); n < kept {
		t.Errorf("%d readings after the kill, %d had been flushed before it", n, kept)
	}
	was, _ := find(before.Alarms, "temperature-low.warning/room")
	is, ok := find(r.now().Alarms, "temperature-low.warning/room")
	if !ok || is.State != "active" || !is.Since.Equal(was.Since) {
		t.Errorf("after the kill the alarm is %+v, was %+v", is, was)
	}
	start := r.now().At
	eventually(t, "it has stepped a while", func() bool { return r.now().At.Sub(start) > 4*time.Second })
	if _, ids := r.mail.told(subject); ids != 1 {
		t.Errorf("the alarm was told under %d identities, want 1", ids)
	}
	if a := boxOf(r.now(), "B1"); len(a.Clutches) != 3 {
		t.Errorf("after the kill B1 holds %d clutches, want 3", len(a.Clutches))
	}

	r.air(23.3)
	eventually(t, "its end is told", func() bool { texts, _ := r.mail.told("● ROOM back in order"); return len(texts) > 0 })
	if code := r.end(syscall.SIGTERM); code != 0 {
		t.Errorf("asked to end, it ended with %d:\n%s", code, r.said())
	}
}

func find(alarms []snapshot.Alarm, key string) (snapshot.Alarm, bool) {
	for _, a := range alarms {
		if a.Key == key {
			return a, true
		}
	}
	return snapshot.Alarm{}, false
}

func boxOf(n snapshot.Snapshot, id string) snapshot.Box {
	for _, b := range n.Boxes {
		if b.Box == id {
			return b
		}
	}
	return snapshot.Box{}
}

// agree holds page, JSON and metrics to the same figures.
func (r *eggRoom) agree() {
	r.t.Helper()
	n := r.now()
	box := boxOf(n, "B1")
	if len(box.Clutches) != 3 || box.Zone != "incubator" {
		r.t.Fatalf("B1 is %+v, want three clutches in the incubator", box)
	}
	metrics, page := string(r.get("/metrics")), string(r.get("/"))+string(r.get("/b/B1"))
	for _, c := range box.Clutches {
		if c.Developed == nil || c.Window == nil || c.DegreeDays == nil {
			r.t.Errorf("%s has no window: %+v", c.Clutch, c)
			continue
		}
		labels := fmt.Sprintf(`{box="B1",clutch=%q} `, c.Clutch)
		for name, want := range map[string]float64{
			"ootherm_clutch_developed_ratio": *c.Developed, "ootherm_clutch_observed_ratio": *c.Observed,
			"ootherm_clutch_degree_days": c.DegreeDays.SoFar, "ootherm_clutch_required_degree_days": c.DegreeDays.Required,
			"ootherm_clutch_likely_timestamp_seconds": float64(c.Window.Likely.Unix()),
		} {
			_, rest, found := strings.Cut(metrics, name+labels)
			line, _, _ := strings.Cut(rest, "\n")
			got, err := strconv.ParseFloat(line, 64)
			if !found || err != nil || math.Abs(got-want) > 1e-3*math.Abs(want) {
				r.t.Errorf("%s%s is %q, the JSON says %v", name, labels, line, want)
			}
		}
		for _, text := range []string{*c.Dam, c.Clutch, fmt.Sprintf("%d&nbsp;%% developed", int(*c.Developed*100)), c.Window.Likely.Format("2 Jan")} {
			if !regexp.MustCompile(strings.ReplaceAll(regexp.QuoteMeta(text), "&nbsp;", `(&nbsp;|\s|\x{a0})`)).MatchString(page) {
				r.t.Errorf("the page lacks %q of %s", text, c.Clutch)
			}
		}
	}
}

// A readings file that is none is set aside; polling goes on, and the book is
// whole.
func TestDamagedReadingsAreSetAside(t *testing.T) {
	config, data, listen := small(t)
	if got := do(t, twoEntries, "book", "add", "--config", config); got.code != 0 {
		t.Fatalf("%d: %s", got.code, got.errout)
	}
	put(t, data, "readings.db", strings.Repeat("these are no readings\n", 4000))
	r := &eggRoom{t: t, config: config, data: data, listen: listen}
	r.start()
	eventually(t, "readings are taken", func() bool { return r.readings("shelf") > 3 })
	if b := boxOf(r.now(), "B1"); b.Zone != "room" {
		t.Errorf("the book lost its box: %+v", b)
	}
	aside, err := filepath.Glob(filepath.Join(data, "readings.db?*"))
	if err != nil || len(aside) != 1 {
		t.Errorf("set aside: %v, %v, want the one file that was no history", aside, err)
	}
	if !strings.Contains(r.said(), "damaged") {
		t.Errorf("the log does not tell:\n%s", r.said())
	}
}
