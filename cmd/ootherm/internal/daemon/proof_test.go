package daemon

import (
	"context"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"example.com/ootherm/alert/heartbeat"
	"example.com/ootherm/cmd/ootherm/internal/clock/clocktest"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/station"
	"example.com/ootherm/sensor"
	systemd "github.com/coreos/go-systemd/v22/daemon"
)

// proof is a station at which nothing but its proof of life runs, beside a systemd
// and a watcher that count.
type proof struct {
	t       *testing.T
	d       *daemon
	machine *clocktest.Simulated
	poller  *sensor.Poller
	fed     *net.UnixConn // systemd's socket
	beats   atomic.Int64
	looks   chan struct{} // one each time it looks whether anything hangs
	state   snapshot.Snapshot
}

func newProof(t *testing.T, buses ...sensor.Bus) *proof {
	p := &proof{t: t, looks: make(chan struct{}), machine: clocktest.NewSimulated(time.Date(2026, 4, 2, 19, 0, 0, 0, time.UTC))}
	socket := filepath.Join(t.TempDir(), "notify")
	var err error
	if p.fed, err = net.ListenUnixgram("unixgram", &net.UnixAddr{Name: socket, Net: "unixgram"}); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = p.fed.Close() })
	t.Setenv("NOTIFY_SOCKET", socket)
	watcher := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { p.beats.Add(1) }))
	t.Cleanup(watcher.Close)
	beat, err := heartbeat.New(watcher.URL)
	if err != nil {
		t.Fatal(err)
	}
	p.d = &daemon{
		plan: plan.Plan{Every: time.Millisecond}, log: slog.New(slog.DiscardHandler),
		cfg: config.Config{Station: config.Station{Heartbeat: &config.Heartbeat{Every: time.Nanosecond}}},
	}
	if p.d.time, err = newTimekeeper(p.machine, time.Time{}); err != nil {
		t.Fatal(err)
	}
	p.d.loop = newLoop(time.Hour, p.d.time.now, func(error) {}, func(*station.Station) {})
	p.poller = &sensor.Poller{Buses: buses, Every: time.Second, Uptime: func() time.Duration { p.looks <- struct{}{}; return p.d.time.uptime() }}
	warm := 23.3
	p.publish(snapshot.Snapshot{At: p.machine.True(), Health: snapshot.Health{Polled: true}, Zones: []snapshot.Zone{{Zone: "room", Celsius: &warm}}})
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan struct{})
	go func() { defer close(ended); p.d.prove(ctx, p.poller, beat) }()
	t.Cleanup(func() {
		cancel()
		for {
			select {
			case <-p.looks:
			case <-ended:
				return
			}
		}
	})
	return p
}

// publish has the station be in a state.
func (p *proof) publish(n snapshot.Snapshot) {
	p.state = n
	s := &station.Station{}
	s.Published.Store(&n)
	p.d.loop.station.Store(s)
}

// rounds lets it look so often, and gives how often systemd was fed and the watcher
// called meanwhile.
func (p *proof) rounds(n int) (fed, beats int) {
	p.t.Helper()
	<-p.looks // what it does now began under an earlier state
	<-p.looks
	p.drain()
	before := p.beats.Load()
	for range n {
		p.machine.Advance(time.Microsecond)
		<-p.looks
		fed += p.drain() // its socket holds but a few
	}
	return fed, int(p.beats.Load() - before)
}

// drain reads what systemd was told so far.
func (p *proof) drain() (fed int) {
	buf := make([]byte, 256)
	for {
		if err := p.fed.SetReadDeadline(time.Now().Add(time.Millisecond)); err != nil {
			p.t.Fatal(err)
		}
		n, err := p.fed.Read(buf)
		if errors.Is(err, os.ErrDeadlineExceeded) {
			return fed
		}
		if err != nil || strings.TrimSpace(string(buf[:n])) != systemd.SdNotifyWatchdog {
			p.t.Fatalf("systemd was told %q (%v)", buf[:n], err)
		}
		fed++
	}
}

// The watchdog is fed, and the watcher elsewhere called, while polls are made and the
// station steps; the watcher only while every zone has a value and readings are kept.
func TestProofOfLife(t *testing.T) {
	p := newProof(t)
	well := p.state
	for _, c := range []struct {
		name        string
		change      func(n *snapshot.Snapshot)
		fed, beaten bool
	}{
		{"all is well", func(*snapshot.Snapshot) {}, true, true},
		{"a zone has no value", func(n *snapshot.Snapshot) { n.Zones = []snapshot.Zone{{Zone: "room"}} }, true, false},
		{"readings are not kept", func(n *snapshot.Snapshot) { n.Health.FlushFailing = true }, true, false},
		{"a probe is not tried", func(n *snapshot.Snapshot) { n.Health.Polled = false }, true, false},
		{"the station does not step", func(n *snapshot.Snapshot) { n.At = n.At.Add(-31 * time.Second) }, false, false},
		{"all is well again", func(*snapshot.Snapshot) {}, true, true},
	} {
		n := well
		c.change(&n)
		p.publish(n)
		fed, beats := p.rounds(20)
		if (fed > 10) != c.fed || !c.fed && fed > 0 || (beats > 10) != c.beaten || !c.beaten && beats > 0 {
			t.Errorf("%s: in 20 looks systemd was fed %d times and the watcher called %d times", c.name, fed, beats)
		}
	}
}

// A bus whose poll never ends proves nothing, to nobody.
func TestNoProofOfLifeWhileABusHangs(t *testing.T) {
	p := newProof(t, sensor.Bus{Name: "i2c-1"}) // nobody polls it
	if fed, beats := p.rounds(20); fed > 0 || beats > 0 {
		t.Errorf("a bus hangs: systemd was fed %d times and the watcher called %d times", fed, beats)
	}
}
