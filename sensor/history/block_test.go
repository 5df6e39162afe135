package history

import (
	"bytes"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/history/column"
	"example.com/ootherm/sensor/history/stored"
	"pgregory.net/rapid"
)

func wantRows(t rapid.TB, got, want []row, within float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%d rows, want %d", len(got), len(want))
	}
	near := func(a, b float64) bool {
		return a == b || math.IsNaN(a) && math.IsNaN(b) || math.Abs(a-b) <= within
	}
	for i, g := range got {
		if w := want[i]; g.up != w.up || g.cause != w.cause || !near(g.celsius, w.celsius) || !near(g.humidity, w.humidity) {
			t.Fatalf("row %d is %+v, want %+v", i, g, w)
		}
	}
}

func through(t rapid.TB, rows []row) []row {
	t.Helper()
	got, err := decode(encode(nil, rows))
	if err != nil {
		t.Fatal(err)
	}
	return got
}

// What the parts give, by their data sheets' conversions.
func TestPartsReadingsComeBackExactly(t *testing.T) {
	rng := rand.New(rand.NewPCG(21, 21))
	walk := func(from, to int) func() float64 { // counts of a converter
		n := (from + to) / 2
		return func() float64 {
			n = min(max(n+rng.IntN(9)-4, from), to)
			return float64(n)
		}
	}
	ds18b20, dht22, bme280, sht, shtRH, aht, htu := walk(350, 450), walk(200, 280), walk(2000, 2800), walk(24000, 27000), walk(20000, 40000), walk(360000, 400000), walk(25000, 27000)
	for name, c := range map[string]struct {
		celsius, humidity func() float64
		within            float64
		bytes             float64 // a reading, at most, uptimes included
	}{
		"DS18B20, sixteenths":         {func() float64 { return ds18b20() / 16 }, math.NaN, 0, 1.1},
		"DHT22, tenths":               {func() float64 { return dht22() / 10 }, func() float64 { return dht22() / 1000 }, 0, 1.6},
		"BME280, hundredths and 1024": {func() float64 { return bme280() / 100 }, func() float64 { return bme280() * 20 / 1024 / 100 }, 1e-9, 1.6},
		"kernel, thousandths":         {func() float64 { return bme280() * 10 / 1000 }, func() float64 { return bme280() * 10 / 1000 / 100 }, 1e-12, 1.6},
		"SHT3x and SHT4x":             {func() float64 { return -45 + 175*sht()/65535 }, func() float64 { return (-6 + 125*shtRH()/65535) / 100 }, 1e-9, 1.6},
		"AHT20":                       {func() float64 { return aht()/(1<<20)*200 - 50 }, func() float64 { return aht() / (1 << 20) }, 1e-9, 1.6},
		"HTU21":                       {func() float64 { return -46.85 + 175.72*htu()/65536 }, func() float64 { return (-6 + 125*shtRH()/65536) / 100 }, 1e-9, 1.6},
		"six decimals of anything":    {func() float64 { return math.Round(rng.Float64()*5e7) / 1e6 }, func() float64 { return math.Round(rng.Float64()*1e6) / 1e6 }, 0, 9},
		"any float":                   {func() float64 { return 20 + rng.NormFloat64() }, rng.Float64, 1e-9, 9},
	} {
		t.Run(name, func(t *testing.T) {
			rows := make([]row, 2160)
			for i := range rows {
				rows[i] = row{up: int64(i)*10_000 + int64(rng.IntN(2)), celsius: c.celsius(), humidity: c.humidity()}
			}
			wantRows(t, through(t, rows), rows, c.within)
			if got := float64(len(encode(nil, rows))) / float64(len(rows)); got > c.bytes {
				t.Errorf("%.2f bytes a reading, at most %.2f", got, c.bytes)
			}
		})
	}
}

