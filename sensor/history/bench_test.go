package history

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"go.etcd.io/bbolt"

	"example.com/ootherm/sensor"
)

// A season is 200 days of twelve probes every 10 s; this much of it is loaded,
// with a flush every 5 min, as a station does.
const benchDays, benchProbes, benchEvery = 5, 12, 10 * time.Second

func benchReadings() [][]sensor.Reading {
	rng := rand.New(rand.NewPCG(8, 8))
	var all [][]sensor.Reading
	for p := range benchProbes {
		all = append(all, room(rng, fmt.Sprintf("probe-%d", p), 1, 0, benchDays*24*time.Hour, benchEvery))
	}
	return all
}

func load(b *testing.B, s *Store, all [][]sensor.Reading) (n int) {
	b.Helper()
	if _, err := s.Begin("a", t0, 0, true); err != nil {
		b.Fatal(err)
	}
	const atOnce = 30 // polls a flush
	for i := 0; ; i += atOnce {
		before := n
		for _, r := range all {
			if i < len(r) {
				batch := r[i:min(i+atOnce, len(r))]
				if err := s.Append(batch); err != nil {
					b.Fatal(err)
				}
				n += len(batch)
			}
		}
		if n == before {
			return n
		}
		if err := s.Flush(); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkLoad(b *testing.B) {
	all := benchReadings()
	for name, make := range kinds {
		b.Run(name, func(b *testing.B) {
			n, total, size := 0, 0, int64(0)
			for b.Loop() {
				s := make(b, Options{}).Store
				n = load(b, s, all)
				total += n
				var err error
				if size, err = s.Bytes(); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(total)/b.Elapsed().Seconds(), "readings/s")
			b.ReportMetric(float64(size)/float64(n), "B/reading")
		})
	}
}

func BenchmarkScan(b *testing.B) {
	all := benchReadings()
	for name, make := range kinds {
		s := make(b, Options{}).Store
		load(b, s, all)
		b.Run(name, func(b *testing.B) {
			n := 0
			for b.Loop() {
				for _, err := range s.Range("probe-3", t0, t0.Add(1<<60)) {
					if err != nil {
						b.Fatal(err)
					}
					n++
				}
			}
			b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "readings/s")
		})
		b.Run(name+" exposure", func(b *testing.B) {
			for b.Loop() {
				if _, _, _, err := s.Exposure("probe-3", t0.Add(time.Hour), t0.Add(100*time.Hour), nil); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// leastBits is how many bits a value takes at least that is normally distributed around what is
// known of it, in steps: the entropy of what is rounded, for steps that are small beside the
// spread (Cover and Thomas, Elements of Information Theory, theorem 8.3.1).
func leastBits(spread, step float64) float64 {
	return math.Log2(spread / step * math.Sqrt(2*math.Pi*math.E))
}

// roomBits is what a reading of room takes at least: its noise in the steps of the part, and
// uptimes that are late by one of seven milliseconds. No code that loses nothing takes less.
func roomBits() float64 {
	return leastBits(0.02, 175.0/65535) + leastBits(0.002, 1.25/65535) + math.Log2(7)
}

// BenchmarkDisk is the size of a file after 20 days, or a season with OOTHERM_FULL, once: it takes
// a while. It prints the bytes that the encoded blocks take, that the pages in use take and that
// the file takes, and the least that the noise of the readings allows.
func BenchmarkDisk(b *testing.B) {
	rng := rand.New(rand.NewPCG(8, 8))
	path := filepath.Join(b.TempDir(), "readings.db")
	db := openFile(b, path, 0)
	db.NoSync = true
	days := time.Duration(20)
	if os.Getenv("OOTHERM_FULL") != "" {
		days = 200
	}
	for b.Loop() {
		s, err := Open(db, Options{})
		if err != nil {
			b.Fatal(err)
		}
		if _, err := s.Begin("a", t0, 0, true); err != nil {
			b.Fatal(err)
		}
		n := 0
		for day := range days {
			for p := range benchProbes {
				r := room(rng, fmt.Sprintf("probe-%d", p), 1, day*24*time.Hour, (day+1)*24*time.Hour, benchEvery)
				if err := s.Append(r); err != nil {
					b.Fatal(err)
				}
				n += len(r)
			}
			if err := s.Flush(); err != nil {
				b.Fatal(err)
			}
		}
		info, err := os.Stat(path)
		if err != nil {
			b.Fatal(err)
		}
		var used int64
		blocks := 0
		err = db.View(func(tx *bbolt.Tx) error {
			used = tx.Size() - int64(db.Stats().FreeAlloc)
			all := tx.Bucket(bucketBlocks)
			return all.ForEachBucket(func(probe []byte) error {
				return all.Bucket(probe).ForEach(func(_, block []byte) error {
					blocks += len(block)
					return nil
				})
			})
		})
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(info.Size())/float64(n), "file-B/reading")
		b.ReportMetric(float64(used)/float64(n), "used-B/reading")
		b.ReportMetric(float64(blocks)/float64(n), "blocks-B/reading")
		b.ReportMetric(roomBits()/8, "least-B/reading")
	}
}
