package sensor

import (
	"encoding/csv"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"
)

// judge gives the screen after a reading.
func judge(s Screen, r Reading) (Screen, Reading) {
	r = s.Judge(r)
	return s, r
}

// run passes temperatures through a new screen, so far apart, and gives the
// causes.
func run(every time.Duration, celsius ...float64) []Cause {
	var s Screen
	var causes []Cause
	for i, c := range celsius {
		var r Reading
		s, r = judge(s, Reading{Stamp: Stamp{Uptime: time.Duration(i) * every}, Measurement: Measurement{Celsius: c, Humidity: math.NaN()}})
		causes = append(causes, r.Cause)
	}
	return causes
}

func TestScreenRefusesAndTakesBack(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct {
		fault   string
		celsius []float64
		want    []Cause
	}{
		{"nothing", []float64{24, 24.1, 24, 23.9}, []Cause{"", "", "", ""}},
		{"a first reading far from the rest", []float64{40, 24, 24, 24, 24}, []Cause{"", Jump, Jump, "", ""}},
		{"absent", []float64{24, nan, 24}, []Cause{"", NoAnswer, ""}},
		{"not finite", []float64{24, inf, 24, 24, 24}, []Cause{"", Range, Recovering, Recovering, ""}},
		{"power came, or went and came", []float64{85, 24, 85, 24, 24, 24}, []Cause{PowerOn, Recovering, PowerOn, Recovering, Recovering, ""}},
		{"a genuine 84.9375 C", []float64{84.8125, 84.875, 84.9375, 85, 85.0625, 84.9375, 84.9375}, []Cause{"", "", "", PowerOn, Recovering, Recovering, ""}},
		{"a heater that burns the shelf", []float64{24, 70, 70.5, 71, 71.5}, []Cause{"", Jump, Jump, "", ""}},
		{"hotter than any part can say", []float64{24, 127.9375, 24, 24, 24}, []Cause{"", Range, Recovering, Recovering, ""}},
		{"colder than the part can say", []float64{-40, -40.1, -40, -40, -40}, []Cause{"", Range, Recovering, Recovering, ""}},
		{"out of range, and back elsewhere", []float64{24, 130, 30, 30, 30}, []Cause{"", Range, Jump, Jump, ""}},
		{"one spike", []float64{24, 30, 24, 24, 24, 24}, []Cause{"", Jump, Recovering, Recovering, "", ""}},
		{"a true step", []float64{24, 30, 30.1, 30.2, 30.2}, []Cause{"", Jump, Jump, "", ""}},
		{"a loose wire", []float64{24, 30, 24, 30, 24, 30, 24, 24, 24}, []Cause{"", Jump, Recovering, Jump, Recovering, Jump, Recovering, Recovering, ""}},
		{"just within the allowance", []float64{24, 25, 26.04, 25}, []Cause{"", "", "", ""}},
	} {
		got := run(10*time.Second, c.celsius...)
		for i := range got {
			if got[i] != c.want[i] {
				t.Errorf("%s: reading %d of %v is %q, want %q", c.fault, i, c.celsius, got[i], c.want[i])
			}
		}
	}
}

func TestScreenGivesAirTimeToMove(t *testing.T) {
	if got := run(15*time.Minute, 20, 24.7); got[1] != "" {
		t.Errorf("4.7 K in a quarter of an hour is refused as %s", got[1])
	}
	if got := run(15*time.Minute, 20, 24.8); got[1] != Jump {
		t.Errorf("4.8 K in a quarter of an hour is %q, want %s", got[1], Jump)
	}
	// Another boot: the time between is not known.
	s, _ := judge(Screen{}, Reading{Stamp: Stamp{Boot: 1, Uptime: time.Hour}, Measurement: Measurement{Celsius: 20}})
	if _, r := judge(s, Reading{Stamp: Stamp{Boot: 2}, Measurement: Measurement{Celsius: 30}}); r.Cause != "" {
		t.Errorf("the first reading of a boot is refused as %s", r.Cause)
	}
}

