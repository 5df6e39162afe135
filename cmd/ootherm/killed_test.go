package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"go.etcd.io/bbolt"
	"golang.org/x/sys/unix"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/outbox"
)

// coldRoom is the one alarm of the stations that are killed here.
const coldRoom = "temperature-low.warning/room"

// Where a station is killed. Each moment is random within its place.
const (
	atStart      = "start"       // while it opens its files, with the air past the limit already
	atTransition = "transition"  // from the reading past the limit on, over two polls
	atCommit     = "commit"      // between and after single writes to its records
	atSend       = "send"        // when a message has come, before and after it is answered
	atAck        = "acknowledge" // from when it is asked until after it has answered
)

var places = []string{atTransition, atCommit, atCommit, atSend, atSend, atAck, atAck, atStart}

// perLife is how many times one station is killed: as many messages as may go out
// in an hour one by one.
const perLife = 20

// told is one delivery as the receiver of the webhook had it.
type told struct {
	ID       string    `json:"id"`
	At       time.Time `json:"at"`
	Subject  string    `json:"subject"`
	Messages []string  `json:"messages"` // what it tells: more than one in a digest
}

// victim is a station in a process of its own that is killed again and again.
type victim struct {
	*eggRoom
	rnd    *rand.Rand
	cold   bool
	socket http.Client

	mu        sync.Mutex
	delivered []told
	answered  map[string]bool // acknowledgements that were answered with 200, by who
	trap      func(before bool)
	counts    map[string]int
}

func newVictim(t *testing.T, seed uint64) *victim {
	r := &eggRoom{t: t, dir: t.TempDir(), listen: "127.0.0.1:0"}
	v := &victim{eggRoom: r, rnd: rand.New(rand.NewPCG(seed, 11)), answered: map[string]bool{}, counts: map[string]int{}}
	r.data = filepath.Join(r.dir, "data")
	var port string
	r.mail, port = openMailbox(t)
	hook := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, q *http.Request) {
		b, err := io.ReadAll(q.Body)
		var m told
		if err != nil || json.Unmarshal(b, &m) != nil {
			return // it was killed while it wrote
		}
		v.mu.Lock()
		trap := v.trap
		v.delivered = append(v.delivered, m)
		v.mu.Unlock()
		if trap != nil {
			trap(true)
			defer trap(false)
		}
	}))
	t.Cleanup(hook.Close)
	put(t, r.dir, "iio/iio:device0/name", "bme280\n")
	r.config = put(t, r.dir, "ootherm.toml", fmt.Sprintf(`[station]
name = "egg room"
listen = %q
data = %q
every = "100ms"
[[probe]]
name = "shelf"
driver = "iio"
path = %q
[[zone]]
name = "room"
kind = "room"
probes = ["shelf"]
wanted = { low = "22.2C", deadband = "0.2C", on_delay = "0s", off_delay = "0s" }
[[sender]]
name = "mail"
kind = "email"
host = "127.0.0.1"
port = %s
tls = "none"
to = ["keeper@example.org"]
most_an_hour = 60
[[sender]]
name = "hook"
kind = "webhook"
url = %q
most_an_hour = 60
`, r.listen, r.data, r.dir+"/iio/iio:device0", port, hook.URL))
	v.socket.Transport = socketTransport(r.data)
	v.flip()
	v.flip()
	return v
}

// socketTransport asks the station of a folder, as a command does.
func socketTransport(data string) http.RoundTripper {
	return &http.Transport{DisableKeepAlives: true, DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) {
		return new(net.Dialer).DialContext(ctx, "unix", filepath.Join(data, "ootherm.sock"))
	}}
}

// flip brings the air to the other side of the limit.
func (v *victim) flip() {
	v.t.Helper()
	v.cold = !v.cold
	text := "22650\n"
	if v.cold {
		text = "21900\n"
	}
	aside := put(v.t, v.dir, "aside", text)
	if err := os.Rename(aside, filepath.Join(v.dir, "iio/iio:device0/in_temp_input")); err != nil {
		v.t.Fatal(err)
	}
}

