package history

import (
	"errors"
	"iter"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"example.com/ootherm/sensor/history/aggregate"
	"go.etcd.io/bbolt"
	"pgregory.net/rapid"
)

// hourlyOfReadings is what Hourly gives, by the readings one by one.
func hourlyOfReadings(s *Store, points []Point, limit time.Duration) (all []aggregate.Span) {
	boots := s.Boots()
	var prev Point
	for _, p := range points {
		if !p.Believed() || math.IsNaN(p.Celsius) {
			continue
		}
		i := slices.IndexFunc(boots, func(b Boot) bool { return b.Number == p.Boot })
		from := boots[i].Start.Add(p.Uptime.Truncate(time.Hour))
		n := len(all)
		if n == 0 || !all[n-1].From.Equal(from) {
			all = append(all, aggregate.Span{From: from, To: from.Add(time.Hour), Celsius: aggregate.None(), Humidity: aggregate.None()})
			n++
		}
		a := &all[n-1]
		a.To = from.Add(time.Hour)
		if i+1 < len(boots) && boots[i+1].Start.Before(a.To) && boots[i+1].Start.After(from) && !boots[i+1].Start.Before(p.At) {
			a.To = boots[i+1].Start
		}
		if span := p.At.Sub(prev.At); !prev.At.IsZero() && span <= limit {
			if !prev.At.Before(a.From) && prev.Boot == p.Boot {
				a.Measured += span
			} else {
				if end := all[n-2].To; end.Before(p.At) {
					all[n-2].Measured += end.Sub(prev.At)
				} else {
					all[n-2].Measured += span
				}
				a.Measured += p.At.Sub(later(a.From, prev.At))
			}
		}
		a.Celsius = with(a.Celsius, p.Celsius)
		if !math.IsNaN(p.Humidity) {
			a.Humidity = with(a.Humidity, p.Humidity)
		}
		prev = p
	}
	return all
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// with adds a value the long way, as a sum.
func with(s aggregate.Statistic, v float64) aggregate.Statistic {
	if s.Count == 0 {
		return aggregate.Statistic{Count: 1, Mean: v, Least: v, Most: v}
	}
	sum := s.Mean*float64(s.Count) + v
	return aggregate.Statistic{Count: s.Count + 1, Mean: sum / float64(s.Count+1), Least: math.Min(s.Least, v), Most: math.Max(s.Most, v)}
}

func wantAggregates(t rapid.TB, got, want []aggregate.Span) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%d hours, want %d", len(got), len(want))
	}
	near := func(a, b float64) bool { return math.Abs(a-b) < 1e-8 || math.IsNaN(a) && math.IsNaN(b) }
	alike := func(a, b aggregate.Statistic) bool {
		return a.Count == b.Count && near(a.Mean, b.Mean) && near(a.Least, b.Least) && near(a.Most, b.Most)
	}
	for i, g := range got {
		w := want[i]
		if !g.From.Equal(w.From) || !g.To.Equal(w.To) || g.Measured != w.Measured || !alike(g.Celsius, w.Celsius) || !alike(g.Humidity, w.Humidity) {
			t.Fatalf("hour %d of %d is\n%+v, want\n%+v", i, len(want), g, w)
		}
	}
}

func collect(t rapid.TB, all iter.Seq2[aggregate.Span, error]) (out []aggregate.Span) {
	t.Helper()
	for a, err := range all {
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, a)
	}
	return out
}

func hourly(t rapid.TB, s *Store) []aggregate.Span {
	t.Helper()
	return collect(t, s.Hourly("p", time.Unix(0, 0), time.Unix(1<<34, 0)))
}

func TestHoursAreTheReadings(t *testing.T) {
	for name, make := range kinds {
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(r *rapid.T) {
				limit := rapid.SampledFrom([]time.Duration{10 * time.Minute, 3 * time.Minute, time.Hour}).Draw(r, "limit")
				rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(r, "seed"), 2))
				s := make(t, Options{GapLimit: limit}).Store
				end := season(r, s, rng, rapid.IntRange(1, 3).Draw(r, "boots"))
				for _, b := range s.Boots() { // the clock is set
					by := time.Duration(rng.IntN(4*3600)-2*3600) * time.Second
					if rng.IntN(3) > 0 {
						continue
					}
					if err := s.Date(b.Number, b.Start.Add(by), 0, rng.IntN(2) == 0); err != nil {
						r.Fatal(err)
					}
				}
				points := between(t, s, "p", time.Unix(0, 0), end.Add(100*time.Hour))
				want := hourlyOfReadings(s, points, limit)
				wantAggregates(r, hourly(r, s), want)
				from := t0.Add(time.Duration(rng.Int64N(int64(end.Sub(t0)))))
				to := from.Add(time.Duration(rng.Int64N(int64(end.Sub(t0)))))
				inSpan := slices.DeleteFunc(slices.Clone(want), func(a aggregate.Span) bool { return !a.From.Before(to) || !a.To.After(from) })
				wantAggregates(r, collect(r, s.Hourly("p", from, to)), inSpan)
			})
		})
	}
}