func TestScreenKeepsRawValuesAndPassesFailures(t *testing.T) {
	s, _ := judge(Screen{}, Reading{Measurement: Measurement{Celsius: 24, Humidity: .5}})
	s, r := judge(s, Reading{Measurement: Measurement{Celsius: 44, Humidity: .5}})
	if r.Cause != Jump || r.Celsius != 44 || r.Humidity != .5 {
		t.Errorf("a jump comes out as %+v", r)
	}
	if last, ok := s.Last(); !ok || last.Celsius != 24 || s.Suspect() != Jump {
		t.Errorf("last believed %+v %v, suspect %q", last, ok, s.Suspect())
	}
	s, r = judge(Screen{}, Reading{Measurement: None(), Cause: BadFrame})
	if r.Cause != BadFrame || s.Suspect() != "" {
		t.Errorf("a bad frame comes out as %q and leaves the probe suspect of %q", r.Cause, s.Suspect())
	}
	if _, r = judge(s, Reading{Measurement: Measurement{Celsius: 24, Humidity: .5}}); r.Cause != "" {
		t.Errorf("the reading after a bad frame is refused as %s", r.Cause)
	}
	s, r = judge(s, Reading{Measurement: None(), Cause: PowerOn})
	if r.Cause != PowerOn || s.Suspect() != PowerOn {
		t.Errorf("a power-on value comes out as %q, suspect %q", r.Cause, s.Suspect())
	}
}

func TestScreenRefusesAHumidityThatCannotBe(t *testing.T) {
	for h, kept := range map[float64]bool{
		-.06: true, 0: true, 1: true, 1.027: true, 1.19: true,
		-.2: false, 1.3: false, 33.17: false, math.Inf(1): false,
	} {
		_, r := judge(Screen{}, Reading{Measurement: Measurement{Celsius: 24, Humidity: h}})
		if r.Humidity != h || (r.Cause == "") != kept || !kept && r.Cause != Humid {
			t.Errorf("humidity %v comes out as %v with cause %q", h, r.Humidity, r.Cause)
		}
	}
}

// One frame of a DHT22 that is nonsense and passes its check is refused whole; a
// part that has lost its sense of humidity goes on as a thermometer.
func TestScreenTellsANonsenseFrameFromABrokenPart(t *testing.T) {
	var s Screen
	var causes []Cause
	var last Reading
	for i, h := range []float64{.5, 33.17, .5, .5, .5, 33.17, 33.17, 33.17, 33.17, 33.17, 33.17} {
		s, last = judge(s, Reading{Stamp: Stamp{Uptime: time.Duration(i) * 10 * time.Second}, Measurement: Measurement{Celsius: 24, Humidity: h}})
		causes = append(causes, last.Cause)
	}
	if got, want := fmt.Sprint(causes), fmt.Sprint([]Cause{"", Humid, Recovering, Recovering, "", Humid, Humid, Recovering, Recovering, "", ""}); got != want {
		t.Errorf("causes %s, want %s", got, want)
	}
	if last.Celsius != 24 || !math.IsNaN(last.Humidity) || CauseOf(last.Lacking) != Humid {
		t.Errorf("the part gives %+v", last)
	}
}

// A probe that was away for three polls is believed at its third good reading; one
// bad frame or two, or a cell that is empty, cost that reading alone.
func TestScreenOfAProbeThatComesBack(t *testing.T) {
	for _, c := range []struct {
		fault   string
		reads   []Cause // of the reads that fail; they are followed by four good ones
		refused int     // of those
	}{
		{"a bad frame", []Cause{BadFrame}, 0},
		{"two bad frames", []Cause{BadFrame, NoAnswer}, 0},
		{"unplugged", []Cause{NoAnswer, NoAnswer, NoAnswer}, 2},
		{"gone with its bus", []Cause{BusGone, BusGone, BusGone, BusGone}, 2},
		{"empty cells", []Cause{"", "", "", "", ""}, 0},
	} {
		s, _ := judge(Screen{}, Reading{Measurement: Measurement{Celsius: 24, Humidity: math.NaN()}})
		for i, cause := range c.reads {
			s, _ = judge(s, Reading{Stamp: Stamp{Uptime: time.Duration(1+i) * 10 * time.Second}, Measurement: None(), Cause: cause})
		}
		refused := 0
		for i := range 4 {
			var r Reading
			s, r = judge(s, Reading{Stamp: Stamp{Uptime: time.Duration(10+i) * 10 * time.Second}, Measurement: Measurement{Celsius: 24, Humidity: math.NaN()}})
			if r.Cause != "" && r.Cause != Recovering {
				t.Errorf("%s: a good reading is refused as %s", c.fault, r.Cause)
			}
			if !r.Believed() {
				refused++
			}
		}
		if refused != c.refused {
			t.Errorf("%s: %d good readings are refused, want %d", c.fault, refused, c.refused)
		}
	}
}

// judged is what a screen made of a series: readings refused, by cause, and the
// index of the first.
func judged(rs []Reading) (map[Cause]int, int) {
	var s Screen
	refused, first := map[Cause]int{}, -1
	for i, r := range rs {
		if s, r = judge(s, r); r.Cause != "" {
			refused[r.Cause]++
			if first < 0 {
				first = i
			}
		}
	}
	return refused, first
}

