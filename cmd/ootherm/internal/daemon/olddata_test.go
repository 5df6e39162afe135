package daemon

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"io"
	"log/slog"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"example.com/ootherm/alert/alertlog"
	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/cmd/ootherm/internal/clock/clocktest"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/passphrase"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/cmd/ootherm/internal/station"
	"example.com/ootherm/cmd/ootherm/internal/storage"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/bookfile"
	"example.com/ootherm/thermal/book/ledger"
	"example.com/ootherm/thermal/forecastlog"
)

// oldFolder is the data folder of a station of version 0.1.0. Its expected.json is what that
// version read from it. See testdata/SOURCES.md.
const oldFolder = "../../../../testdata/data-folder-0.1.0"

// expected are the parts of expected.json that are no store's.
type expected struct {
	CalendarSecret   string `json:"calendar_secret"`
	CalendarSequence struct {
		Number  int    `json:"number"`
		Content string `json:"content"`
	} `json:"calendar_sequence"`
	Passphrase string `json:"passphrase"`
}

// copyOldFolder copies the folder and returns the copy with what is expected of it.
func copyOldFolder(t *testing.T) (dir string, stores map[string]any, others expected) {
	t.Helper()
	dir = t.TempDir()
	files, err := os.ReadDir(oldFolder)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		b, err := os.ReadFile(filepath.Join(oldFolder, f.Name()))
		if err != nil {
			t.Fatal(err)
		}
		name, compressed := strings.CutSuffix(f.Name(), ".gz")
		if compressed {
			z, err := gzip.NewReader(bytes.NewReader(b))
			if err != nil {
				t.Fatal(err)
			}
			if b, err = io.ReadAll(z); err != nil {
				t.Fatal(err)
			}
		}
		if err := os.WriteFile(filepath.Join(dir, name), b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	text, err := os.ReadFile(filepath.Join(dir, "expected.json"))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, &others); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, &stores); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"calendar_secret", "calendar_sequence", "passphrase"} {
		delete(stores, name)
	}
	return dir, stores, others
}

type object = map[string]any

// storeReader reads everything that the stores of a data folder hold.
type storeReader struct {
	t       *testing.T
	book    book.Book
	windows *forecastlog.Store
	log     *alertlog.Store
	outbox  *outbox.Store
	history *history.Store
}

// readStores opens the stores of a folder and returns their contents under the names of
// expected.json.
func readStores(t *testing.T, dir string) object {
	t.Helper()
	files, err := storage.Open(t.Context(), dir, storage.Options{})
	must(t, err)
	defer func() { must(t, files.Close()) }()
	entries, err := ledger.Open(files.Sealed())
	must(t, err)
	loaded, err := entries.Load()
	must(t, err)
	r := storeReader{t: t}
	r.book, err = book.Fold(loaded)
	must(t, err)
	r.windows, err = forecastlog.Open(files.Sealed())
	must(t, err)
	r.log, err = alertlog.Open(files.Sealed())
	must(t, err)
	r.outbox, err = outbox.New(files.Sealed())
	must(t, err)
	readings, err := files.Readings(t.Context())
	must(t, err)
	r.history, err = history.Open(readings, history.Options{GapLimit: 10 * time.Minute})
	must(t, err)
	for _, damage := range files.Damages() {
		t.Errorf("%s is taken for damaged: %v", damage.File, damage)
	}
	alarms, waiting, err := r.outbox.Load(t.Context())
	must(t, err)
	all := object{"waiting": []object{}, "alarms": []object{}, "alarm_log": r.occurrences(), "boots": r.boots(), "probes": r.probes()}
	all["book"], all["eggs"], all["windows"] = r.entries(), r.eggs(), r.shownWindows()
	marks, sent := object{}, object{}
	for _, a := range alarms {
		x := object{
			"key": a.Key.String(), "state": a.State, "acked_by": a.AckedBy, "acked_at": a.AckedAt, "shelved_until": a.ShelvedUntil,
			"out_of_service": a.Out, "unseen": a.Unseen, "began": a.Began, "since": a.Since, "sequence": a.Sequence, "held": a.Held,
			"limit": a.Limit.At, "deadband": a.Limit.Deadband, "on_delay_s": a.Limit.OnDelay.Seconds(), "off_delay_s": a.Limit.OffDelay.Seconds(), "high": a.Limit.High,
		}
		for name, v := range map[string]float64{"value": a.Value, "peak": a.Peak} {
			if !math.IsNaN(v) {
				x[name] = v
			}
		}
		all["alarms"] = append(all["alarms"].([]object), x)
		for _, sender := range []string{"phone", "neighbour"} {
			m, has, err := r.outbox.Last(t.Context(), a.Key.String(), sender)
			must(t, err)
			if has {
				marks[a.Key.String()+" "+sender] = object{"sequence": m.Sequence, "at": m.At, "delivered": m.Delivered}
			}
		}
	}
	for _, m := range waiting {
		all["waiting"] = append(all["waiting"].([]object), object{
			"id": m.ID, "alarm": m.Alarm, "at": m.At, "priority": m.Priority, "subject": m.Subject, "body": m.Body, "over": m.Over, "until": m.Until,
			"attach": m.Attach, "sender": m.Sender, "attempts": m.Attempts, "next": m.Next, "refused": m.Refused, "last_error": m.LastErr,
		})
	}
	for _, sender := range []string{"phone", "neighbour"} {
		times, err := r.outbox.Sent(t.Context(), sender)
		must(t, err)
		sent[sender] = times
	}
	all["marks"], all["sent"] = marks, sent
	return all
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func (r storeReader) entries() (all []json.RawMessage) {
	var lines bytes.Buffer
	must(r.t, bookfile.WriteJSON(&lines, r.book.Arrived()))
	for line := range bytes.Lines(lines.Bytes()) {
		all = append(all, line)
	}
	return all
}

func (r storeReader) eggs() (all []object) {
	for _, c := range r.book.Clutches() {
		for _, e := range c.Eggs {
			all = append(all, object{"id": e.ID, "dams": c.Dams, "profile": c.Profile, "fate": e.Fate, "box": e.Box, "slot": e.Slot})
		}
	}
	return all
}

// shownWindows are the windows of each clutch, by its name.
func (r storeReader) shownWindows() object {
	all := object{}
	for _, c := range r.book.Clutches() {
		windows, err := r.windows.Load(c.ID)
		must(r.t, err)
		var shown []object
		for _, w := range windows {
			shown = append(shown, object{"box": w.Box, "day": w.Day, "at": w.At, "check_from": w.CheckFrom, "likely": w.Likely, "late_after": w.LateAfter, "developed": w.Developed})
		}
		if shown != nil {
			all[c.ID] = shown
		}
	}
	return all
}

func (r storeReader) occurrences() (all []object) {
	log, err := r.log.Between(time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC), time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC))
	must(r.t, err)
	for _, x := range log {
		all = append(all, object{"key": x.Key.String(), "began": x.Began, "raised": x.Raised, "seen": x.Seen, "ended": x.Ended, "limit": x.Limit, "peak": x.Peak})
	}
	return all
}

