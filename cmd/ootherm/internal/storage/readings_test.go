package storage

import (
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"go.etcd.io/bbolt"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/history"
)

var began = time.Date(2026, 4, 1, 0, 0, 0, 0, time.UTC)

// reading returns the n-th reading of the test.
func reading(n int) sensor.Reading {
	return sensor.Reading{
		Probe: "p", Stamp: sensor.Stamp{Boot: 1, Uptime: time.Duration(n) * time.Minute},
		Measurement: sensor.Measurement{Celsius: 20 + float64(n*7%50)/16, Humidity: math.NaN()},
	}
}

// flushed is a file after one flush: its bytes and the number of its readings.
type flushed struct {
	bytes []byte
	count int
}

// recordReadings stores two days of readings and returns the file after each flush. Blocks
// fill up on the way.
func recordReadings(t *testing.T) (all []flushed) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "recorded")
	db, err := bbolt.Open(path, 0o600, &bbolt.Options{Timeout: time.Second})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	s, err := history.Open(db, history.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Begin("a", began, 0, true); err != nil {
		t.Fatal(err)
	}
	for n := range 48 * 60 {
		if err := s.Append([]sensor.Reading{reading(n)}); err != nil {
			t.Fatal(err)
		}
		if n%40 != 39 {
			continue
		}
		if err := s.Flush(); err != nil {
			t.Fatal(err)
		}
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, flushed{b, n + 1})
	}
	return all
}

func TestDamagedReadings(t *testing.T) {
	n := imageCount(45, 3000)
	recorded := recordReadings(t)
	rng := rand.New(rand.NewPCG(12, 12))
	outcomes := outcomeCounts{}
	for i := range n {
		at := 2 + rng.IntN(len(recorded)-2)
		kind := damages[i%len(damages)]
		image := kind.do(rng, recorded[at-1].bytes, recorded[at].bytes)
		what := withImage(t, ReadingsName, image, checkLimit, func(f *Files, what string) {
			s, err := history.Open(readings(t, f), history.Options{})
			if err != nil {
				t.Errorf("image %d, %s: %v", i, kind.name, err)
				return
			}
			got := 0
			for p, err := range s.Range("p", began, began.Add(100*24*time.Hour)) {
				if err != nil || p.Uptime != reading(got).Uptime || p.Celsius != reading(got).Celsius {
					t.Errorf("image %d, %s, after flush %d: %s, and place %d holds %+v, %v", i, kind.name, at, what, got, p.Reading, err)
					return
				}
				got++
			}
			fine := got == recorded[at].count || got == recorded[at-1].count
			if what == "set aside" {
				fine = got == 0
			}
			if !fine {
				t.Errorf("image %d, %s, after flush %d: %s with %d readings of %d", i, kind.name, at, what, got, recorded[at].count)
			}
		})
		outcomes[what]++
		outcomes[kind.name+": "+what]++
	}
	outcomes.report(t)
	t.Logf("%d damaged images of the readings: all opened, were repaired losing at most one flush, or were set aside", n)
}