// begin starts the station, does not wait for it, and gives what kills it: from any
// goroutine, and more than once.
func (v *victim) begin() (kill func()) {
	v.t.Helper()
	v.process = command(context.Background(), "run", "--config", v.config)
	var err error
	if v.process.Stderr, err = os.OpenFile(filepath.Join(v.dir, "log"), os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600); err != nil {
		v.t.Fatal(err)
	}
	if err := v.process.Start(); err != nil {
		v.t.Fatal(err)
	}
	p := v.process.Process
	return func() { _ = p.Signal(syscall.SIGKILL) }
}

// within waits for a random span up to a limit.
func (v *victim) within(limit time.Duration) { <-time.After(v.span(limit)) }

// span is a random one up to a limit.
func (v *victim) span(limit time.Duration) time.Duration {
	return time.Duration(v.rnd.Int64N(int64(limit)))
}

// alarm asks the running station how its alarm stands; empty: not at all, or it
// does not answer yet.
func (v *victim) alarm() (state string) {
	resp, err := v.socket.Get("http://localhost/api/v1/now")
	if err != nil {
		return ""
	}
	defer resp.Body.Close()
	var n struct {
		Alarms []struct{ Key, State string }
	}
	if json.NewDecoder(resp.Body).Decode(&n) != nil {
		return ""
	}
	for _, a := range n.Alarms {
		if a.Key == coldRoom {
			return a.State
		}
	}
	return "normal"
}

// settled reports whether the station has heard what the air is.
func (v *victim) settled() bool {
	s := v.alarm()
	return s != "" && v.cold == (s == "active" || s == "acknowledged")
}

// acknowledge says over the socket that somebody saw it, and reports whether the
// station answered that it noted that.
func (v *victim) acknowledge(who string) bool {
	body := fmt.Sprintf(`{"do":"acknowledge","alarm":%q,"who":%q}`, coldRoom, who)
	resp, err := v.socket.Post("http://localhost/api/v1/act", "application/json", strings.NewReader(body))
	if err != nil {
		return false
	}
	defer resp.Body.Close()
	return resp.StatusCode/100 == 2
}

// live starts the station, brings about a transition, and kills it at a moment of
// a place. It gives who acknowledged, if that was answered.
func (v *victim) live(run int) (acknowledged string) {
	place := places[v.rnd.IntN(len(places))]
	v.counts[place]++
	if place == atStart {
		v.flip()
		kill := v.begin()
		v.within(250 * time.Millisecond)
		kill()
		_ = v.process.Wait()
		return ""
	}
	kill := v.begin()
	ended := make(chan struct{})
	limit := time.AfterFunc(10*time.Second, func() {
		v.t.Errorf("run %d: it was not killed at %s in ten seconds", run, place)
		kill()
	})
	defer limit.Stop()
	eventually(v.t, "it says of the air what the air is", v.settled)
	switch place {
	case atTransition:
		v.flip()
		v.within(250 * time.Millisecond)
		kill()
	case atCommit:
		go v.afterWrites(kill, 1+v.rnd.IntN(8), v.span(500*time.Microsecond), ended)
		v.flip()
	case atSend:
		before, wait := v.rnd.IntN(2) == 0, v.span(3*time.Millisecond)
		v.set(func(now bool) {
			if now == before {
				if !before {
					<-time.After(wait)
				}
				kill()
			}
		})
		v.flip()
	case atAck:
		if !v.cold {
			v.flip()
		}
		eventually(v.t, "it is cold", v.settled)
		who := "keeper " + strconv.Itoa(run)
		answered := v.rnd.IntN(2) == 0 // killed just after the answer, or at any time before and after
		if !answered {
			go func(wait time.Duration) { <-time.After(wait); kill() }(v.span(8 * time.Millisecond))
		}
		if v.acknowledge(who) {
			acknowledged = who
		}
		if answered {
			v.within(time.Millisecond)
			kill()
		}
	}
	_ = v.process.Wait() // killed is how it ends
	close(ended)
	v.set(nil)
	return acknowledged
}

func (v *victim) set(trap func(bool)) {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.trap = trap
}

