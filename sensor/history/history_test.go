package history

import (
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"go.etcd.io/bbolt"

	"example.com/ootherm/sensor"
	"example.com/ootherm/thermal"
)

var t0 = time.Date(2026, 4, 1, 0, 0, 0, 0, time.UTC)

func openFile(t testing.TB, path string, maxSize int) *bbolt.DB {
	t.Helper()
	db, err := bbolt.Open(path, 0o600, &bbolt.Options{Timeout: 5 * time.Second, MaxSize: maxSize, PageSize: 4096})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	return db
}

// store is one kind of store under the contract. Again gives the same history
// as a later start of the program finds it.
type store struct {
	*Store
	again func(testing.TB) *Store
}

var kinds = map[string]func(testing.TB, Options) store{
	"memory": func(_ testing.TB, o Options) store {
		s := Memory(o)
		return store{s, func(testing.TB) *Store { return s }}
	},
	"file": func(t testing.TB, o Options) store {
		path := filepath.Join(t.TempDir(), "readings.db")
		db := openFile(t, path, 0)
		s, err := Open(db, o)
		if err != nil {
			t.Fatal(err)
		}
		return store{s, func(t testing.TB) *Store {
			t.Helper()
			if err := db.Close(); err != nil {
				t.Fatal(err)
			}
			db = openFile(t, path, 0)
			s, err := Open(db, o)
			if err != nil {
				t.Fatal(err)
			}
			return s
		}}
	},
}

func contract(t *testing.T, o Options, test func(*testing.T, store)) {
	for name, make := range kinds {
		t.Run(name, func(t *testing.T) { test(t, make(t, o)) })
	}
}

func begin(t testing.TB, s *Store, id string, start time.Time) Boot {
	t.Helper()
	b, err := s.Begin(id, start, 0, true)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func put(t testing.TB, s *Store, r ...sensor.Reading) {
	t.Helper()
	if err := s.Append(r); err != nil {
		t.Fatal(err)
	}
}

func flush(t testing.TB, s *Store) {
	t.Helper()
	if err := s.Flush(); err != nil {
		t.Fatal(err)
	}
}

func reading(probe string, boot uint32, up time.Duration, celsius float64) sensor.Reading {
	return sensor.Reading{
		Probe: probe, Stamp: sensor.Stamp{Boot: boot, Uptime: up},
		Measurement: sensor.Measurement{Celsius: celsius, Humidity: math.NaN()},
	}
}

func all(t testing.TB, s *Store, probe string) []Point {
	t.Helper()
	return between(t, s, probe, time.Unix(0, 0), time.Unix(1<<34, 0))
}

func between(t testing.TB, s *Store, probe string, from, to time.Time) []Point {
	t.Helper()
	var out []Point
	for p, err := range s.Range(probe, from, to) {
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, p)
	}
	return out
}

func same(a, b sensor.Reading) bool {
	near := func(x, y float64) bool {
		return x == y || math.Abs(x-y) <= 1e-9 || math.IsNaN(x) && math.IsNaN(y)
	}
	return a.Probe == b.Probe && a.Boot == b.Boot && a.Uptime.Truncate(Resolution) == b.Uptime.Truncate(Resolution) && a.Cause == b.Cause &&
		near(a.Celsius, b.Celsius) && near(a.Humidity, b.Humidity)
}

func wantSame(t testing.TB, got []Point, want []sensor.Reading) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("got %d readings, want %d", len(got), len(want))
	}
	for i := range got {
		if !same(got[i].Reading, want[i]) {
			t.Fatalf("reading %d is %+v, want %+v", i, got[i].Reading, want[i])
		}
	}
}

// room is a plausible room: a daily course, the noise and step of a part, now
// and then a refused reading or none for a while.
func room(rng *rand.Rand, probe string, boot uint32, from, to, every time.Duration) []sensor.Reading {
	var out []sensor.Reading
	for up := from; up < to; up += every + time.Duration(rng.IntN(7)-3)*time.Millisecond {
		if rng.IntN(3000) == 0 {
			up += time.Duration(rng.IntN(3600)) * time.Second
		}
		day := 2 * math.Pi * up.Hours() / 24
		ticks := math.Round((23.3 + 2*math.Sin(day) + 0.02*rng.NormFloat64() + 45) / 175 * 65535)
		r := reading(probe, boot, up, -45+175*ticks/65535)
		r.Humidity = math.Round((0.6+0.05*math.Cos(day)+0.002*rng.NormFloat64()+0.06)/1.25*65535)/65535*1.25 - 0.06
		switch rng.IntN(500) {
		case 0:
			r.Measurement, r.Cause = sensor.None(), sensor.BadFrame
		case 1:
			r.Cause = sensor.Jump
		case 2:
			r.Humidity = math.NaN()
		}
		out = append(out, r)
	}
	return out
}

