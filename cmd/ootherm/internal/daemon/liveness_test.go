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
	"example.com/ootherm/sensor"
	systemd "github.com/coreos/go-systemd/v22/daemon"
)

// livenessBench runs reportLiveness of a daemon against a systemd socket and a heartbeat
// server that count.
type livenessBench struct {
	t       *testing.T
	d       *daemon
	machine *clocktest.Simulated
	poller  *sensor.Poller
	systemd *net.UnixConn // receives the watchdog's messages
	beats   atomic.Int64
	checks  chan struct{} // receives one value at each check for a bus that hangs
	state   snapshot.Snapshot

	published atomic.Pointer[snapshot.Snapshot]
}

func newLivenessBench(t *testing.T, buses ...sensor.Bus) *livenessBench {
	p := &livenessBench{t: t, checks: make(chan struct{}), machine: clocktest.NewSimulated(time.Date(2026, 4, 2, 19, 0, 0, 0, time.UTC))}
	socket := filepath.Join(t.TempDir(), "notify")
	var err error
	if p.systemd, err = net.ListenUnixgram("unixgram", &net.UnixAddr{Name: socket, Net: "unixgram"}); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = p.systemd.Close() })
	t.Setenv("NOTIFY_SOCKET", socket)
	watcher := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { p.beats.Add(1) }))
	t.Cleanup(watcher.Close)
	beat, err := heartbeat.New(watcher.URL, http.DefaultClient)
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
	p.poller = &sensor.Poller{Buses: buses, Every: time.Second, Uptime: func() time.Duration { p.checks <- struct{}{}; return p.d.time.uptime() }}
	warm := 23.3
	p.publish(snapshot.Snapshot{At: p.machine.True(), Health: snapshot.Health{Polled: true}, Zones: []snapshot.Zone{{Zone: "room", Celsius: &warm}}})
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan struct{})
	go func() { defer close(ended); p.d.reportLiveness(ctx, p.published.Load, p.poller, beat) }()
	t.Cleanup(func() {
		cancel()
		for {
			select {
			case <-p.checks:
			case <-ended:
				return
			}
		}
	})
	return p
}

// publish makes the station publish a snapshot.
func (p *livenessBench) publish(n snapshot.Snapshot) {
	p.state = n
	p.published.Store(&n)
}

// rounds waits for n checks. It returns how many watchdog messages and heartbeats were
// sent meanwhile.
func (p *livenessBench) rounds(n int) (fed, beats int) {
	p.t.Helper()
	<-p.checks // the check under way began under an earlier snapshot
	<-p.checks
	p.drain()
	before := p.beats.Load()
	for range n {
		p.machine.Advance(time.Microsecond)
		<-p.checks
		fed += p.drain() // the socket holds only a few messages
	}
	return fed, int(p.beats.Load() - before)
}

// drain reads the messages that systemd received so far and counts them.
func (p *livenessBench) drain() (fed int) {
	buf := make([]byte, 256)
	for {
		if err := p.systemd.SetReadDeadline(time.Now().Add(time.Millisecond)); err != nil {
			p.t.Fatal(err)
		}
		n, err := p.systemd.Read(buf)
		if errors.Is(err, os.ErrDeadlineExceeded) {
			return fed
		}
		if err != nil || strings.TrimSpace(string(buf[:n])) != systemd.SdNotifyWatchdog {
			p.t.Fatalf("systemd received %q (%v)", buf[:n], err)
		}
		fed++
	}
}

// The daemon feeds the watchdog while polls are made and the station steps. It sends the
// heartbeat only while, in addition, every zone has a value and readings are stored.
func TestLivenessFollowsTheStation(t *testing.T) {
	p := newLivenessBench(t)
	healthy := p.state
	for _, c := range []struct {
		name        string
		change      func(n *snapshot.Snapshot)
		fed, beaten bool
	}{
		{"all is well", func(*snapshot.Snapshot) {}, true, true},
		{"a zone has no value", func(n *snapshot.Snapshot) { n.Zones = []snapshot.Zone{{Zone: "room"}} }, true, false},
		{"readings are not stored", func(n *snapshot.Snapshot) { n.Health.FlushFailing = true }, true, false},
		{"a probe was never polled", func(n *snapshot.Snapshot) { n.Health.Polled = false }, true, false},
		{"the station does not step", func(n *snapshot.Snapshot) { n.At = n.At.Add(-31 * time.Second) }, false, false},
		{"all is well again", func(*snapshot.Snapshot) {}, true, true},
	} {
		n := healthy
		c.change(&n)
		p.publish(n)
		fed, beats := p.rounds(20)
		if (fed > 10) != c.fed || !c.fed && fed > 0 || (beats > 10) != c.beaten || !c.beaten && beats > 0 {
			t.Errorf("%s: in 20 checks the watchdog was fed %d times and %d heartbeats were sent", c.name, fed, beats)
		}
	}
}

// A watchdog that waits for less is fed more often.
func TestWatchdogIsFedInTime(t *testing.T) {
	t.Setenv("WATCHDOG_PID", "")
	for usec, want := range map[string]time.Duration{"": 10 * time.Second, "60000000": 10 * time.Second, "6000000": 3 * time.Second} {
		t.Setenv("WATCHDOG_USEC", usec)
		if got := livenessInterval(time.Minute); got != want {
			t.Errorf("a watchdog of %q microseconds is fed each %v, want %v", usec, got, want)
		}
	}
	if got := livenessInterval(time.Second); got != time.Second {
		t.Errorf("with polls each second it is fed each %v", got)
	}
}

// While the poll of a bus hangs, the daemon neither feeds the watchdog nor sends the
// heartbeat.
func TestNoLivenessWhileABusHangs(t *testing.T) {
	p := newLivenessBench(t, sensor.Bus{Name: "i2c-1"}) // its poller does not run
	if fed, beats := p.rounds(20); fed > 0 || beats > 0 {
		t.Errorf("a bus hangs: the watchdog was fed %d times and %d heartbeats were sent", fed, beats)
	}
}
