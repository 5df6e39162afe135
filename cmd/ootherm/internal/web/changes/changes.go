// Package changes tells open pages that something changed, over server-sent events (WHATWG
// HTML section 9.2). It owns how often a page is told and how many pages are told at a time. It
// must not know what a page shows: a page that is told fetches itself.
package changes

import (
	"context"
	"fmt"
	"hash/fnv"
	"net/http"
	"net/netip"
	"sync"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/listener"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
)

// Limits of the streams. Each holds one of the listener's connections, of which one address
// has 16 and all other machines have 48. All are our choice.
const (
	maxStreams        = 24
	maxAddressStreams = 6
)

// How often a page is told. All are our choice.
const (
	lookInterval      = time.Second      // until an alarm or an entry is told
	figureInterval    = 30 * time.Second // between two tellings of new readings alone
	heartbeatInterval = 15 * time.Second // so that a stream whose reader is gone ends
)

// Stream tells pages of changes.
type Stream struct {
	*page.Site
	mu     sync.Mutex
	open   map[netip.Addr]int
	hashed *snapshot.Snapshot // the last one, for all streams
	hash   uint64
}

// ServeHTTP sends an event at each change until the reader goes away or may no longer read.
func (s *Stream) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	from := page.Address(r)
	if !s.begin(from) {
		w.Header().Set("Retry-After", "60")
		http.Error(w, "Too many pages are being told of changes. This one looks by itself each minute.", http.StatusServiceUnavailable)
		return
	}
	defer s.end(from)
	w.Header().Set("Content-Type", "text/event-stream")
	w.Header().Set("X-Accel-Buffering", "no") // a proxy that knows it hands each event on at once
	listener.Stream(w, r, func(ctx context.Context, send func(string) error) { s.tell(ctx, r, send) })
}

// tell sends events until the stream ends.
func (s *Stream) tell(ctx context.Context, r *http.Request, send func(string) error) {
	look, heartbeat := time.NewTicker(lookInterval), time.NewTicker(heartbeatInterval)
	defer look.Stop()
	defer heartbeat.Stop()
	last, told := s.state(), time.Now()
	if send("retry: 5000\n\n") != nil {
		return
	}
	for {
		text := ""
		select {
		case <-ctx.Done():
			return
		case <-heartbeat.C:
			text = ": still here\n\n"
		case <-look.C:
			now := s.state()
			if now.pressing == last.pressing && (now.snapshot == last.snapshot || time.Since(told) < figureInterval) {
				continue
			}
			last, told = now, time.Now()
			text = "event: change\ndata: \n\n"
		}
		if !s.mayRead(r) || send(text) != nil {
			return
		}
	}
}

// mayRead reports whether the reader's session still stands.
func (s *Stream) mayRead(r *http.Request) bool { return s.Access == nil || s.Trusted(r) }

// state is what pages show, as far as it decides when they are told.
type state struct {
	snapshot *snapshot.Snapshot
	pressing pressing
}

// pressing is what pages are told of at once.
type pressing struct {
	book *book.Book
	hash uint64 // of alarms, states of clutches and of probes
}

func (s *Stream) state() state {
	x := state{snapshot: s.Source.Now()}
	if s.Book != nil {
		x.pressing.book = s.Book.Book()
	}
	if x.snapshot != nil {
		x.pressing.hash = s.hashOf(x.snapshot)
	}
	return x
}

// hashOf is the hash of a state; each state is hashed once, however many pages are told.
func (s *Stream) hashOf(n *snapshot.Snapshot) uint64 {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.hashed != n {
		s.hashed, s.hash = n, pressingHash(n)
	}
	return s.hash
}

// pressingHash changes when an alarm, the state of a clutch, a probe or the station's health
// does.
func pressingHash(n *snapshot.Snapshot) uint64 {
	h := fnv.New64a()
	for _, a := range n.Alarms {
		_, _ = fmt.Fprintln(h, a.Key, a.Priority, a.State, a.Stands, a.Seen) // a hash takes all
	}
	for _, b := range n.Boxes {
		for _, c := range b.Clutches {
			_, _ = fmt.Fprintln(h, c.Clutch, words.OrEmpty(c.State))
		}
	}
	for _, z := range n.Zones {
		for _, p := range z.Probes {
			_, _ = fmt.Fprintln(h, p.Probe, p.Status)
		}
	}
	_, _ = fmt.Fprintln(h, n.Health.Polled, n.Health.FlushFailing, n.Health.Silent)
	return h.Sum64()
}

// begin counts a stream. It reports false if there is no place for it. A proxy on this
// machine asks for many readers, so that its address has no limit of its own.
func (s *Stream) begin(from netip.Addr) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	all := 0
	for _, n := range s.open {
		all += n
	}
	if all >= maxStreams || s.open[from] >= maxAddressStreams && !from.IsLoopback() {
		return false
	}
	if s.open == nil {
		s.open = map[netip.Addr]int{}
	}
	s.open[from]++
	return true
}

func (s *Stream) end(from netip.Addr) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.open[from]--; s.open[from] == 0 {
		delete(s.open, from)
	}
}