func TestEveryReadingComesBack(t *testing.T) {
	contract(t, Options{}, func(t *testing.T, s store) {
		rng := rand.New(rand.NewPCG(1, 1))
		b := begin(t, s.Store, "a", t0)
		want := map[string][]sensor.Reading{}
		for _, name := range []string{"shelf", "dummy box", "é"} {
			want[name] = room(rng, name, b.Number, 0, 40*time.Hour, 30*time.Second)
		}
		for i := range want["shelf"] {
			for _, name := range []string{"é", "shelf", "dummy box"} {
				if i < len(want[name]) {
					put(t, s.Store, want[name][i])
				}
			}
			if i%17 == 0 {
				flush(t, s.Store)
			}
		}
		for name := range want {
			n := min(len(want[name]), len(want["shelf"]))
			want[name] = want[name][:n]
			wantSame(t, all(t, s.Store, name), want[name])
		}
		flush(t, s.Store)
		again := s.again(t)
		if got := again.Probes(); !slices.Equal(got, []string{"dummy box", "shelf", "é"}) {
			t.Errorf("probes are %q", got)
		}
		for name := range want {
			wantSame(t, all(t, again, name), want[name])
		}
		if l := again.Losses(); l != (Losses{}) {
			t.Errorf("losses %+v", l)
		}
		if got := all(t, again, "never"); len(got) != 0 {
			t.Errorf("%d readings of a probe that never gave one", len(got))
		}
	})
}

func TestRangeIsHalfOpen(t *testing.T) {
	contract(t, Options{}, func(t *testing.T, s store) {
		b := begin(t, s.Store, "a", t0)
		for up := time.Duration(0); up < 20*time.Hour; up += time.Minute {
			put(t, s.Store, reading("p", b.Number, up, 20))
		}
		flush(t, s.Store)
		for _, c := range []struct {
			from, to time.Duration
			want     int
		}{
			{0, 20 * time.Hour, 1200}, {time.Minute, 2 * time.Minute, 1}, {time.Second, time.Minute, 0},
			{time.Second, time.Minute + 1, 1}, {6 * time.Hour, 12 * time.Hour, 360}, {-time.Hour, 1, 1},
			{19*time.Hour + 59*time.Minute, 30 * time.Hour, 1}, {5 * time.Hour, 5 * time.Hour, 0}, {8 * time.Hour, 2 * time.Hour, 0},
		} {
			got := between(t, s.Store, "p", t0.Add(c.from), t0.Add(c.to))
			if len(got) != c.want {
				t.Errorf("from %s to %s: %d readings, want %d", c.from, c.to, len(got), c.want)
			}
			for _, p := range got {
				if p.At.Before(t0.Add(c.from)) || !p.At.Before(t0.Add(c.to)) {
					t.Errorf("from %s to %s holds %s", c.from, c.to, p.At.Sub(t0))
				}
			}
		}
	})
}

func TestRepeatedIsStoredOnceAndLateIsLeftOut(t *testing.T) {
	contract(t, Options{}, func(t *testing.T, s store) {
		b := begin(t, s.Store, "a", t0)
		batch := []sensor.Reading{reading("p", b.Number, time.Hour, 20), reading("p", b.Number, 2*time.Hour, 21)}
		put(t, s.Store, batch...)
		flush(t, s.Store)
		again := s.again(t)
		begin(t, again, "a", t0)
		put(t, again, batch[1], reading("p", b.Number, time.Hour+1, 5), reading("p", b.Number, 3*time.Hour, 22))
		wantSame(t, all(t, again, "p"), []sensor.Reading{batch[0], batch[1], reading("p", b.Number, 3*time.Hour, 22)})
		if l := again.Losses(); l.Repeated != 1 || l.Late != 1 {
			t.Errorf("losses %+v, want one repeated, one late", l)
		}
	})
}

func TestProbesMayComeOneAfterTheOther(t *testing.T) {
	contract(t, Options{}, func(t *testing.T, s store) {
		rng := rand.New(rand.NewPCG(2, 2))
		b := begin(t, s.Store, "a", t0)
		want := map[string][]sensor.Reading{}
		for _, name := range []string{"a", "b"} {
			want[name] = room(rng, name, b.Number, 0, 30*time.Hour, time.Minute)
			for i, r := range want[name] {
				put(t, s.Store, r)
				if i%29 == 0 {
					flush(t, s.Store)
				}
			}
		}
		flush(t, s.Store)
		again := s.again(t)
		for name := range want {
			wantSame(t, all(t, again, name), want[name])
		}
	})
}

