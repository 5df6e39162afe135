//go:build !race

// The race detector holds memory of its own, and the test weighs the heap.

package daemon

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"golang.org/x/sys/unix"

	"example.com/ootherm/cmd/ootherm/internal/benchtest"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/station"
	"example.com/ootherm/cmd/ootherm/internal/storage"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/ledger"
)

const soakDay = 24 * time.Hour

// soakBook is the season's book: in each of 40 boxes a clutch is laid in the first four fifths
// of the season. Where there is time, one egg hatches after 95 days and one is lost.
func soakBook(began time.Time, days int) []book.Entry {
	var all []book.Entry
	add := func(at time.Time, e book.Entry) {
		e.Key, e.At = fmt.Sprint("soak-", len(all)), at
		all = append(all, e)
	}
	at := began.Add(time.Hour)
	add(at, book.Entry{Kind: book.KindDam, Dam: book.Names{"Sorrel"}, Profile: "crested gecko"})
	for i := range 40 {
		add(at, book.Entry{Kind: book.KindBox, Box: fmt.Sprint("B", i), Zone: fmt.Sprint("z", i%4)})
	}
	for i := range 40 {
		laid := began.Add(2*time.Hour + time.Duration(i)*soakDay*time.Duration(days)*4/5/40).Truncate(time.Minute)
		clutch := fmt.Sprint("C", i)
		add(laid, book.Entry{Kind: book.KindClutch, Clutch: clutch, Dam: book.Names{"Sorrel"}, Eggs: 3, LaidAfter: laid.Add(-time.Hour), LaidBy: laid})
		for n, slot := range []string{"a", "b", "c"} {
			add(laid, book.Entry{Kind: book.KindPlaced, Egg: fmt.Sprintf("%s-%d", clutch, n+1), Box: fmt.Sprint("B", i), Slot: slot})
		}
		if hatch := laid.Add(95 * soakDay); hatch.Before(began.Add(soakDay * time.Duration(days-2))) {
			add(hatch, book.Entry{Kind: book.KindHatched, Egg: clutch + "-1"})
			add(hatch.Add(-30*soakDay), book.Entry{Kind: book.KindLost, Egg: clutch + "-2", Why: "mould"})
		}
	}
	slices.SortStableFunc(all, func(a, b book.Entry) int { return a.At.Compare(b.At) })
	return all
}

// soakFault is a fault that begins at a minute of the season and lasts some minutes.
type soakFault struct {
	kind        string
	at, minutes int
}

// soakFaults are the faults of a season: one each so many minutes but for the last two days, of
// all kinds in turn.
func soakFaults(days, every int) []soakFault {
	kinds := []string{"probe", "restart", "kill", "torn", "full card", "mail", "reboot", "clock", "bus"}
	rng := rand.New(rand.NewPCG(17, 17))
	var all []soakFault
	for n := range (days - 2) * 1440 / every {
		at := n*every + 20 + rng.IntN(every/4)
		all = append(all, soakFault{kinds[n%len(kinds)], at, 5 + rng.IntN(min(200, every/2))})
		if n%4 == 2 { // mail is down while something else fails
			all = append(all, soakFault{"mail", at - 5, every / 2})
		}
	}
	slices.SortStableFunc(all, func(a, b soakFault) int { return a.at - b.at })
	return all
}

// begin begins a fault and gives what ends it, nil if it is over at once.
func (h *soakHouse) begin(f soakFault) (end func()) {
	h.counts[f.kind]++
	set := func(down bool, gone ...string) func() {
		h.mu.Lock()
		defer h.mu.Unlock()
		h.down = h.down || down
		for _, p := range gone {
			h.gone[p] = true
		}
		return func() {
			h.mu.Lock()
			defer h.mu.Unlock()
			h.down = h.down && !down
			for _, p := range gone {
				delete(h.gone, p)
			}
		}
	}
	switch f.kind {
	case "probe":
		return set(false, h.plan.Probes[f.at%12].Name)
	case "bus":
		var all []string
		for _, p := range h.plan.Probes {
			all = append(all, p.Name)
		}
		return set(false, all...)
	case "mail":
		return set(true)
	case "full card":
		synctest.Wait()
		fillCard(h.t, true)
		return func() { synctest.Wait(); fillCard(h.t, false) }
	case "clock": // set by hand, two hours ahead
		h.machine.set(2*time.Hour, true)
		return func() { h.machine.set(0, false) }
	case "reboot": // without a clock chip the machine comes back with the time at which it stopped
		h.life.stop()
		outage := time.Duration(f.minutes) * time.Minute / 10
		pass(outage)
		h.machine.reboot()
		h.machine.set(-outage, true)
		h.start()
		return func() { h.machine.set(0, false) }
	case "restart":
		h.life.stop()
	default:
		h.kill(f.kind == "torn")
	}
	pass(time.Duration(f.minutes) * time.Minute / 20)
	h.start()
	return nil
}