// changed is a file with seasons of several boots whose records were changed, the history in
// it, and what its hours were.
func changed(t *testing.T, change func(*bbolt.Tx) error) (s *Store, before []aggregate.Span) {
	t.Helper()
	db := openFile(t, t.TempDir()+"/readings.db", 0)
	s, err := Open(db, Options{})
	if err != nil {
		t.Fatal(err)
	}
	b := begin(t, s, "a", t0)
	put(t, s, room(rand.New(rand.NewPCG(61, 61)), "p", b.Number, 0, 33*time.Hour, 20*time.Second)...)
	flush(t, s)
	before = hourly(t, s)
	if len(before) != 33 {
		t.Fatalf("%d hours", len(before))
	}
	if err := db.Update(func(tx *bbolt.Tx) error { return errors.Join(change(tx), stamp(tx)) }); err != nil {
		t.Fatal(err)
	}
	if s, err = Open(db, Options{}); err != nil {
		t.Fatal(err)
	}
	return s, before
}

func each(b *bbolt.Bucket, do func(k, v []byte) error) error {
	var keys [][]byte
	if err := b.ForEach(func(k, _ []byte) error { keys = append(keys, slices.Clone(k)); return nil }); err != nil {
		return err
	}
	for _, k := range keys {
		if err := do(k, slices.Clone(b.Get(k))); err != nil {
			return err
		}
	}
	return nil
}

func TestStoredHoursNeedNoReadings(t *testing.T) {
	s, before := changed(t, func(tx *bbolt.Tx) error {
		var errs []error
		for i := range uint32(5) {
			errs = append(errs, flipBlock(tx, key{Boot: 1, Index: i}))
		}
		return errors.Join(errs...)
	})
	wantAggregates(t, hourly(t, s), before)
	if _, failed := ranged(s); len(failed) != 5 {
		t.Errorf("%d of 5 blocks cannot be read", len(failed))
	}
}

func TestHoursOfAnEarlierFileAreComputed(t *testing.T) {
	for name, change := range map[string]func(*bbolt.Tx) error{
		"no hours": func(tx *bbolt.Tx) error { return tx.DeleteBucket(bucketHours) },
		"damaged": func(tx *bbolt.Tx) error {
			b := tx.Bucket(bucketHours).Bucket([]byte("p"))
			return each(b, func(k, _ []byte) error { return flip(b, k) })
		},
		"readings were added without them": func(tx *bbolt.Tx) error {
			b := tx.Bucket(bucketHours).Bucket([]byte("p"))
			return each(b, func(k, v []byte) error {
				n, hours, err := readHours(v)
				if err != nil {
					return err
				}
				return b.Put(k, writeHours(n-1, hours[1:]))
			})
		},
	} {
		t.Run(name, func(t *testing.T) {
			s, before := changed(t, change)
			wantAggregates(t, hourly(t, s), before)
		})
	}
}

