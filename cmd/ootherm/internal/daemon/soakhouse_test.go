//go:build !race

package daemon

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"golang.org/x/sys/unix"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/cmd/ootherm/internal/clock"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/station"
	"example.com/ootherm/cmd/ootherm/internal/storage"
	"example.com/ootherm/sensor"
)

// soakMachine is a machine in a bubble: its time is the bubble's.
type soakMachine struct {
	mu     sync.Mutex
	booted time.Time
	boots  int
	wrong  time.Duration // wall clock minus truth
	unset  bool          // the clock follows no time source
}

func (m *soakMachine) Boot() string {
	m.mu.Lock()
	defer m.mu.Unlock()
	return fmt.Sprintf("soak-%d", m.boots)
}

func (m *soakMachine) Read() (clock.Reading, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return clock.Reading{Wall: soakNow().Add(m.wrong), Uptime: soakNow().Sub(m.booted), Synchronised: !m.unset}, nil
}

// set says how wrong the wall clock is, and whether it follows a time source.
func (m *soakMachine) set(wrong time.Duration, unset bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.wrong, m.unset = wrong, unset
}

// reboot starts the machine again.
func (m *soakMachine) reboot() {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.booted, m.boots = soakNow(), m.boots+1
}

// pass lets the bubble's time pass.
func pass(d time.Duration) { <-time.After(d) }

func soakNow() time.Time { return time.Now().Round(0).UTC() }

// soakHouse is the world around a station: its air, probes, card and mail, and the station that
// runs in it at present.
type soakHouse struct {
	t       *testing.T
	root    string
	cfg     config.Config
	plan    plan.Plan
	machine soakMachine
	given   *soakGiven
	lost    []soakSpan // in which readings may be lost
	counts  map[string]int

	mu    sync.Mutex
	gone  map[string]bool // probes that give no answer
	mails int             // delivered
	down  bool            // mail is down
	ends  time.Time       // of the season: from 8 h before it, a zone is cold

	lives int
	life  soakLife
}

// soakLife is one run of the station.
type soakLife struct {
	*daemon
	station *station.Station
	stop    func()
}

// soakSpan is a span of time, both ends included.
type soakSpan struct{ from, to time.Time }

// celsius is the air of a probe's zone with the noise of a part, in steps of 0.01 K: a
// thermostat's cycle and the course of the day. Each tenth day one zone is cold for five hours,
// and another at the end.
func (h *soakHouse) celsius(zone int, at time.Time, rng *rand.Rand) float64 {
	hours := float64(at.Unix()%(240*3600)) / 3600
	v := 23.3 + 0.2*math.Sin(2*math.Pi*hours*1.7) + 0.4*math.Sin(2*math.Pi*hours/24) + 0.02*rng.NormFloat64()
	if cold := hours - 40; zone == 0 && cold > 0 && cold < 8 {
		v -= 4 * min(1, cold/3, (8-cold)/3)
	}
	if zone == 3 {
		v -= 4 * max(0, min(1, (8-h.ends.Sub(at).Hours())/3))
	}
	return math.Round(v*100) / 100
}

// soakProbe is one probe of the house.
type soakProbe struct {
	h      *soakHouse
	number int
	name   string
}

func (p soakProbe) String() string { return p.name }

func (p soakProbe) Measure(context.Context) (sensor.Measurement, error) {
	p.h.mu.Lock()
	gone := p.h.gone[p.name]
	p.h.mu.Unlock()
	if gone {
		return sensor.None(), errors.New("no answer")
	}
	at := soakNow()
	p.h.given.add(p.number, at)
	return p.h.measured(p.number, at), nil
}

// measured is what a probe measures at a time.
func (h *soakHouse) measured(probe int, at time.Time) sensor.Measurement {
	rng := rand.New(rand.NewPCG(uint64(probe), uint64(at.UnixNano())))
	celsius := h.celsius(probe%4, at, rng)
	return sensor.Measurement{Celsius: celsius, Humidity: math.Round(1e4*(0.6+0.002*rng.NormFloat64())) / 1e4}
}