// soakWeight is what a process holds.
type soakWeight struct {
	goroutines, descriptors int
	heap                    uint64
}

// soakWeights are what it holds before the first start, on the last day of the first quarter, at
// the end, and after the station stopped.
type soakWeights struct{ before, quarter, end, after soakWeight }

// weigh weighs the process while the station runs and nothing is under way.
func (h *soakHouse) weigh() (w soakWeight) {
	synctest.Wait()
	open, err := os.ReadDir("/proc/self/fd")
	must(h.t, err)
	runtime.GC()
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return soakWeight{runtime.NumGoroutine(), len(open), m.HeapAlloc}
}

// season lets the days pass, with their faults and entries, and stops the station.
func (h *soakHouse) season(days int, entries []book.Entry, faults []soakFault) (w soakWeights, now *snapshot.Snapshot) {
	began := soakNow()
	h.ends = began.Add(time.Duration(days) * soakDay)
	w.before = h.weigh()
	h.start()
	ends := map[int]func(){}
	over := func(minute int) {
		for at, end := range ends {
			if at <= minute {
				end()
				delete(ends, at)
			}
		}
	}
	for soakNow().Before(h.ends) {
		pass(time.Minute)
		minute := int(soakNow().Sub(began) / time.Minute)
		over(minute)
		for len(faults) > 0 && faults[0].at <= minute {
			if end := h.begin(faults[0]); end != nil {
				at := minute + faults[0].minutes
				for ends[at] != nil {
					at++
				}
				ends[at] = end
			}
			faults = faults[1:]
		}
		if h.machine.unset { // a person sees the right time before an entry is written
			continue
		}
		n := 0
		for n < len(entries) && entries[n].At.Before(soakNow().Add(-time.Minute)) {
			n++
		}
		if n > 0 {
			err := h.ask(func(ctx context.Context, s *station.Station) error {
				_, err := s.Note(ctx, book.NewDraft(entries[:n]...))
				return err
			})
			if err == nil {
				entries = entries[n:]
			} else if h.counts["refused on a full card"]++; !errors.Is(err, unix.EFBIG) {
				h.t.Fatal(err)
			}
		}
		if w.quarter.heap == 0 && minute >= days*1440/4 && len(ends) == 0 {
			w.quarter = h.weigh()
		}
	}
	w.end = h.weigh()
	must(h.t, h.ask(func(_ context.Context, s *station.Station) error {
		s.Refresh()
		now = s.Now()
		return nil
	}))
	waiting, err := h.life.outbox.Waiting(h.t.Context())
	must(h.t, err)
	if len(waiting) > 0 || len(entries) > 0 {
		h.t.Errorf("at the end %d messages and %d entries wait", len(waiting), len(entries))
	}
	h.life.stop()
	h.life = soakLife{}
	w.after = h.weigh()
	return w, now
}

// soakGrowth is by how much the heap may grow from the first quarter of a season to its end. What
// a station keeps in memory is the book with what its eggs felt and their windows, of which three
// quarters come later, and what each block of six hours of a probe came to. soakLeft is what may be
// left once the station has stopped.
func soakGrowth(days int) uint64 {
	const perClutch, perBlock = 300_000, 200 // bytes: our choice, about twice what they take
	blocks := days * 3 / 4 * 4 * 12
	return uint64(40*3/4*perClutch + blocks*perBlock)
}

const soakLeft = 2 << 20

// soakVariable is the environment variable of the process that soaks.
const soakVariable = "OOTHERM_SOAK"

// soakApart soaks in a process of its own: a full card there is no full card for `go test`, and
// what it holds is the station's.
func soakApart(t *testing.T) {
	self, err := os.Executable()
	must(t, err)
	cmd := exec.CommandContext(t.Context(), self, "-test.run=^TestSoak$", "-test.v", "-test.timeout=0")
	cmd.Env = append(os.Environ(), soakVariable+"=1")
	out, err := cmd.CombinedOutput()
	for line := range strings.Lines(string(out)) {
		if strings.Contains(line, "_test.go:") {
			t.Log(strings.TrimSpace(line))
		}
	}
	if err != nil {
		t.Errorf("%v\n%s", err, out)
	}
}

