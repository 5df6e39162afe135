package column

import (
	"bytes"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// noise is n values of a converter whose noise has a spread, around a level that moves in waves.
func noise(rng *rand.Rand, n int, spread float64) []int64 {
	v := make([]int64, n)
	for i := range v {
		v[i] = int64(math.Round(1000*math.Sin(float64(i)/1500) + spread*rng.NormFloat64()))
	}
	return v
}

// The shortest code of a value with normal noise takes its entropy: the logarithm of the spread
// times the root of 2 pi e (Cover and Thomas, Elements of Information Theory, theorem 8.3.1).
func TestNoiseCostsLittleMoreThanItsEntropy(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for _, spread := range []float64{3, 8, 30, 100, 1000} {
		v := noise(rng, 2160, spread)
		b := AppendInts(nil, v)
		got := 8 * float64(len(b)) / float64(len(v))
		least := math.Log2(spread * math.Sqrt(2*math.Pi*math.E))
		t.Logf("spread %4g: %.2f bits a value, the least is %.2f", spread, got, least)
		if got > least+0.5 {
			t.Errorf("spread %g: %.2f bits a value, want %.2f and 0.5 more at most", spread, got, least)
		}
	}
}

func TestLateStampsCostTheirLatenessAlone(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	for name, next := range map[string]func(at int64) int64{
		"each late by itself": func(at int64) int64 { return (at+5)/10_000*10_000 + 10_000 + rng.Int64N(7) - 3 },
		"each after the last": func(at int64) int64 { return at + 10_000 + rng.Int64N(7) - 3 },
	} {
		v := []int64{77}
		for len(v) < 2160 {
			at := next(v[len(v)-1])
			if len(v)%500 == 0 {
				at += 1_230_000 // a gap
			}
			v = append(v, at)
		}
		b := AppendInts(nil, v)
		got, least := 8*float64(len(b))/float64(len(v)), math.Log2(7)
		t.Logf("%s: %.2f bits a stamp, the least is %.2f", name, got, least)
		if got > least+0.4 {
			t.Errorf("%s: %.2f bits a stamp, want %.2f and 0.4 more at most", name, got, least)
		}
	}
}

// Any integers come back, those that the level meets badly too.
func TestLongColumnsComeBack(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(r, "seed"), 3))
		v := make([]int64, rapid.IntRange(leastValues-1, 400).Draw(r, "n"))
		spread := rapid.SampledFrom([]float64{0, 0.4, 3, 60, 1e4, 1e9, 1e13}).Draw(r, "spread")
		slope := rapid.SampledFrom([]int64{0, 0, -1, 1, 10_000, 1 << 40}).Draw(r, "slope")
		step := rapid.SampledFrom([]int64{1, 1, 10, 1 << 8}).Draw(r, "step")
		leaps := rapid.SampledFrom([]int{0, 0, 2, 50}).Draw(r, "one in so many leaps")
		base := int64(0)
		for i := range v {
			if leaps > 0 && rng.IntN(leaps) == 0 {
				base = rng.Int64N(1<<51) - 1<<50
			}
			v[i] = (base + slope*int64(i) + int64(spread*rng.NormFloat64())) * step
		}
		wantBack(r, v)
	})
}

func wantBack(t rapid.TB, v []int64) {
	t.Helper()
	rest := []byte{1, 2, 3}
	got := make([]int64, len(v))
	left, err := ReadInts(append(AppendInts(nil, v), rest...), got)
	if err != nil || !slices.Equal(got, v) || !bytes.Equal(left, rest) {
		t.Fatalf("%v became %v with %v left, %v", v, got, left, err)
	}
}

func TestAColumnThatEndsEarlyIsAnError(t *testing.T) {
	v := noise(rand.New(rand.NewPCG(4, 4)), 300, 9)
	v[100] += 1 << 40
	b := AppendInts(nil, v)
	if b[0] != aroundLevel {
		t.Fatalf("the column is written in way %d", b[0])
	}
	got := make([]int64, len(v))
	for n := range b {
		if _, err := ReadInts(b[:n], got); err == nil {
			t.Errorf("%d of %d bytes are read without an error", n, len(b))
		}
	}
}

func TestReadingAColumnAllocatesNothing(t *testing.T) {
	v := noise(rand.New(rand.NewPCG(5, 5)), 2160, 9)
	b := AppendInts(nil, v)
	if n := testing.AllocsPerRun(20, func() {
		if _, err := ReadInts(b, v); err != nil {
			t.Fatal(err)
		}
	}); n != 0 {
		t.Errorf("%g allocations", n)
	}
}

// A word is at most as long as the table takes, and the code is complete: the table has no gap.
func TestPrefixCodesFillTheirTable(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		count := rapid.SliceOfN(rapid.SampledFrom([]int{0, 0, 1, 2, 5, 1000, 1 << 30}), 1, 64).Draw(r, "count")
		code := prefixOf(count, rapid.IntRange(0, 3).Draw(r, "leaps"))
		rd := Reader{B: code.append(nil)}
		var table prefixTable
		if last := table.read(&rd); rd.Err != nil || int(last) != len(count) || len(rd.B) > 0 {
			r.Fatalf("%v: last symbol %d, %v, %d bytes left", code, last, rd.Err, len(rd.B))
		}
		for s, word := range code.words() {
			if n := code.lengths[s]; n > 0 {
				if e := table[word<<(longest-n)]; int(e.symbol) != s || e.length != n {
					r.Fatalf("the word of %d reads as %+v", s, e)
				}
			} else if s == len(count) || count[s] > 0 {
				r.Fatalf("symbol %d has no word", s)
			}
		}
	})
}

// Damaged columns must be errors or other integers: never a panic.
func FuzzReadInts(f *testing.F) {
	rng := rand.New(rand.NewPCG(6, 6))
	for _, spread := range []float64{0, 0.3, 9, 1e6} {
		f.Add(AppendInts(nil, noise(rng, 100, spread)), uint16(100))
	}
	f.Fuzz(func(t *testing.T, b []byte, n uint16) {
		v := make([]int64, int(n)%4096+1)
		left, err := ReadInts(b, v)
		if err == nil && len(left) > len(b) {
			t.Fatalf("%d bytes are left of %d", len(left), len(b))
		}
	})
}