func TestBadReadingsAreNamed(t *testing.T) {
	contract(t, Options{}, func(t *testing.T, s store) {
		b := begin(t, s.Store, "a", t0)
		good := reading("p", b.Number, time.Hour, 20)
		for want, r := range map[string]sensor.Reading{
			"names no probe":          reading("", b.Number, 0, 20),
			"uptime of -1s":           reading("p", b.Number, -time.Second, 20),
			"boot 9 was never begun":  reading("p", 9, 0, 20),
			"reading 2 of 2: probe p": reading("p", 9, 0, 20),
			"more than 32768":         reading(strings.Repeat("p", 40000), b.Number, 0, 20),
		} {
			if err := s.Append([]sensor.Reading{good, r}); err == nil || !strings.Contains(err.Error(), want) {
				t.Errorf("error is %v, want %q", err, want)
			}
		}
		if got := all(t, s.Store, "p"); len(got) != 0 {
			t.Errorf("a refused batch left %d readings", len(got))
		}
	})
}

func TestNewerSchemaIsRefused(t *testing.T) {
	db := openFile(t, filepath.Join(t.TempDir(), "readings.db"), 0)
	if _, err := Open(db, Options{}); err != nil {
		t.Fatal(err)
	}
	err := db.Update(func(tx *bbolt.Tx) error { return tx.Bucket(bucketMeta).Put(keySchema, []byte(strconv.Itoa(Schema+1))) })
	if err != nil {
		t.Fatal(err)
	}
	if _, err = Open(db, Options{}); err == nil || !strings.Contains(err.Error(), "newer version") {
		t.Errorf("error is %v", err)
	}
}

func TestSummariesSayWhatABlockCameTo(t *testing.T) {
	contract(t, Options{GapLimit: 10 * time.Minute}, func(t *testing.T, s store) {
		b := begin(t, s.Store, "a", t0)
		for m := range 14 * 60 {
			r := reading("p", b.Number, time.Duration(m)*time.Minute, 20+float64(m/360))
			switch {
			case m >= 100 && m < 160:
				r.Measurement, r.Cause = sensor.None(), sensor.NoAnswer
			case m >= 720:
				r.Cause, r.Celsius = sensor.Stuck, 85
			}
			put(t, s.Store, r)
		}
		check := func(s *Store) {
			t.Helper()
			var got []Summary
			for x, err := range s.Summaries("p", t0, t0.Add(24*time.Hour)) {
				if err != nil {
					t.Fatal(err)
				}
				got = append(got, x)
			}
			if len(got) != 3 {
				t.Fatalf("%d summaries, want 3", len(got))
			}
			x := got[0]
			if x.Missing != 61*time.Minute || x.Exposure.Measured() != (359-61)*time.Minute {
				t.Errorf("missing %s, measured %s", x.Missing, x.Exposure.Measured())
			}
			if x.Least != 20 || x.Most != 20 || x.Readings != 360 || x.Believed != 300 || !x.From.Equal(t0) || !x.To.Equal(t0.Add(359*time.Minute)) {
				t.Errorf("first summary is %+v", x.Least)
			}
			if g := x.Exposure.Gaps(); len(g) != 1 || !g[0].From.Equal(t0.Add(99*time.Minute)) || !g[0].To.Equal(t0.Add(160*time.Minute)) {
				t.Errorf("gaps are %+v", g)
			}
			if x := got[1]; x.First != (thermal.Sample{At: t0.Add(6 * time.Hour), Celsius: 21}) || x.Last.Celsius != 21 {
				t.Errorf("second summary runs from %+v to %+v", x.First, x.Last)
			}
			if x := got[2]; x.Believed != 0 || !x.First.At.IsZero() || !math.IsNaN(x.Least) || !math.IsNaN(x.Last.Celsius) || x.Readings != 120 {
				t.Errorf("a block without belief comes to %d believed, least %g", x.Believed, x.Least)
			}
		}
		check(s.Store)
		flush(t, s.Store)
		check(s.again(t))
	})
}

func TestBytesGrow(t *testing.T) {
	contract(t, Options{}, func(t *testing.T, s store) {
		b := begin(t, s.Store, "a", t0)
		before, err := s.Bytes()
		if err != nil {
			t.Fatal(err)
		}
		put(t, s.Store, room(rand.New(rand.NewPCG(5, 5)), "p", b.Number, 0, 400*time.Hour, time.Minute)...)
		flush(t, s.Store)
		if after, err := s.Bytes(); err != nil || after <= before {
			t.Errorf("%d bytes, then %d, %v", before, after, err)
		}
	})
}

func TestMain(m *testing.M) {
	if os.Getenv(childVariable) != "" {
		child()
	}
	os.Exit(m.Run())
}
