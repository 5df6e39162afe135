package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/passphrase"
)

// The limits of a siege. An alarm is out within its on-delay plus a minute, for whatever
// peer; a peer takes less than 32 MB more (our choice: the unit allows 160 MB, and a season
// of 40 boxes holds 40).
const (
	siegeOnDelay   = 200 * time.Millisecond
	siegeLate      = siegeOnDelay + time.Minute
	siegeMemory    = 32 << 10 // kB, over what the station held before
	siegeStanding  = 120 << 10
	unitFiles      = 1024 // LimitNOFILE of the unit
	siegePassword  = "four warm brown eggs"
	temperatureHot = "temperature-high.critical/room"
	siegeSubject   = "▲ CRITICAL ROOM too warm:"
)

// siege is a station under the unit's limits, with a probe that becomes critical, two ways
// out that work, and peers that attack it.
type siege struct {
	*eggRoom
	raised, over atomic.Int64 // messages that the webhook took
	http         *evilPeer    // of a webhook, the heartbeat and a scraped probe
	smtp, broker *evilPeer
	secure       *evilPeer    // it should speak TLS
	peak         atomic.Int64 // kB
}

// few is the small count of an attack, or the whole one with OOTHERM_FULL.
func few(small, full int) int {
	if os.Getenv("OOTHERM_FULL") != "" {
		return full
	}
	return small
}

func newSiege(t *testing.T) *siege {
	s := &siege{eggRoom: newEggRoom(t), http: newEvilPeer(t), smtp: newEvilPeer(t), broker: newEvilPeer(t), secure: newEvilPeer(t)}
	hook := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		var m struct {
			Alarm string
			Over  bool
		}
		body, err := io.ReadAll(r.Body)
		switch {
		case err != nil || json.Unmarshal(body, &m) != nil || m.Alarm != temperatureHot:
		case m.Over:
			s.over.Add(1)
		default:
			s.raised.Add(1)
		}
	}))
	t.Cleanup(hook.Close)
	text := string(must(t, s.config))
	band := `wanted = { low = "72F", high = "76F", deadband = "0.5F", on_delay = "2s", off_delay = "1s" }`
	heartbeat := text[strings.Index(text, "heartbeat = "):]
	heartbeat = heartbeat[:strings.IndexByte(heartbeat, '\n')]
	text = strings.NewReplacer(
		`safe = { low = "66F", high = "80F", off_delay = "1s" }`+"\n", "",
		band, fmt.Sprintf(`safe = { low = "18C", high = "24C", deadband = "0.2C", on_delay = %q, off_delay = "0s" }`, siegeOnDelay),
		heartbeat, fmt.Sprintf(`heartbeat = { url = "http://%s/beat", every = "1s" }`, s.http.address()),
		`every = "200ms"`, `every = "100ms"`,
		`to = ["keeper@example.org"]`, `to = ["keeper@example.org"]
most_an_hour = 60`,
	).Replace(text)
	text += fmt.Sprintf(`[[probe]]
name = "device"
driver = "scrape"
url = "http://%s/metrics"
temperature = "t"
[[probe]]
name = "radio"
driver = "mqtt"
url = "mqtt://%s"
topic = "t"
[[zone]]
name = "attic"
kind = "room"
probes = ["device", "radio"]
[[sender]]
name = "hook"
kind = "webhook"
most_an_hour = 60
url = %q
[[sender]]
name = "evil-hook"
kind = "webhook"
url = "http://%s/hook"
[[sender]]
name = "evil-mail"
kind = "email"
host = "127.0.0.1"
port = %s
tls = "none"
from = "station@example.org"
to = ["keeper@example.org"]
[[sender]]
name = "evil-broker"
kind = "mqtt"
url = "mqtt://%s"
state = true
[[sender]]
name = "evil-secure"
kind = "webhook"
url = "https://%s/hook"
`, s.http.address(), s.broker.address(), hook.URL, s.http.address(), s.smtp.port(), s.broker.address(), s.secure.address())
	s.config = put(t, s.dir, "ootherm.toml", text)
	s.as = func(c *exec.Cmd) {
		c.Args = append([]string{"sh", "-c", "ulimit -n " + strconv.Itoa(unitFiles) + ` && exec "$0" "$@"`}, append([]string{c.Path}, c.Args[1:]...)...)
		c.Path = "/bin/sh"
	}
	if err := os.MkdirAll(s.data, 0o750); err != nil {
		t.Fatal(err)
	}
	if err := passphrase.FileIn(s.data).Set(siegePassword); err != nil {
		t.Fatal(err)
	}
	s.start()
	go s.watchMemory(t.Context(), s.process.Process.Pid)
	return s
}