// afterWrites kills the station after so many writes to its records.
func (v *victim) afterWrites(kill func(), writes int, wait time.Duration, ended <-chan struct{}) {
	defer kill()
	fd, err := unix.InotifyInit1(unix.IN_NONBLOCK | unix.IN_CLOEXEC)
	if err != nil {
		v.t.Error(err)
		return
	}
	defer unix.Close(fd)
	if _, err := unix.InotifyAddWatch(fd, filepath.Join(v.data, "records.db"), unix.IN_MODIFY); err != nil {
		v.t.Error(err)
		return
	}
	buf := make([]byte, 4096)
	for writes > 0 {
		select {
		case <-ended:
			return
		default:
		}
		if n, err := unix.Poll([]unix.PollFd{{Fd: int32(fd), Events: unix.POLLIN}}, 300); err == nil && n == 0 {
			return // no more writes come
		}
		if n, err := unix.Read(fd, buf); err == nil {
			writes -= max(1, n/unix.SizeofInotifyEvent)
		}
	}
	<-time.After(wait)
}

// kept is what the records of the dead station hold.
func (v *victim) kept() (alert.Alarm, []alert.Message) {
	v.t.Helper()
	db, err := bbolt.Open(filepath.Join(v.data, "records.db"), 0o600, &bbolt.Options{ReadOnly: true, Timeout: 5 * time.Second})
	if err != nil {
		v.t.Fatalf("the records after a kill: %v", err)
	}
	defer db.Close()
	laid := false
	if err := db.View(func(tx *bbolt.Tx) error { laid = tx.Bucket([]byte("outbox")) != nil; return nil }); err != nil {
		v.t.Fatal(err)
	}
	if !laid {
		return alert.Alarm{}, nil // killed at its first start, before it laid that out
	}
	o, err := outbox.New(db)
	if err != nil {
		v.t.Fatal(err)
	}
	alarms, waiting, err := o.Load(v.t.Context())
	if err != nil {
		v.t.Fatal(err)
	}
	for _, a := range alarms {
		if a.Key.String() == coldRoom {
			return a, waiting
		}
	}
	return alert.Alarm{}, waiting
}

// judge holds what was delivered against what the records hold.
func (v *victim) judge(run int, acknowledged string) {
	v.t.Helper()
	if _, err := os.Stat(filepath.Join(v.data, "records.db")); err != nil {
		return // killed before they were there
	}
	a, waiting := v.kept()
	v.mu.Lock()
	defer v.mu.Unlock()
	have, by := map[string]bool{}, map[string]told{}
	for _, m := range waiting {
		if m.Sender == "hook" && m.Alarm == coldRoom {
			have[m.ID] = true
		}
	}
	for _, m := range v.delivered {
		for _, id := range m.Messages {
			text, ours := strings.CutPrefix(id, coldRoom+"/")
			if !ours {
				continue
			}
			have[id] = true
			if n, err := strconv.ParseUint(text, 10, 64); err != nil || n > a.Sequence {
				v.t.Errorf("run %d: %s was delivered, and the records know of %d messages: it was told before it was kept", run, id, a.Sequence)
			}
		}
		if was, ok := by[m.ID]; ok && (was.Subject != m.Subject || !was.At.Equal(m.At)) {
			v.t.Errorf("run %d: %s is both %q of %s and %q of %s", run, m.ID, was.Subject, was.At, m.Subject, m.At)
		}
		by[m.ID] = m
	}
	for n := uint64(1); n <= a.Sequence; n++ {
		if id := fmt.Sprintf("%s/%d", coldRoom, n); !have[id] {
			v.t.Errorf("run %d: %s was committed, and is neither delivered nor waiting", run, id)
		}
	}
	if acknowledged != "" {
		v.answered[acknowledged] = true
		if !a.True || a.State != alert.Acknowledged {
			v.t.Errorf("run %d: the acknowledgement of %s was answered, and the alarm is %s by %q", run, acknowledged, a.State, a.AckedBy)
		}
	}
}