// soakGiven holds when each probe gave a value. It lies outside the heap, which the test weighs.
type soakGiven struct {
	most   int
	counts []int
	memory []byte
}

func newSoakGiven(t *testing.T, probes, most int) *soakGiven {
	memory, err := unix.Mmap(-1, 0, probes*most*8, unix.PROT_READ|unix.PROT_WRITE, unix.MAP_ANON|unix.MAP_PRIVATE)
	must(t, err)
	t.Cleanup(func() { must(t, unix.Munmap(memory)) })
	return &soakGiven{most, make([]int, probes), memory}
}

func (g *soakGiven) add(probe int, at time.Time) {
	binary.NativeEndian.PutUint64(g.memory[8*(probe*g.most+g.counts[probe]):], uint64(at.UnixNano()))
	g.counts[probe]++
}

func (g *soakGiven) sum() (n int) {
	for _, c := range g.counts {
		n += c
	}
	return n
}

func (g *soakGiven) at(probe, n int) time.Time {
	return time.Unix(0, int64(binary.NativeEndian.Uint64(g.memory[8*(probe*g.most+n):]))).UTC()
}

// Send is the mail.
func (h *soakHouse) Send(context.Context, alert.Message) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.down {
		return errors.New("connection refused")
	}
	h.mails++
	return nil
}

// folder is where the present life keeps its files.
func (h *soakHouse) folder() string { return filepath.Join(h.root, fmt.Sprint("life-", h.lives)) }

// start runs the station over the files of the present life, as the program does but for its
// sockets: a bubble's time stands still while one waits.
func (h *soakHouse) start() {
	h.t.Helper()
	cfg := h.cfg
	cfg.Station.Data = h.folder()
	d, err := Prepare(cfg, h.plan, Build{Version: "soak"}, &h.machine, slog.New(slog.DiscardHandler))
	must(h.t, err)
	d.loop.every = h.plan.Every
	polling, stopPolling := context.WithCancel(h.t.Context())
	stepping, stopStepping := context.WithCancel(context.WithoutCancel(h.t.Context()))
	ended := make(chan error, 1)
	go func() { ended <- d.loop.run(stepping) }()
	poller := &sensor.Poller{Buses: []sensor.Bus{h.bus()}, Every: h.plan.Every, Uptime: d.time.uptime, Deliver: d.deliverTo()}
	var jobs sync.WaitGroup
	jobs.Go(func() { _ = poller.Run(polling) })
	routes := []outbox.Route{{Name: "mail", Sender: h}}
	courierOf := func(k outbox.Keeper, to []outbox.Route) *outbox.Courier {
		return outbox.NewCourier(outbox.Overlay{Keeper: k, State: liveStates(stateSource{d.loop}.Now)}, to, d.time.now, d.recordAttempt)
	}
	d.sending.overflow, routes = outbox.NewOverflow(routes, courierOf)
	s, err := d.openWith(h.t.Context(), storage.Options{}, func(o *station.Options) {
		// Windows and the state for pages are made less often than in a room: what is
		// made between two of them leaves nothing behind.
		o.ForecastEvery, o.PublishEvery = 6*time.Hour, 10*time.Minute
	})
	must(h.t, err)
	for _, damage := range d.files.Damages() {
		h.t.Errorf("life %d: %v", h.lives, damage)
	}
	courier := courierOf(d.outbox, routes)
	d.sending.wake = courier.Wake
	d.loop.ready <- s
	jobs.Go(func() { courier.Run(polling) })
	jobs.Go(func() { d.sending.overflow.Run(polling) })
	h.life = soakLife{d, s, func() {
		stopPolling()
		jobs.Wait()
		stopStepping()
		must(h.t, errors.Join(<-ended, d.close()))
	}}
	pass(h.plan.Every / 2) // what happens next does so between two polls
}

