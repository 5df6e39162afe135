//go:build !race

// The race detector holds memory of its own, so this is measured without it.

package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/storage"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/history"
)

// A station with twelve probes, forty boxes and a season behind it holds at most
// 40 MB of its own. OOTHERM_FULL makes it a whole season; otherwise ten days.
func TestMemoryOfASeason(t *testing.T) {
	days := 10
	if os.Getenv("OOTHERM_FULL") != "" {
		days = 200
	}
	const probes, boxes, most = 12, 40, 40 << 10 // kB
	dir := t.TempDir()
	data, listen := filepath.Join(dir, "data"), freePort(t)
	var config, lines strings.Builder
	fmt.Fprintf(&config, "[station]\nname = \"egg room\"\ndata = %q\nlisten = %q\nevery = \"1s\"\nflush = \"5m\"\n", data, listen)
	began := time.Now().Add(-time.Duration(days) * 24 * time.Hour).UTC()
	at := began.Format(time.RFC3339)
	line := func(key, rest string) { fmt.Fprintf(&lines, `{"key":%q,"at":%q,%s}`+"\n", key, at, rest) }
	line("d", `"entry":"dam","dam":"Sorrel","profile":"crested gecko"`)
	for i := range probes {
		fmt.Fprintf(&config, "[[probe]]\nname = \"p%d\"\ndriver = \"simulated\"\n[[zone]]\nname = \"z%d\"\nkind = \"shelf\"\nprobes = [\"p%d\"]\nwanted = { low = \"22C\", high = \"25C\" }\n", i, i, i)
	}
	for i := range boxes {
		line(fmt.Sprintf("b%d", i), fmt.Sprintf(`"entry":"box","box":"B%d","zone":"z%d"`, i, i%probes))
		line(fmt.Sprintf("c%d", i), fmt.Sprintf(`"entry":"clutch","clutch":"C%d","dam":"Sorrel","eggs":2,"laid_after":%q,"laid_by":%q`, i, at, at))
		line(fmt.Sprintf("e%d", i), fmt.Sprintf(`"entry":"placed","egg":"C%d-1","box":"B%d","slot":"a"`, i, i))
	}
	fill(t, data, probes, days, began)
	r := &eggRoom{t: t, config: put(t, dir, "ootherm.toml", config.String()), data: data, listen: listen}
	if got := do(t, lines.String(), "book", "add", "--config", r.config); got.code != 0 {
		t.Fatalf("%d: %s", got.code, got.errout)
	}
	r.start()
	eventually(t, "every clutch has its window", func() bool {
		n := r.now()
		for _, b := range n.Boxes {
			if len(b.Clutches) == 0 || b.Clutches[0].Window == nil {
				return false
			}
		}
		return len(n.Boxes) == boxes
	})
	r.get("/")
	r.get("/metrics")
	kb := status(t, r.process.Process.Pid, "RssAnon:")
	t.Logf("%d days of %d probes, %d boxes: RssAnon %d kB", days, probes, boxes, kb)
	if kb > most {
		t.Errorf("the station holds %d kB of its own, want at most %d", kb, most)
	}
}

// The largest book is taken by a running station, and read at the next start, within the
// unit's memory. One that is larger is refused. OOTHERM_FULL takes the largest; otherwise it
// is a tenth.
func TestMemoryOfTheLargestBook(t *testing.T) {
	const most = 150 << 10 // kB; 10 MB below MemoryMax of the unit
	entries := few(2_000, 20_000)
	notes := func(n int) string {
		var lines strings.Builder
		for i := range n {
			fmt.Fprintf(&lines, `{"key":"n%d","at":"2026-04-02T19:00:00Z","entry":"note","text":"%d %s"}`+"\n", i, i, strings.Repeat("x", 200))
		}
		return lines.String()
	}
	config, data, listen := small(t)
	r := &eggRoom{t: t, config: config, data: data, listen: listen}
	r.start()
	if got := do(t, notes(20_001), "book", "add", "--config", config); got.code != 1 || !strings.Contains(got.errout, "20001 lines") {
		t.Errorf("a book that is too large: %+v", got)
	}
	if got := do(t, notes(entries), "book", "add", "--config", config); got.code != 0 {
		t.Fatalf("%+v", got)
	}
	added := status(t, r.process.Process.Pid, "VmHWM:")
	r.end(syscall.SIGTERM)
	r.start()
	started := status(t, r.process.Process.Pid, "VmHWM:")
	r.get("/api/v1/book")
	kb := status(t, r.process.Process.Pid, "RssAnon:")
	t.Logf("%d notes: at most %d kB while they are added, %d kB at a start; then RssAnon %d kB", entries, added, started, kb)
	if max(added, started, kb) > most {
		t.Errorf("the station takes over %d kB", most)
	}
}

// fill writes a history of probes read every ten seconds, with the noise of a room: 0.02 K and
// 0.2 % (our choice).
func fill(t *testing.T, data string, probes, days int, began time.Time) {
	t.Helper()
	files, err := storage.Open(t.Context(), data, storage.Options{})
	if err != nil {
		t.Fatal(err)
	}
	db, err := files.Readings(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	h, err := history.Open(db, history.Options{})
	if err != nil {
		t.Fatal(err)
	}
	boot, err := h.Begin("the season", began, 0, false)
	if err != nil {
		t.Fatal(err)
	}
	batch, rng := make([]sensor.Reading, probes), rand.New(rand.NewPCG(3, 3))
	for step := range days * 8640 {
		for i := range batch {
			c := 23.3 + 0.5*math.Sin(float64(step)/1375) + 0.02*rng.NormFloat64()
			rh := 0.6 + 0.03*math.Cos(float64(step)/1375) + 0.002*rng.NormFloat64()
			batch[i] = sensor.Reading{
				Probe: fmt.Sprintf("p%d", i), Stamp: sensor.Stamp{Boot: boot.Number, Uptime: time.Duration(step) * 10 * time.Second},
				Measurement: sensor.Measurement{Celsius: math.Round(c*100) / 100, Humidity: math.Round(rh*1e4) / 1e4},
			}
		}
		if err := h.Append(batch); err != nil {
			t.Fatal(err)
		}
		if step%(10*8640) == 0 {
			if err := h.Flush(); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := h.Flush(); err != nil {
		t.Fatal(err)
	}
	if err := files.Close(); err != nil {
		t.Fatal(err)
	}
}

// status reads a figure in kB of a process from the kernel.
func status(t *testing.T, pid int, field string) int {
	t.Helper()
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(text)) {
		if rest, ok := strings.CutPrefix(line, field); ok {
			kb, err := strconv.Atoi(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(rest), "kB")))
			if err != nil {
				t.Fatal(err)
			}
			return kb
		}
	}
	t.Fatalf("the kernel says nothing of %s", field)
	return 0
}