// end lets the station deliver what is left, ends it, and counts.
func (v *victim) end() (messages, repeated int) {
	v.t.Helper()
	was, _ := v.kept()
	v.begin()
	if was.State == alert.Acknowledged && v.cold {
		eventually(v.t, "it is still acknowledged after a start", func() bool { return v.alarm() == "acknowledged" })
	}
	eventually(v.t, "it says of the air what the air is", v.settled)
	eventually(v.t, "all is delivered", func() bool {
		var n struct{ Health struct{ Waiting int } }
		resp, err := v.socket.Get("http://localhost/api/v1/now")
		if err != nil {
			return false
		}
		defer resp.Body.Close()
		return json.NewDecoder(resp.Body).Decode(&n) == nil && n.Health.Waiting == 0
	})
	if code := v.eggRoom.end(syscall.SIGTERM); code != 0 {
		v.t.Errorf("asked to end, it ended with %d", code)
	}
	v.judge(perLife, "")
	a, waiting := v.kept()
	for _, m := range waiting {
		v.t.Errorf("%s still waits for %s", m.ID, m.Sender)
	}
	// The mails' identities are hidden ones: as many as there are messages, where none was sent
	// with another. A digest has one of its own, and its parts may come again without it.
	mails, ids := v.mail.told("ROOM")
	if n, more := uint64(ids), inDigests(mails); n > a.Sequence+more || n+more < a.Sequence {
		v.t.Errorf("the mails have %d identities and tell %d other messages, and %d messages were committed", ids, more, a.Sequence)
	}
	delivered := 0
	for _, m := range v.delivered {
		delivered += len(m.Messages)
	}
	return int(a.Sequence), len(mails) - ids + delivered - int(a.Sequence)
}

// inDigests counts the messages that mails tell beside their own: those of other episodes,
// and the older ones of each episode.
func inDigests(mails []string) (n uint64) {
	seen := map[string]bool{}
	for _, text := range mails {
		if seen[text] {
			continue
		}
		seen[text] = true
		older := false
		for line := range strings.Lines(text) {
			line = strings.TrimRight(line, "\r\n")
			if more, ok := strings.CutSuffix(line, " messages in one."); ok {
				if k, err := strconv.ParseUint(more, 10, 64); err == nil {
					n += k - 1
				}
			}
			if older = older && strings.HasPrefix(line, "  "); older || strings.HasPrefix(line, "Meanwhile, from ") {
				n++
			}
			older = older || strings.HasPrefix(line, "Before that, not sent until now:")
		}
	}
	return n
}

// Killed over and over around the transition, its commit, its messages and an
// acknowledgement: every transition that was kept is told, whatever comes twice has
// one identity, and what was answered to whoever acknowledged holds.
func TestKilledAroundAnAlarm(t *testing.T) {
	runs := 50
	if os.Getenv("OOTHERM_FULL") == "1" {
		runs = 1000
	}
	var mu sync.Mutex
	total := map[string]int{}
	t.Run("lives", func(t *testing.T) {
		for life := 0; life*perLife < runs; life++ {
			t.Run(strconv.Itoa(life), func(t *testing.T) {
				t.Parallel()
				v := newVictim(t, uint64(life))
				t.Cleanup(func() {
					if t.Failed() {
						log, _ := os.ReadFile(filepath.Join(v.dir, "log")) // what there is of it
						t.Logf("the station said:\n%s", log)
					}
				})
				n := min(perLife, runs-life*perLife)
				for run := range n {
					v.judge(run, v.live(run))
				}
				messages, repeated := v.end()
				mu.Lock()
				defer mu.Unlock()
				total["kills"] += n
				total["messages"] += messages
				total["repeated"] += repeated
				total["acknowledged"] += len(v.answered)
				for place, k := range v.counts {
					total[place] += k
				}
			})
		}
	})
	t.Logf("%d kills (%d at the start, %d around the transition, %d at writes of the commit, %d at the send, %d at the acknowledgement): %d messages committed, all delivered, %d deliveries repeated under their identity, %d acknowledgements answered and kept",
		total["kills"], total[atStart], total[atTransition], total[atCommit], total[atSend], total[atAck], total["messages"], total["repeated"], total["acknowledged"])
	if total["messages"] < runs/3 || total["repeated"] == 0 || total["acknowledged"] == 0 {
		t.Errorf("%v: too little happened to say anything", total)
	}
}