func TestADamagedBlockWithoutHoursIsAnErrorInItsPlace(t *testing.T) {
	s, before := changed(t, func(tx *bbolt.Tx) error {
		return errors.Join(tx.DeleteBucket(bucketHours), flipBlock(tx, key{Boot: 1, Index: 1}))
	})
	var got []aggregate.Span
	var d *Damage
	for a, err := range s.Hourly("p", t0, t0.Add(100*time.Hour)) {
		if errors.As(err, &d) {
			if len(got) != 6 {
				t.Errorf("the error comes after %d hours", len(got))
			}
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		got = append(got, a)
	}
	if d == nil || !d.From.Equal(t0.Add(6*time.Hour)) || !d.To.Equal(t0.Add(12*time.Hour)) {
		t.Errorf("the damage is %+v", d)
	}
	// Its neighbours are joined to nothing.
	want := slices.Delete(slices.Clone(before), 6, 12)
	for _, i := range []int{5, 6} {
		if lost := want[i].Measured - got[i].Measured; lost < 0 || lost > time.Minute {
			t.Errorf("hour %d has lost %s", i, lost)
		}
		want[i].Measured = got[i].Measured
	}
	wantAggregates(t, got, want)
	for _, err := range s.Hourly("p", t0.Add(12*time.Hour+time.Minute), t0.Add(15*time.Hour)) {
		if err != nil {
			t.Errorf("a damage before the span is told: %v", err)
		}
	}
}

func TestTrimmedReadingsWithoutHoursAreOneAggregate(t *testing.T) {
	s, before := changed(t, func(tx *bbolt.Tx) error {
		return errors.Join(tx.DeleteBucket(bucketHours), dropBlock(tx, key{Boot: 1, Index: 0}))
	})
	got := hourly(t, s)
	if len(got) != len(before)-5 {
		t.Fatalf("%d aggregates, want one of six hours and %d hours", len(got), len(before)-6)
	}
	whole := before[0]
	for _, h := range before[1:6] {
		whole = whole.Plus(h)
	}
	block := got[0]
	if !block.From.Equal(t0) || !block.To.Equal(t0.Add(6*time.Hour)) || block.Celsius.Count != whole.Celsius.Count ||
		block.Celsius.Least != whole.Celsius.Least || block.Celsius.Most != whole.Celsius.Most || block.Humidity.Count != 0 {
		t.Errorf("got %+v, want %+v", block, whole)
	}
	// The mean is that of the time and not that of the readings.
	if math.Abs(block.Celsius.Mean-whole.Celsius.Mean) > 0.05 || (block.Measured-whole.Measured).Abs() > time.Second {
		t.Errorf("mean %g measured %s, want %g and %s", block.Celsius.Mean, block.Measured, whole.Celsius.Mean, whole.Measured)
	}
	wantAggregates(t, got[1:], before[6:])
}

func TestHoursOfABlockThatWasTrimmedGoOn(t *testing.T) {
	db := openFile(t, t.TempDir()+"/readings.db", 0)
	s, err := Open(db, Options{})
	if err != nil {
		t.Fatal(err)
	}
	b := begin(t, s, "a", t0)
	all := room(rand.New(rand.NewPCG(62, 62)), "p", b.Number, 0, 6*time.Hour, 20*time.Second)
	put(t, s, all[:500]...)
	begin(t, s, "b", t0.Add(24*time.Hour))
	put(t, s, reading("q", 2, time.Hour, 23)) // closes the block of p
	flush(t, s)
	if err := db.Update(func(tx *bbolt.Tx) error {
		return dropBlock(tx, key{Boot: 1, Index: 0})
	}); err != nil {
		t.Fatal(err)
	}
	put(t, s, all[500:]...)
	put(t, s, reading("p", 2, 2*time.Hour, 23))
	flush(t, s)
	whole := Memory(Options{})
	begin(t, whole, "a", t0)
	begin(t, whole, "b", t0.Add(24*time.Hour))
	put(t, whole, all...)
	put(t, whole, reading("p", 2, 2*time.Hour, 23))
	wantAggregates(t, hourly(t, s), hourly(t, whole))
}

func TestDaysAreTheirHours(t *testing.T) {
	place, err := time.LoadLocation("Europe/London")
	if err != nil {
		t.Fatal(err)
	}
	s := Memory(Options{})
	start := time.Date(2026, 3, 27, 3, 20, 0, 0, time.UTC) // summer time begins on the 29th
	b := begin(t, s, "a", start)
	put(t, s, room(rand.New(rand.NewPCG(63, 63)), "p", b.Number, 0, 96*time.Hour, time.Minute)...)
	hours := hourly(t, s)
	days := collect(t, aggregate.Daily(func(yield func(aggregate.Span, error) bool) {
		for _, h := range hours {
			if !yield(h, nil) {
				return
			}
		}
	}, place))
	if len(days) != 5 {
		t.Fatalf("%d days, want 5", len(days))
	}
	n := 0
	for i, d := range days {
		if from := time.Date(2026, 3, 27+i, 0, 0, 0, 0, place); !d.From.Equal(from) || !d.To.Equal(from.AddDate(0, 0, 1)) {
			t.Errorf("day %d is from %s to %s", i, d.From, d.To)
		}
		least, count, measured := math.Inf(1), 0, time.Duration(0)
		for _, h := range hours {
			if middle := h.From.Add(30 * time.Minute); !middle.Before(d.From) && middle.Before(d.To) {
				least, count, measured = min(least, h.Celsius.Least), count+h.Celsius.Count, measured+h.Measured
				n++
			}
		}
		if d.Celsius.Count != count || d.Celsius.Least != least || d.Measured != measured {
			t.Errorf("day %d: %+v, want %d readings, %g at least, %s", i, d, count, least, measured)
		}
	}
	if n != len(hours) {
		t.Errorf("the days hold %d of %d hours", n, len(hours))
	}
}