func TestScreenCatchesAStuckProbe(t *testing.T) {
	for _, c := range []struct {
		fault    string
		every    time.Duration
		step     float64 // K, the resolution
		noise    float64 // K
		humidity bool
		within   time.Duration // caught by then after it stuck
	}{
		{"fine, with humidity", 10 * time.Second, .01, .02, true, 31 * time.Minute},
		{"fine, temperature alone", 10 * time.Second, .0078125, .01, false, 6*time.Hour + time.Minute},
		{"fine, every minute", time.Minute, .01, .02, true, time.Hour},
		{"coarse", 10 * time.Second, .0625, .05, false, 126 * time.Hour},
		{"coarse, every five minutes", 5 * time.Minute, .0625, .05, false, 126 * time.Hour},
	} {
		rng := rand.New(rand.NewPCG(1, 2))
		var rs []Reading
		at := func(i int) Stamp { return Stamp{Uptime: time.Duration(i) * c.every} }
		stick := 3 * 24 * int(time.Hour/c.every)
		for i := range stick {
			day := 2 * math.Sin(2*math.Pi*float64(i)*c.every.Hours()/24)
			m := Measurement{Celsius: math.Round((24+day+c.noise*rng.NormFloat64())/c.step) * c.step, Humidity: math.NaN()}
			if c.humidity {
				m.Humidity = math.Round(1e4*(.5+.001*rng.NormFloat64())) / 1e4
			}
			rs = append(rs, Reading{Stamp: at(i), Measurement: m})
		}
		if refused, first := judged(rs); first >= 0 {
			t.Fatalf("%s: a live probe is refused %v", c.fault, refused)
		}
		frozen := rs[stick-1].Measurement
		for i := range int(c.within/c.every) + 1 {
			rs = append(rs, Reading{Stamp: at(stick + i), Measurement: frozen})
		}
		if refused, first := judged(rs); refused[Stuck] == 0 || first < stick {
			t.Errorf("%s: frozen for %v and not refused: %v", c.fault, c.within, refused)
		}
		// It moves again: believed at the third reading.
		var back []Reading
		for i := range 5 {
			m := frozen
			m.Celsius += c.step * float64(1+i%2)
			back = append(back, Reading{Stamp: at(len(rs) + i), Measurement: m})
		}
		before, _ := judged(rs)
		after, _ := judged(append(rs, back...))
		if after[Stuck] != before[Stuck] || after[Recovering]-before[Recovering] != 2 {
			t.Errorf("%s: after it moved %d readings are stuck and %d recovering, want 0 and 2", c.fault, after[Stuck]-before[Stuck], after[Recovering]-before[Recovering])
		}
	}
}

func TestScreenBelievesQuietProbes(t *testing.T) {
	quiet := func(step, noise, humidityStep float64, every time.Duration) []Reading {
		rng := rand.New(rand.NewPCG(3, 4))
		var rs []Reading
		for i := range int(14 * 24 * time.Hour / every) {
			uptime := time.Duration(i) * every
			c := 24 + noise*rng.NormFloat64()
			if uptime < 48*time.Hour { // two days in a living room first
				c += 1.5*math.Sin(2*math.Pi*uptime.Hours()/24) + .1*rng.NormFloat64()
			}
			m := Measurement{Celsius: math.Round(c/step) * step, Humidity: math.NaN()}
			if humidityStep > 0 {
				m.Humidity = math.Round((.6+.0005*rng.NormFloat64())/humidityStep) * humidityStep
			}
			rs = append(rs, Reading{Stamp: Stamp{Uptime: uptime}, Measurement: m})
		}
		return rs
	}
	// One step either way every few days, and then once after nine.
	var buried []Reading
	for day, step := 0, 0; day < 40; day++ {
		if day%4 == 0 && day < 28 || day == 37 {
			step++
		}
		for h := range 48 {
			buried = append(buried, Reading{
				Stamp:       Stamp{Uptime: time.Duration(48*day+h) * 30 * time.Minute},
				Measurement: Measurement{Celsius: 24 + .0625*float64(step%2), Humidity: math.NaN()},
			})
		}
	}
	for name, rs := range map[string][]Reading{
		"0.0625 K, buried, every 30 min":             buried,
		"0.01 K, 0.005 K of noise, every 10 s":       quiet(.01, .005, 0, 10*time.Second),
		"0.01 K and humidity, every 10 s":            quiet(.01, .004, .0001, 10*time.Second),
		"0.0625 K, still for half a day, every 10 s": quiet(.0625, .0085, 0, 10*time.Second),
		"0.5 K, hardly ever changing, every 10 min":  quiet(.5, .06, 0, 10*time.Minute),
	} {
		if refused, first := judged(rs); first >= 0 {
			t.Errorf("%s: refused %v, first reading %d", name, refused, first)
		}
	}
}