// watchMemory keeps the most memory of its own that the station held.
func (s *siege) watchMemory(ctx context.Context, pid int) {
	tick := time.NewTicker(20 * time.Millisecond)
	defer tick.Stop()
	for ctx.Err() == nil {
		if kb := anonymous(pid); kb > s.peak.Load() {
			s.peak.Store(kb)
		}
		select {
		case <-tick.C:
		case <-ctx.Done():
		}
	}
}

// anonymous is the memory of its own that a process holds, in kB; 0 where it has ended.
func anonymous(pid int) int64 {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0
	}
	_, rest, _ := strings.Cut(string(text), "RssAnon:")
	fields := strings.Fields(rest)
	if len(fields) == 0 {
		return 0
	}
	kb, err := strconv.ParseInt(fields[0], 10, 64)
	if err != nil {
		return 0
	}
	return kb
}

// attack begins an attack. It returns once the attack is under way, and gives what ends it.
type attack func(ctx context.Context) (end func())

// round makes the room too warm during an attack, and holds the messages and the memory to
// their limits.
func (s *siege) round(name string, begin attack) {
	s.t.Helper()
	pid := s.process.Process.Pid
	raised, over := s.raised.Load(), s.over.Load()
	mails, _ := s.mail.told(siegeSubject)
	before := anonymous(pid)
	s.peak.Store(before)
	ctx, cancel := context.WithCancel(s.t.Context())
	defer cancel()
	end := begin(ctx)
	at := time.Now()
	s.air(24.4)
	byHook, byMail := time.Duration(0), time.Duration(0)
	within(s.t, siegeLate, name+": the message is out both ways", func() bool {
		if byHook == 0 && s.raised.Load() > raised {
			byHook = time.Since(at)
		}
		if texts, _ := s.mail.told(siegeSubject); byMail == 0 && len(texts) > len(mails) {
			byMail = time.Since(at)
		}
		return byHook > 0 && byMail > 0
	})
	cancel()
	end()
	s.air(23.3)
	within(s.t, 5*time.Minute, name+": its end is told", func() bool { return s.over.Load() > over })
	peak := s.peak.Load()
	s.t.Logf("%-36s webhook %5.1f s, mail %5.1f s after it was too warm; memory %6d kB, %+6d kB", name, byHook.Seconds(), byMail.Seconds(), peak, peak-before)
	if peak-before > siegeMemory || peak > siegeStanding || peak == 0 {
		s.t.Errorf("%s: the station holds %d kB of its own, %d kB before it; a peer may take %d kB", name, peak, before, siegeMemory)
	}
}

// During every attack on the page the alarm gets out in time, by every way that works, and
// memory stays within its limit. With OOTHERM_FULL the counts are those of an attacker who
// means it.
func TestHostileCallers(t *testing.T) {
	t.Parallel()
	s := newSiege(t)
	s.round("no attack", func(context.Context) func() { return func() {} })
	for _, a := range s.callers() {
		s.round(a.name, a.begin)
		eventually(t, "the page answers after it", func() bool {
			resp, err := http.Get("http://" + s.listen + "/healthz")
			if err != nil {
				return false
			}
			return resp.Body.Close() == nil
		})
	}
}

// The same of every answer with which a server that the station connects to attacks it.
func TestHostileAnswers(t *testing.T) {
	t.Parallel()
	s := newSiege(t)
	for _, a := range s.answers() {
		s.round(a.name, a.begin)
	}
}

// named is an attack with the name that its figures are printed under.
type named struct {
	name  string
	begin attack
}

// crowd runs callers at the same time, and waits until each has begun.
func crowd(n int, call func(ctx context.Context, i int, begun func())) attack {
	return func(ctx context.Context) func() {
		var running, beginning sync.WaitGroup
		for i := range n {
			beginning.Add(1)
			once := sync.OnceFunc(beginning.Done)
			running.Go(func() {
				defer once()
				call(ctx, i, once)
			})
		}
		beginning.Wait()
		return running.Wait
	}
}
