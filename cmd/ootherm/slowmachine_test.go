//go:build !race

// The race detector takes time of its own, so this is measured without it.

package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/benchtest"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// slowFactor is how much slower a small Pi is than this machine (an assumption: 4 % of a core).
const slowFactor = 25

// slowLimits are in seconds of the slow machine, in the order of the table.
var slowLimits = []struct {
	what    string
	seconds float64 // 0: printed alone
}{
	{"READY", 10}, {"READY after a power cut", 0}, {"first poll", 10}, {"an alarm", 10}, {"first window", 60}, {"all windows", 0}, {"background work done", 0},
	{"incident of a night", 5}, {"incident of a month", 25}, {"book add, station stopped", 10},
	{"demo's page, with progress", 15}, {"demo's season made", 0},
}

// slowTimes are the CPU seconds of this machine up to each event: the least of the tries.
type slowTimes map[string]float64

func (s slowTimes) note(what string, seconds float64) {
	if was, ok := s[what]; !ok || seconds < was {
		s[what] = seconds
	}
}

// A machine of which 25 make this one starts, watches and answers in time, with three seasons
// of 12 probes and 40 boxes behind it. What is measured is the CPU time of the program and its
// checks up to each event. OOTHERM_FULL makes whole seasons, on a machine that does nothing
// else; otherwise the seasons have three days, and each event may take twice its limit, since
// other tests make each second longer. Of three starts the least counts: the first one computes
// what a station that ran throughout has kept.
func TestSlowMachine(t *testing.T) {
	h := benchtest.ThreeSeasons(time.Now())
	full := os.Getenv("OOTHERM_FULL") != ""
	tries, allowed := 3, 1.0
	if !full {
		h.Days, tries, allowed = 3, 1, 2
	}
	dir := t.TempDir()
	r := &eggRoom{t: t, dir: dir, data: filepath.Join(dir, "data"), listen: freePort(t)}
	r.config = put(t, dir, "ootherm.toml", h.Config(r.data, r.listen))
	if err := h.Fill(t.Context(), r.data); err != nil {
		t.Fatal(err)
	}
	lines, err := h.Book()
	if err != nil {
		t.Fatal(err)
	}
	if got := do(t, lines, "book", "add", "--config", r.config); got.code != 0 {
		t.Fatalf("%d: %s", got.code, got.errout)
	}
	times := slowTimes{}
	for try := range tries {
		r.slowStart(times)
		if try == tries-1 {
			r.slowIncidents(times)
		}
		if code := r.end(syscall.SIGTERM); code != 0 {
			t.Fatalf("the station ended with %d", code)
		}
		line := fmt.Sprintf(`{"key":"slow-%d","at":%q,"entry":"note","about":"S2C1","text":"seen"}`, try, h.Now.Format(time.RFC3339))
		times.note("book add, station stopped", addEntry(t, r.config, line))
		slowDemo(t, times, full && try == 0)
	}
	r.slowStart(slowTimes{})
	r.end(syscall.SIGKILL)
	cut := slowTimes{}
	r.slowStart(cut)
	times.note("READY after a power cut", cut["READY"])
	for _, l := range slowLimits {
		s, ok := times[l.what]
		switch slow := s * slowFactor; {
		case !ok:
		case l.seconds == 0:
			t.Logf("%-28s %6.2f s here, %7.1f s on the slow machine", l.what, s, slow)
		default:
			t.Logf("%-28s %6.2f s here, %7.1f s on the slow machine, at most %.0f", l.what, s, slow, l.seconds)
			if slow > l.seconds*allowed {
				t.Errorf("%s takes %.1f s on the slow machine, want at most %.0f", l.what, slow, l.seconds*allowed)
			}
		}
	}
}

// slowStart starts the station and notes its CPU time up to each event.
func (r *eggRoom) slowStart(times slowTimes) {
	r.t.Helper()
	socket := filepath.Join(r.dir, "notify")
	_ = os.Remove(socket) // of the try before
	notify, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: socket, Net: "unixgram"})
	if err != nil {
		r.t.Fatal(err)
	}
	defer notify.Close()
	r.log = filepath.Join(r.t.TempDir(), "log")
	log, err := os.Create(r.log)
	if err != nil {
		r.t.Fatal(err)
	}
	defer log.Close()
	r.process = command(context.Background(), "run", "--config", r.config)
	r.process.Stderr = log
	r.process.Env = append(r.process.Env, "NOTIFY_SOCKET="+socket)
	if err := r.process.Start(); err != nil {
		r.t.Fatal(err)
	}
	r.t.Cleanup(func() { r.end(syscall.SIGKILL) })
	if err := notify.SetReadDeadline(time.Now().Add(5 * time.Minute)); err != nil {
		r.t.Fatal(err)
	}
	for b := make([]byte, 4096); ; {
		n, err := notify.Read(b)
		if err != nil {
			r.t.Fatalf("it is not ready: %v\n%s", err, r.said())
		}
		if strings.Contains(string(b[:n]), "READY=1") {
			break
		}
	}
	pid := r.process.Process.Pid
	times.note("READY", cpuSeconds(r.t, pid))
	r.slowEvent(times, "first poll", func(n snapshot.Snapshot) bool { return n.Health.Polled })
	r.slowEvent(times, "an alarm", func(n snapshot.Snapshot) bool {
		for _, a := range n.Alarms {
			if strings.HasPrefix(a.Key, "temperature-high") && a.State == "active" {
				return true
			}
		}
		return false
	})
	windows := func(n snapshot.Snapshot) (have int) {
		for _, b := range n.Boxes {
			for _, c := range b.Clutches {
				if c.Window != nil {
					have++
					break
				}
			}
		}
		return have
	}
	r.slowEvent(times, "first window", func(n snapshot.Snapshot) bool { return windows(n) > 0 })
	r.slowEvent(times, "all windows", func(n snapshot.Snapshot) bool { return windows(n) == len(n.Boxes) })
}