// newSoakHouse is a house whose station has not been started yet.
func newSoakHouse(t *testing.T, days int) *soakHouse {
	h := &soakHouse{t: t, root: t.TempDir(), counts: map[string]int{}, gone: map[string]bool{}, given: newSoakGiven(t, 12, days*1440)}
	text := strings.Replace(benchtest.House{Zones: 4, Probes: 12}.Config(filepath.Join(h.root, "data"), "127.0.0.1:0"), `every = "10s"`, `every = "5m"`, 1)
	text = strings.ReplaceAll(text, `on_delay = "0s" }`, "}\nsafe = { low = \"20.5C\", high = \"28C\" }") + "[[sender]]\nname = \"mail\"\nkind = \"webhook\"\nurl = \"http://127.0.0.1:1/\"\n"
	path := filepath.Join(h.root, "ootherm.toml")
	must(t, os.WriteFile(path, []byte(text), 0o600))
	var err error
	h.cfg, err = config.Load(path, probeconfig.Drivers())
	must(t, err)
	h.plan, err = plan.FromConfig(h.cfg)
	must(t, err)
	must(t, os.Mkdir(h.folder(), 0o700))
	return h
}

// run lets a season pass in a bubble of its own.
func (h *soakHouse) run(days int, faults []soakFault) (w soakWeights, now *snapshot.Snapshot, entries []book.Entry) {
	t := h.t
	defer func() { h.t = t }()
	synctest.Test(t, func(bubble *testing.T) {
		h.t = bubble
		h.machine.booted = soakNow()
		entries = soakBook(soakNow(), days)
		w, now = h.season(days, entries, faults)
	})
	return w, now, entries
}

// A season of a whole station, with faults on each day, leaves no goroutine, descriptor or heap
// behind, also beside a season without faults. It comes to what a replay comes to that gets the
// same readings and entries and never fails. OOTHERM_FULL takes 200 days, in minutes; otherwise
// it is five.
func TestSoak(t *testing.T) {
	if os.Getenv(soakVariable) == "" {
		soakApart(t)
		return
	}
	days, every := 5, 8*60
	if os.Getenv("OOTHERM_FULL") != "" {
		days, every = 200, 24*60
	}
	signal.Ignore(unix.SIGXFSZ)
	defer signal.Reset(unix.SIGXFSZ)
	defer fillCard(t, false)
	calm, _, _ := newSoakHouse(t, days).run(days, nil)
	h := newSoakHouse(t, days)
	w, now, entries := h.run(days, soakFaults(days, every))
	began := h.ends.Add(-time.Duration(days) * soakDay)
	if t.Failed() {
		t.FailNow()
	}
	t.Logf("%d days, %d readings, %d mails, %v", days, h.given.sum(), h.mails, h.counts)
	t.Logf("without faults: %+v", calm)
	t.Logf("before: %+v; day %d: %+v; the end: %+v; after: %+v", w.before, days/4, w.quarter, w.end, w.after)
	if w.end.goroutines > w.quarter.goroutines || w.end.descriptors > w.quarter.descriptors || w.after.goroutines > w.before.goroutines || w.after.descriptors > w.before.descriptors {
		t.Error("goroutines or descriptors are left behind")
	}
	if w.end.heap+calm.before.heap > w.before.heap+calm.end.heap+soakLeft {
		t.Errorf("the faults of a season leave more than %d bytes behind", soakLeft)
	}
	if w.end.heap > w.quarter.heap+soakGrowth(days) || w.after.heap > w.before.heap+soakLeft {
		t.Errorf("the heap grows by more than %d bytes, which are data that it keeps, or keeps more than %d after the stop", soakGrowth(days), soakLeft)
	}

	files, err := storage.Open(t.Context(), h.folder(), storage.Options{})
	must(t, err)
	defer func() { must(t, files.Close()) }()
	stored, err := ledger.Open(files.Sealed())
	must(t, err)
	written, err := stored.Load()
	must(t, err)
	if !slices.EqualFunc(written, entries, book.Entry.Same) {
		t.Errorf("the book holds %d entries, want these %d", len(written), len(entries))
	}
	readings, err := files.Readings(t.Context())
	must(t, err)
	past, err := history.Open(readings, history.Options{GapLimit: h.plan.GapLimit()})
	must(t, err)
	rows, stop := newSoakRows(h, past)
	defer stop()
	clean := rows.replay(began, now.At, entries)
	t.Logf("%d believed readings replayed; of %[3]d given %[2]d were lost in power cuts", rows.n, rows.lost, h.given.sum())
	compareSoak(t, now, clean, h.counts["restart"]+h.counts["kill"]+h.counts["torn"]+h.counts["reboot"])
}
