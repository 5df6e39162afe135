package changes

import (
	"context"
	"net/http"
	"net/http/httptest"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
)

// station is a source and an entrance that a test changes.
type station struct {
	mu     sync.Mutex
	now    *snapshot.Snapshot
	closed bool
}

func (s *station) Now() *snapshot.Snapshot {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.now
}

// change publishes another state.
func (s *station) change(do func(*snapshot.Snapshot)) {
	s.mu.Lock()
	defer s.mu.Unlock()
	c := *s.now
	do(&c)
	s.now = &c
}

func (s *station) Right(string) (bool, error)      { return false, nil }
func (s *station) ValidToken(string) (bool, error) { return false, nil }
func (s *station) Version() (string, error)        { return "", nil }

// watch opens a stream within a bubble and returns what it sent, with the second of each.
func watch(t *testing.T, s *station, during func()) (got []string) {
	t.Helper()
	stream := streamOf(s)
	ctx, cancel := context.WithCancel(t.Context())
	start := time.Now()
	done := make(chan struct{})
	go func() {
		defer close(done)
		stream.tell(ctx, httptest.NewRequest(http.MethodGet, "/events", nil), func(text string) error {
			got = append(got, time.Since(start).String()+" "+text[:4])
			return nil
		})
	}()
	during()
	synctest.Wait()
	cancel()
	<-done
	return got
}

func streamOf(s *station) *Stream {
	site := &page.Site{Options: page.Options{Source: s, Access: s}}
	site.Trusts = func(*http.Request) bool {
		s.mu.Lock()
		defer s.mu.Unlock()
		return !s.closed
	}
	return &Stream{Site: site}
}

func wait(d time.Duration) { <-time.After(d) }

// An alarm is told within a second; readings alone, twice a minute; in between, the stream
// shows that it lives.
func TestPagesAreToldOfChanges(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &station{now: &snapshot.Snapshot{}}
		got := watch(t, s, func() {
			wait(5500 * time.Millisecond)
			s.change(func(n *snapshot.Snapshot) { n.Alarms = []snapshot.Alarm{{Key: "a", State: "active"}} })
			wait(5 * time.Second)
			s.change(func(n *snapshot.Snapshot) { n.Alarms = []snapshot.Alarm{{Key: "a", State: "acknowledged"}} })
			for range 6 { // polls
				wait(10 * time.Second)
				s.change(func(n *snapshot.Snapshot) { n.At = n.At.Add(10 * time.Second) })
			}
		})
		want := []string{"0s retr", "6s even", "11s even", "15s : st", "30s : st", "41s even", "45s : st", "1m0s : st"}
		if len(got) != len(want) {
			t.Fatalf("sent %q, want %q", got, want)
		}
		for i := range want {
			if got[i] != want[i] {
				t.Errorf("sent %q, want %q", got[i], want[i])
			}
		}
	})
}

// A stream ends with its session, at the latest with the next heartbeat.
func TestStreamsEndWithTheSession(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &station{now: &snapshot.Snapshot{}}
		got := watch(t, s, func() {
			wait(20 * time.Second)
			s.mu.Lock()
			s.closed = true
			s.mu.Unlock()
			wait(time.Minute)
		})
		if last := got[len(got)-1]; last != "15s : st" {
			t.Errorf("after the session ended it sent %q", last)
		}
	})
}

// The number of streams is limited, of all and of one address, and one that ends makes place.
func TestStreamsAreLimited(t *testing.T) {
	stream := streamOf(&station{now: &snapshot.Snapshot{}})
	status := func(from string) int {
		ctx, cancel := context.WithCancel(t.Context())
		cancel() // a stream that begins ends at once
		r := httptest.NewRequest(http.MethodGet, "/events", nil).WithContext(ctx)
		r.RemoteAddr = from + ":5000"
		w := httptest.NewRecorder()
		stream.ServeHTTP(w, r)
		return w.Code
	}
	take := func(from string, n int) {
		r := httptest.NewRequest(http.MethodGet, "/events", nil)
		r.RemoteAddr = from + ":5000"
		for range n {
			if !stream.begin(page.Address(r)) {
				t.Fatalf("no place for %s", from)
			}
		}
	}
	take("192.0.2.1", maxAddressStreams)
	if got := status("192.0.2.1"); got != http.StatusServiceUnavailable {
		t.Errorf("stream %d of one address: status %d", maxAddressStreams+1, got)
	}
	if got := status("192.0.2.2"); got != http.StatusOK {
		t.Errorf("another address: status %d", got)
	}
	take("127.0.0.1", maxStreams-maxAddressStreams)
	if got := status("192.0.2.2"); got != http.StatusServiceUnavailable {
		t.Errorf("stream %d: status %d", maxStreams+1, got)
	}
	stream.end(page.Address(&http.Request{RemoteAddr: "127.0.0.1:1"}))
	if got := status("192.0.2.2"); got != http.StatusOK {
		t.Errorf("after one ended: status %d", got)
	}
}