// slowEvent waits until the published state shows an event, and notes the CPU time.
func (r *eggRoom) slowEvent(times slowTimes, what string, holds func(snapshot.Snapshot) bool) {
	r.t.Helper()
	within(r.t, 10*time.Minute, what, func() bool {
		resp, err := http.Get("http://" + r.listen + "/api/v1/now")
		if err != nil {
			return false
		}
		defer resp.Body.Close()
		var n snapshot.Snapshot
		return json.NewDecoder(resp.Body).Decode(&n) == nil && holds(n)
	})
	times.note(what, cpuSeconds(r.t, r.process.Process.Pid))
}

// slowIncidents waits until nothing is computed in the background, and looks back.
func (r *eggRoom) slowIncidents(times slowTimes) {
	r.t.Helper()
	pid := r.process.Process.Pid
	last, since := cpuSeconds(r.t, pid), time.Now()
	within(r.t, 10*time.Minute, "it is quiet", func() bool {
		if now := cpuSeconds(r.t, pid); now-last > 0.05 {
			last, since = now, time.Now()
		}
		return time.Since(since) > 3*time.Second
	})
	times.note("background work done", last)
	for what, span := range map[string]time.Duration{"incident of a night": 12 * time.Hour, "incident of a month": 30 * 24 * time.Hour} {
		before := cpuSeconds(r.t, pid)
		from := time.Now().UTC().Add(-span).Format(time.RFC3339)
		if got := r.get("/api/v1/incident?from=" + from); !bytes.Contains(got, []byte(`"moved`)) {
			r.t.Errorf("%s says nothing of a clutch: %.200s", what, got)
		}
		times.note(what, cpuSeconds(r.t, pid)-before)
	}
}

// addEntry adds an entry to the book beside a stopped station. It gives the CPU time.
func addEntry(t *testing.T, config, line string) float64 {
	t.Helper()
	c := command(t.Context(), "book", "add", "--config", config)
	c.Stdin = strings.NewReader(line)
	if out, err := c.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	return (c.ProcessState.UserTime() + c.ProcessState.SystemTime()).Seconds()
}

// slowDemo starts a demo and notes the CPU time up to its first page, and where asked up to the
// page of the finished season.
func slowDemo(t *testing.T, times slowTimes, whole bool) {
	t.Helper()
	listen := freePort(t)
	c := command(context.Background(), "demo", "--listen", listen)
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	defer func() {
		_ = c.Process.Signal(syscall.SIGTERM)
		if err := c.Wait(); err != nil && !errors.As(err, new(*exec.ExitError)) {
			t.Error(err)
		}
	}()
	page := func(has string) func() bool {
		return func() bool {
			resp, err := http.Get("http://" + listen + "/")
			if err != nil {
				return false
			}
			defer resp.Body.Close()
			var b bytes.Buffer
			_, err = b.ReadFrom(resp.Body)
			return err == nil && resp.StatusCode == http.StatusOK && strings.Contains(b.String(), has)
		}
	}
	within(t, time.Minute, "the demo shows how far it is", page("Making the season"))
	times.note("demo's page, with progress", cpuSeconds(t, c.Process.Pid))
	if whole {
		within(t, 10*time.Minute, "the demo shows its season", page("incubator"))
		times.note("demo's season made", cpuSeconds(t, c.Process.Pid))
	}
}

// cpuSeconds is the CPU time of a process and of its children that ended, from the kernel
// (proc(5), /proc/pid/stat, fields 14 to 17, in hundredths of a second).
func cpuSeconds(t *testing.T, pid int) float64 {
	t.Helper()
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		t.Fatal(err)
	}
	fields := strings.Fields(string(text[bytes.LastIndexByte(text, ')')+1:]))
	sum := 0
	for _, f := range fields[11:15] {
		n, err := strconv.Atoi(f)
		if err != nil {
			t.Fatal(err)
		}
		sum += n
	}
	return float64(sum) / 100
}
