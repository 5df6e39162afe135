package history

import (
	"fmt"
	"math/rand/v2"
	"sync"
	"testing"
	"time"

	"example.com/ootherm/sensor"
)

// Readers go on while readings come in, blocks fill and flushes move them to
// the file. What a reader sees is always a beginning of the truth, without a
// hole, nothing twice.
func TestReadersSeeNoHoleWhileBlocksMove(t *testing.T) {
	contract(t, Options{}, func(t *testing.T, s store) {
		b := begin(t, s.Store, "a", t0)
		rng := rand.New(rand.NewPCG(61, 61))
		truth := map[string][]sensor.Reading{}
		for p := range 3 {
			name := fmt.Sprint("p", p)
			truth[name] = room(rng, name, b.Number, 0, 60*time.Hour, time.Minute)
		}
		done := make(chan struct{})
		var readers sync.WaitGroup
		for name, want := range truth {
			readers.Go(func() {
				for last := 0; ; {
					stop := false
					select {
					case <-done:
						stop = true
					default:
					}
					n := 0
					for p, err := range s.Range(name, t0, t0.Add(1<<60)) {
						if err != nil {
							t.Error(err)
							return
						}
						if n >= len(want) || !same(p.Reading, want[n]) {
							t.Errorf("%s: place %d holds %+v", name, n, p.Reading)
							return
						}
						n++
					}
					if n < last || stop && n != len(want) {
						t.Errorf("%s: %d readings, there were %d", name, n, last)
						return
					}
					last = n
					if _, _, _, err := s.Exposure(name, t0.Add(time.Hour), t0.Add(1<<60), nil); err != nil {
						t.Error(err)
						return
					}
					if stop {
						return
					}
				}
			})
		}
		for i := 0; i < 60*60; i += 20 {
			for _, r := range truth {
				if i < len(r) {
					put(t, s.Store, r[i:min(i+20, len(r))]...)
				}
			}
			flush(t, s.Store)
		}
		close(done)
		readers.Wait()
	})
}

// A slow client must not keep the file from being written.
func TestASlowReaderHoldsNothing(t *testing.T) {
	contract(t, Options{}, func(t *testing.T, s store) {
		b := begin(t, s.Store, "a", t0)
		rng := rand.New(rand.NewPCG(62, 62))
		r := room(rng, "p", b.Number, 0, 40*time.Hour, time.Minute)
		put(t, s.Store, r[:len(r)/2]...)
		flush(t, s.Store)
		n := 0
		for _, err := range s.Range("p", t0, t0.Add(1<<60)) {
			if err != nil {
				t.Fatal(err)
			}
			if n == 10 {
				put(t, s.Store, r[len(r)/2:]...)
				flush(t, s.Store)
				if s.db != nil && s.db.Stats().OpenTxN != 0 {
					t.Errorf("%d transactions are open while the reader waits", s.db.Stats().OpenTxN)
				}
			}
			n++
		}
		if n < len(r)/2 {
			t.Errorf("%d readings", n)
		}
		wantSame(t, all(t, s.Store, "p"), r)
	})
}