func (r storeReader) boots() (all []object) {
	for _, b := range r.history.Boots() {
		all = append(all, object{"number": b.Number, "id": b.ID, "start": b.Start, "bound_s": b.Bound.Seconds(), "synchronised": b.Synchronised})
	}
	return all
}

// probes are the readings of each probe: how many, their sums, and every 500th.
func (r storeReader) probes() object {
	all := object{}
	for _, name := range r.history.Probes() {
		n, celsius, humidity := 0, 0.0, 0.0
		var some []object
		for p, err := range r.history.Range(name, time.Time{}, time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC)) {
			must(r.t, err)
			x := object{"at": p.At, "boot": p.Boot, "uptime_s": p.Uptime.Seconds(), "celsius": p.Celsius}
			if !math.IsNaN(p.Humidity) {
				x["humidity"] = p.Humidity
				humidity += p.Humidity
			}
			if n%500 == 0 {
				some = append(some, x)
			}
			n++
			celsius += p.Celsius
		}
		all[name] = object{"readings": n, "sum_celsius": celsius, "sum_humidity": humidity, "every_500th": some}
	}
	return all
}

// What an older version stored is read as that version read it. Where this fails, a format
// has changed: read the old one too, instead of changing expected.json.
func TestOldDataFolder(t *testing.T) {
	dir, want, others := copyOldFolder(t)
	text, err := json.Marshal(readStores(t, dir))
	must(t, err)
	var got object
	must(t, json.Unmarshal(text, &got))
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("the stores are read otherwise (- as the older version, + as this one):\n%s", d)
	}

	secret, err := calendarSecret(dir)
	if err != nil || secret != others.CalendarSecret {
		t.Errorf("the calendar's secret is %q, %v; want %q", secret, err, others.CalendarSecret)
	}
	sequence := &calendarSequence{path: filepath.Join(dir, "calendar-sequence")}
	n, err := sequence.Number(others.CalendarSequence.Content, time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC))
	if err != nil || n != others.CalendarSequence.Number {
		t.Errorf("an unchanged calendar has number %d, %v; want %d", n, err, others.CalendarSequence.Number)
	}
	for phrase, want := range map[string]bool{others.Passphrase: true, others.Passphrase + "x": false} {
		if right, err := passphrase.FileIn(dir).Right(phrase); err != nil || right != want {
			t.Errorf("the passphrase %q is right: %t, %v", phrase, right, err)
		}
	}
}

// The station goes on with the old configuration and folder: an alarm that a person
// acknowledged, shelved or took out of service stays so, and the
// book is whole.
func TestStationGoesOnWithAnOldDataFolder(t *testing.T) {
	dir, want, _ := copyOldFolder(t)
	cfg, err := config.Load(filepath.Join(dir, "ootherm.toml"), probeconfig.Drivers())
	must(t, err)
	cfg.Station.Data = dir
	p, err := plan.FromConfig(cfg)
	must(t, err)
	d, err := Prepare(cfg, p, Build{Version: "test"}, clocktest.NewSimulated(time.Date(2026, 5, 2, 19, 59, 30, 0, time.UTC)), slog.New(slog.DiscardHandler))
	must(t, err)
	s, err := d.openWith(t.Context(), storage.Options{}, func(o *station.Options) { o.Worker, o.OnEvent = nil, nil })
	must(t, err)
	defer func() { must(t, d.close()) }()
	must(t, s.Tick(t.Context(), time.Date(2026, 5, 2, 19, 59, 40, 0, time.UTC)))

	states := map[string]string{}
	for _, a := range s.Now().Alarms {
		states[a.Key] = a.State
	}
	for key, state := range map[string]string{
		"temperature-low.warning/incubator":  "acknowledged",
		"temperature-low.critical/incubator": "shelved",
		"temperature-high.warning/incubator": "out-of-service",
	} {
		if states[key] != state {
			t.Errorf("%s is %q, want %q", key, states[key], state)
		}
	}
	if n := s.Book().Len(); n != len(want["book"].([]any)) {
		t.Errorf("the book holds %d entries", n)
	}
}