// bus is the one bus of all probes.
func (h *soakHouse) bus() sensor.Bus {
	b := sensor.Bus{Name: "bus"}
	var probes []sensor.Probe
	for i, p := range h.plan.Probes {
		b.Names = append(b.Names, p.Name)
		probes = append(probes, soakProbe{h, i, p.Name})
	}
	b.Open = func(context.Context) ([]sensor.Probe, func() error, error) { return probes, nil, nil }
	return b
}

// ask runs a function between two steps of the station.
func (h *soakHouse) ask(do func(context.Context, *station.Station) error) error {
	return h.life.loop.do(h.t.Context(), do)
}

// kill ends the station as a power cut does: the files are as they were at that moment. With
// torn the cut comes in the next commit of the readings: of what it writes some sectors are
// there, and not its end.
func (h *soakHouse) kill(torn bool) {
	synctest.Wait()
	from := soakNow()
	if flushed := h.life.station.Now().Health.Flushed; flushed != nil {
		from = *flushed
	}
	before := h.folder()
	h.lives++
	after := h.folder()
	must(h.t, copyFolder(before, after))
	if torn {
		h.tear(before, after)
	}
	h.lost = append(h.lost, soakSpan{from.Add(-h.plan.Every), soakNow()})
	h.life.stop()
	must(h.t, os.RemoveAll(before))
}

// tear waits for one commit of the readings and lays some of its sectors over the copy.
func (h *soakHouse) tear(before, after string) {
	const readings = storage.ReadingsName
	for range 600 {
		old, was := soakImage(h.t, filepath.Join(before, readings))
		pass(10 * time.Second)
		synctest.Wait()
		now, is := soakImage(h.t, filepath.Join(before, readings))
		if is != was+1 {
			continue
		}
		must(h.t, os.RemoveAll(after))
		must(h.t, copyFolder(before, after))
		const sector, metas = 512, 8192
		rng := rand.New(rand.NewPCG(uint64(h.lives), is))
		for at := metas; at < len(now); at += sector {
			if at >= len(old) {
				old = append(old, make([]byte, len(now)-len(old))...) // the file grew
			}
			if rng.IntN(2) == 0 {
				copy(old[at:at+sector], now[at:at+sector])
				h.counts["sectors torn"]++
			}
		}
		must(h.t, os.WriteFile(filepath.Join(after, readings), old, 0o600))
		return
	}
	h.t.Fatal("the readings were not written for 100 minutes")
}

// soakImage is a file's content, and the number of its last transaction.
func soakImage(t *testing.T, path string) ([]byte, uint64) {
	t.Helper()
	b, err := os.ReadFile(path)
	must(t, err)
	page := os.Getpagesize()
	// The store's own header: the number stands 64 bytes after the beginning of each of the
	// first two pages.
	return b, max(binary.NativeEndian.Uint64(b[64:]), binary.NativeEndian.Uint64(b[page+64:]))
}

// copyFolder copies the files of a folder.
func copyFolder(from, to string) error {
	if err := os.Mkdir(to, 0o700); err != nil {
		return err
	}
	files, err := os.ReadDir(from)
	if err != nil {
		return err
	}
	for _, f := range files {
		if f.Type()&fs.ModeType != 0 {
			continue
		}
		b, err := os.ReadFile(filepath.Join(from, f.Name()))
		if err == nil {
			err = os.WriteFile(filepath.Join(to, f.Name()), b, 0o600)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// fillCard lets no file grow or change, or ends that. It is the process's own limit, so nothing
// else may write meanwhile.
func fillCard(t *testing.T, full bool) {
	var limit unix.Rlimit
	must(t, unix.Getrlimit(unix.RLIMIT_FSIZE, &limit))
	limit.Cur = limit.Max
	if full {
		limit.Cur = 1
	}
	must(t, unix.Setrlimit(unix.RLIMIT_FSIZE, &limit))
}