// recorded reads a recording's columns as series of readings.
func recorded(t *testing.T, file string, parse func(row []string) (series string, at time.Duration, celsius float64)) map[string][]Reading {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "testdata", file))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	m := map[string][]Reading{}
	for _, row := range rows[1:] {
		name, at, c := parse(row)
		m[name] = append(m[name], Reading{Probe: name, Stamp: Stamp{Uptime: at}, Measurement: Measurement{Celsius: c, Humidity: math.NaN()}})
	}
	return m
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func TestScreenOnRecordings(t *testing.T) {
	epoch := time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)
	column := func(i int, fahrenheit bool) func([]string) (string, time.Duration, float64) {
		return func(row []string) (string, time.Duration, float64) {
			at, err := time.Parse(time.DateTime, row[0])
			if err != nil {
				t.Fatal(err)
			}
			c := number(t, row[i])
			if fahrenheit {
				c = (c - 32) / 1.8
			}
			return strconv.Itoa(i), at.Sub(epoch), c
		}
	}
	check := func(file string, want map[Cause]int, parse func([]string) (string, time.Duration, float64)) {
		t.Helper()
		for name, rs := range recorded(t, file, parse) {
			refused, first := judged(rs)
			if !maps.Equal(refused, want) {
				t.Errorf("%s, series %s: refused %v (first at %v), want %v", file, name, refused, rs[max(first, 0)].Uptime, want)
			}
		}
	}
	for i := 1; i <= 4; i++ {
		check("rooms/four-probes-30s.csv", nil, column(i, false))
		check("rooms/house-irregular-10min.csv", nil, column(2*i-1, false))
	}
	for i := 1; i <= 3; i++ {
		check("rooms/house-two-rooms-15min.csv", nil, column(i, false))
	}
	check("rooms/office-hourly-fahrenheit.csv", nil, column(1, true))
	// The logger is lifted out at the end: one jump; the reading after it might have
	// come there from the last believed one, and the third is believed.
	check("rooms/lizard-lab-incubator-5min.csv", map[Cause]int{Jump: 1, Recovering: 1}, column(1, false))
	check("nests/nest-temperatures.csv", nil, func(row []string) (string, time.Duration, float64) {
		return row[0], time.Duration(number(t, row[1]) * float64(time.Minute)), number(t, row[2])
	})
}

func BenchmarkScreen(b *testing.B) {
	var s Screen
	r := Reading{Measurement: Measurement{Celsius: 24, Humidity: .5}}
	for i := 0; b.Loop(); i++ {
		r.Uptime += 10 * time.Second
		r.Celsius = 24 + float64(i%7)*.01
		s, _ = judge(s, r)
	}
}

func TestSaturatedIsASignAndNoFault(t *testing.T) {
	var s Screen
	step := func(at time.Duration, boot uint32, h float64) bool {
		var r Reading
		s, r = judge(s, Reading{Stamp: Stamp{Boot: boot, Uptime: at}, Measurement: Measurement{Celsius: 24 + .01*float64(int(at.Minutes())%3), Humidity: h}})
		if r.Cause != "" {
			t.Fatalf("at %v a humidity of %v is refused as %s", at, h, r.Cause)
		}
		return s.Saturated()
	}
	for _, c := range []struct {
		at   time.Duration
		boot uint32
		h    float64
		want bool
	}{
		{0, 1, .5, false}, {time.Minute, 1, .97, true}, {2 * time.Minute, 1, 1.03, true}, {3 * time.Minute, 1, .9, false},
		{60*time.Hour + 0*time.Minute, 1, .9, false}, // damp since the first minute
		{60*time.Hour + time.Minute, 1, .9, true}, {61 * time.Hour, 1, math.NaN(), true},
		{62 * time.Hour, 1, .79, false}, {63 * time.Hour, 1, .9, false},
		{time.Hour, 2, .9, false}, {61 * time.Hour, 2, .9, true},
	} {
		if got := step(c.at, c.boot, c.h); got != c.want {
			t.Errorf("boot %d, %v, humidity %v: saturated %v, want %v", c.boot, c.at, c.h, got, c.want)
		}
	}
}