func TestAnyRowsComeBack(t *testing.T) {
	value := func(r *rapid.T) float64 {
		switch rapid.IntRange(0, 6).Draw(r, "kind") {
		case 0:
			return math.NaN()
		case 1:
			return rapid.SampledFrom([]float64{0, 85, -127, 127.94, 33.17, math.Inf(1), math.Inf(-1), math.MaxFloat64, 1e15, -1e15 + 0.5}).Draw(r, "odd")
		default:
			return rapid.Float64Range(-200, 200).Draw(r, "value")
		}
	}
	rapid.Check(t, func(r *rapid.T) {
		n := rapid.IntRange(1, 60).Draw(r, "n")
		rows := make([]row, n)
		up := int64(0)
		for i := range rows {
			up += rapid.SampledFrom([]int64{1, 9_999, 10_000, 10_001, 3_600_000, 1 << 40}).Draw(r, "step")
			rows[i] = row{up, value(r), value(r), sensor.Cause(rapid.SampledFrom([]string{"", "", "", "range", "bad-frame", "some other"}).Draw(r, "cause"))}
		}
		wantRows(r, through(r, rows), rows, 1e-9)
	})
}

func TestHoursOfSilenceCostLittle(t *testing.T) {
	rows := make([]row, 2160)
	for i := range rows {
		rows[i] = row{int64(i) * 10_000, math.NaN(), math.NaN(), sensor.NoAnswer}
	}
	if n := len(encode(nil, rows)); n > 50 {
		t.Errorf("six hours without an answer take %d bytes", n)
	}
	wantRows(t, through(t, rows), rows, 0)
}

func TestIntegersComeBack(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		width := rapid.SampledFrom([]int64{1, 3, 100, 1 << 20, 1 << 51}).Draw(r, "width")
		v := rapid.SliceOfN(rapid.Int64Range(-width, width), 1, 80).Draw(r, "v")
		rest := []byte{1, 2, 3}
		got := make([]int64, len(v))
		left, err := column.ReadInts(append(column.AppendInts(nil, v), rest...), got)
		if err != nil || !slices.Equal(got, v) || !bytes.Equal(left, rest) {
			t.Fatalf("%v became %v with %v left, %v", v, got, left, err)
		}
	})
}

// A damaged block must be an error: never a panic, never other readings.
func FuzzDecode(f *testing.F) {
	rng := rand.New(rand.NewPCG(22, 22))
	var rows []row
	for i := range 100 {
		rows = append(rows, row{int64(i) * 10_007, 20 + rng.NormFloat64(), 0.5, ""})
	}
	rows[50].cause, rows[50].celsius = sensor.Range, math.NaN()
	f.Add(encode(nil, rows), true)
	f.Add(encode(nil, rows[:1]), true)
	f.Add(earlierBlock(f), true)
	f.Add([]byte{}, false)
	f.Fuzz(func(t *testing.T, b []byte, sealed bool) {
		if !sealed {
			b = stored.Seal(bytes.Clone(b), 0) // so that what lies behind the sum is tried too
		}
		got, err := decode(b)
		if err != nil {
			return
		}
		for i, r := range got {
			if r.up < 0 || i > 0 && r.up <= got[i-1].up {
				t.Fatalf("row %d at %d ms", i, r.up)
			}
		}
		again, err := decode(encode(nil, got))
		if err != nil {
			t.Fatal(err)
		}
		for i := range again {
			if again[i].up != got[i].up || again[i].cause != got[i].cause {
				t.Fatalf("row %d is %+v, then %+v", i, got[i], again[i])
			}
		}
	})
}

func TestEveryFlippedBitIsSeen(t *testing.T) {
	rows := []row{{1, 20, 0.5, ""}, {10_001, 20.5, math.NaN(), ""}, {20_001, 85, 0.5, sensor.PowerOn}}
	b := encode(nil, rows)
	s, err := summarise(rows, defaultGapLimit).encode()
	if err != nil {
		t.Fatal(err)
	}
	for i := range 8 * len(b) {
		b[i/8] ^= 1 << (i % 8)
		if _, err := decode(b); err == nil {
			t.Errorf("bit %d of a block was flipped and not noticed", i)
		}
		b[i/8] ^= 1 << (i % 8)
	}
	for i := range 8 * len(s) {
		s[i/8] ^= 1 << (i % 8)
		if _, err := decodeSum(s); err == nil {
			t.Errorf("bit %d of a summary was flipped and not noticed", i)
		}
		s[i/8] ^= 1 << (i % 8)
	}
}
