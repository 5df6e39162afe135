package zone

import (
	"errors"
	"math"
	"slices"
	"testing"
	"time"

	"example.com/ootherm/sensor"
)

// apart is that of the default configuration, K.
const apart = 3.0

var start = time.Date(2026, 4, 1, 0, 0, 0, 0, time.UTC)

func minute(n int) time.Time { return start.Add(time.Duration(n) * time.Minute) }

func samples(celsius map[string]float64) []Sample {
	var all []Sample
	for _, name := range []string{"a", "b", "c"} {
		if c, ok := celsius[name]; ok {
			all = append(all, Sample{name, c})
		}
	}
	return all
}

func same(a, b float64) bool {
	return math.IsNaN(a) && math.IsNaN(b) || math.Abs(a-b) < 1e-9
}

func TestStep(t *testing.T) {
	nan := math.NaN()
	type step struct {
		at      int // minutes
		read    map[string]float64
		celsius float64
		spread  float64
		out     []string
	}
	for name, steps := range map[string][]step{
		"one probe": {
			{0, map[string]float64{"a": 24}, 24, nan, nil},
			{1, map[string]float64{"a": 30}, 30, nan, nil},
		},
		"the median of two and of three": {
			{0, map[string]float64{"a": 24, "b": 25}, 24.5, 1, nil},
			{1, map[string]float64{"a": 24, "b": 25, "c": 26}, 25, 2, nil},
		},
		"a probe that is too old does not count": {
			{0, map[string]float64{"a": 24, "b": 26}, 25, 2, nil},
			{3, map[string]float64{"a": 24}, 25, 2, nil},
			{4, map[string]float64{"a": 24}, 24, nan, nil},
			{8, nil, nan, nan, nil},
		},
		"one of three is left out until three readings agree": {
			{0, map[string]float64{"a": 24, "b": 24.2, "c": 28.3}, 24.1, 0.2, []string{"c"}},
			{1, map[string]float64{"a": 24, "b": 24.2, "c": 24.4}, 24.1, 0.2, []string{"c"}},
			{2, map[string]float64{"a": 24, "b": 24.2, "c": 24.4}, 24.1, 0.2, []string{"c"}},
			{3, map[string]float64{"a": 24, "b": 24.2, "c": 24.4}, 24.2, 0.4, nil},
		},
		"of two that disagree neither counts": {
			{0, map[string]float64{"a": 24, "b": 28.1}, nan, nan, []string{"a", "b"}},
		},
		"one of three between two that are far apart throws out neither": {
			{0, map[string]float64{"a": 24, "b": 26.5, "c": 29}, 26.5, 5, nil},
		},
		"of three the median goes on while one runs away": {
			{0, map[string]float64{"a": 24, "b": 24.2, "c": 26}, 24.2, 2, nil},
			{1, map[string]float64{"a": 24, "b": 24.2, "c": 40}, 24.1, 0.2, []string{"c"}},
		},
		"two at the limit agree": {
			{0, map[string]float64{"a": 24, "b": 27}, 25.5, 3, nil},
		},
		"a probe that is not read keeps its state": {
			{0, map[string]float64{"a": 24, "b": 24.2, "c": 29}, 24.1, 0.2, []string{"c"}},
			{1, map[string]float64{"a": 24}, 24.1, 0.2, nil},
			{2, map[string]float64{"a": 24, "b": 24.2}, 24.1, 0.2, nil},
		},
		"a probe of another zone is ignored": {
			{0, map[string]float64{"a": 24}, 24, nan, nil},
		},
	} {
		t.Run(name, func(t *testing.T) {
			probes := []string{"a", "b", "c"}
			if name == "a probe of another zone is ignored" {
				probes = []string{"a"}
				steps[0].read["b"] = 40
			}
			z := New(probes, 3*time.Minute, apart)
			for _, x := range steps {
				v, causes := z.Step(minute(x.at), samples(x.read))
				if !same(v.Celsius, x.celsius) || !same(v.Spread, x.spread) || !v.At.Equal(minute(x.at)) {
					t.Errorf("minute %d: %v C, spread %v, want %v, %v", x.at, v.Celsius, v.Spread, x.celsius, x.spread)
				}
				var out []string
				for _, c := range causes {
					if c.Cause != Disagrees {
						t.Errorf("minute %d: %s is left out as %s", x.at, c.Probe, c.Cause)
					}
					out = append(out, c.Probe)
				}
				if !slices.Equal(out, x.out) {
					t.Errorf("minute %d: left out are %v, want %v", x.at, out, x.out)
				}
			}
		})
	}
}

func TestOutliers(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		celsius []float64
		want    []int
	}{
		{nil, nil},
		{[]float64{24}, nil},
		{[]float64{24, 26.9}, nil},
		{[]float64{24, 27.1}, []int{0, 1}},
		{[]float64{24, 28.3, 24.2}, []int{1}},
		{[]float64{24, nan, 28.1, 24.2, 23.8}, []int{2}},
		{[]float64{24, 26.5, 29}, nil}, // the one in the middle agrees with both
		{[]float64{24, 28, 27.5}, []int{0}},
		{[]float64{24, 24.2, nan, 28}, []int{3}},
		{[]float64{24, 24.1, 24.2, 28}, []int{3}},
		{[]float64{21, 24.1, 24.2, 28}, []int{0, 3}},
		{[]float64{24, 25, 26.5, 28.4}, nil},
		{[]float64{24, 24.1, 28, 28.2}, []int{0, 1, 2, 3}},
		{[]float64{nan, 24}, nil},
	} {
		if got := outliers(c.celsius, apart); !slices.Equal(got, c.want) {
			t.Errorf("outliers of %v are %v, want %v", c.celsius, got, c.want)
		}
	}
}

// A zone that is shifted gives at the shifted time what it gave before.
func TestShift(t *testing.T) {
	z := New([]string{"a", "b"}, 3*time.Minute, apart)
	z.Step(minute(0), samples(map[string]float64{"a": 24}))
	z.Shift(time.Hour)
	if v := z.At(minute(63)); v.Celsius != 24 {
		t.Errorf("after three minutes it is %v, want 24", v.Celsius)
	}
	if v := z.At(minute(64)); !math.IsNaN(v.Celsius) {
		t.Errorf("after four minutes it is %v, want none", v.Celsius)
	}
}

// The values of past samples are those of the running zone. An error between them stands
// for itself and changes none of them.
func TestValuesAreThoseOfSteps(t *testing.T) {
	z := New([]string{"a", "b"}, 3*time.Minute, apart)
	var want []Value
	var past []Timed
	for n := range 40 {
		read := map[string]float64{"a": 24 + 0.1*float64(n%7)}
		if n%3 > 0 {
			read["b"] = 25 + float64(n%11)/2
		}
		v, _ := z.Step(minute(n), samples(read))
		want = append(want, v)
		for _, s := range samples(read) {
			past = append(past, Timed{minute(n), s})
		}
	}
	damaged := errors.New("cannot be read")
	history := func(yield func(Timed, error) bool) {
		for i, s := range past {
			if i == 20 && !yield(Timed{}, damaged) || !yield(s, nil) {
				return
			}
		}
	}
	failed := 0
	for v, err := range Values([]string{"a", "b"}, 3*time.Minute, apart, history) {
		if err != nil {
			if failed++; !errors.Is(err, damaged) || !math.IsNaN(v.Celsius) || !math.IsNaN(v.Spread) {
				t.Errorf("the error is %v beside %+v", err, v)
			}
			continue
		}
		if w := want[0]; !v.At.Equal(w.At) || !same(v.Celsius, w.Celsius) || !same(v.Spread, w.Spread) {
			t.Fatalf("a value is %+v, want %+v", v, w)
		}
		want = want[1:]
	}
	if failed != 1 || len(want) > 0 {
		t.Errorf("%d errors, and %d values are missing", failed, len(want))
	}
	for range Values([]string{"a"}, time.Minute, apart, history) {
		break // it must not go on after that
	}
}

func TestMeanSpread(t *testing.T) {
	var m MeanSpread
	add := func(at int, kelvin float64) MeanSpread {
		m.Add(Value{At: minute(at), Spread: kelvin})
		return m
	}
	if add(0, math.NaN()); m.Known() {
		t.Error("one probe alone has a spread")
	}
	if add(0, 1); m.Kelvin != 1 || !m.Known() {
		t.Errorf("the first spread of 1 K gives %v K", m.Kelvin)
	}
	if add(6*60, 3); !same(m.Kelvin, 1.5) {
		t.Errorf("a quarter of a day later 3 K give a mean of %v K, want 1.5", m.Kelvin)
	}
	if add(5*60, 9); !same(m.Kelvin, 1.5) {
		t.Errorf("an older spread moves the mean to %v K", m.Kelvin)
	}
	if m.Shift(time.Hour); !m.At.Equal(minute(7*60)) || !same(m.Kelvin, 1.5) {
		t.Errorf("shifted it is %+v", m)
	}
	if add(48*60, 2); m.Kelvin != 2 {
		t.Errorf("after two days the mean is %v K, want the last spread, 2", m.Kelvin)
	}
}

func reading(celsius, humidity float64, cause sensor.Cause) sensor.Reading {
	return sensor.Reading{Probe: "a", Measurement: sensor.Measurement{Celsius: celsius, Humidity: humidity}, Cause: cause}
}

func TestProbe(t *testing.T) {
	nan := math.NaN()
	maxAge := 3 * time.Minute
	type event struct {
		at    int // minutes
		r     sensor.Reading
		now   int
		want  Status
		fresh bool
	}
	for name, events := range map[string][]event{
		"it never gave a reading": {
			{0, reading(nan, nan, sensor.NoAnswer), 0, Missing, false},
			{1, reading(nan, nan, sensor.BadFrame), 1, Suspect, false},
			{1, reading(nan, nan, sensor.BadFrame), 5, Missing, false},
		},
		"it works, fails and goes": {
			{0, reading(24, 0.5, ""), 0, OK, true},
			{1, reading(24, 0.5, sensor.Jump), 1, Suspect, true},
			{2, reading(nan, nan, sensor.NoAnswer), 2, Suspect, true},
			{3, reading(nan, nan, sensor.NoAnswer), 4, Stale, false},
			{9, reading(24, 0.5, ""), 12, OK, true},
			{9, reading(24, 0.5, ""), 13, Stale, false},
		},
	} {
		t.Run(name, func(t *testing.T) {
			p := NewProbe("a", maxAge)
			for _, e := range events {
				p.Step(minute(e.at), e.r, e.r.Measurement)
				if got := p.Status(minute(e.now)); got != e.want {
					t.Errorf("minute %d: %s, want %s", e.now, got, e.want)
				}
				if got := p.Fresh(minute(e.now)); got != e.fresh {
					t.Errorf("minute %d: fresh is %v, want %v", e.now, got, e.fresh)
				}
			}
		})
	}
}

func TestProbeKeepsWhatItLastGave(t *testing.T) {
	p := NewProbe("a", 3*time.Minute)
	if !math.IsNaN(p.Celsius) || !math.IsNaN(p.Humidity) || p.MeasuresHumidity {
		t.Errorf("before the first reading: %+v", p)
	}
	if p.Step(minute(0), reading(24, math.NaN(), ""), sensor.Measurement{Celsius: 23.5, Humidity: math.NaN()}); p.Celsius != 23.5 || p.MeasuresHumidity {
		t.Errorf("a temperature corrected to 23.5 gives %+v", p)
	}
	p.Step(minute(1), reading(24, 0.5, ""), sensor.Measurement{Celsius: 23.5, Humidity: 0.52})
	if p.Humidity != 0.52 || !p.MeasuresHumidity {
		t.Errorf("a humidity corrected to 0.52 gives %+v", p)
	}
	r := reading(24, math.NaN(), "")
	r.Lacking = errors.New("no frame")
	p.Step(minute(2), r, r.Measurement)
	if !math.IsNaN(p.Humidity) || !p.MeasuresHumidity || p.HumidityError == nil {
		t.Errorf("a reading whose humidity failed gives %+v", p)
	}
	if believed := p.Step(minute(3), reading(90, math.NaN(), sensor.NoAnswer), sensor.Measurement{}); believed || p.Celsius != 24 || p.Errors[sensor.NoAnswer] != 1 || !p.LastAnswered.Equal(minute(2)) || !p.LastTried.Equal(minute(3)) {
		t.Errorf("a failed read gives %+v", p)
	}
	p.LeaveOut(Disagrees)
	if p.Cause != Disagrees || p.Errors[Disagrees] != 1 {
		t.Errorf("left out it is %+v", p)
	}
	if got := p.Silence(minute(10), minute(-5)); got != 8*time.Minute {
		t.Errorf("at minute 10 it is silent for %v, want 8m", got)
	}
	if got := p.Silence(minute(10), minute(5)); got != 5*time.Minute {
		t.Errorf("five minutes after the start it is silent for %v, want 5m", got)
	}
	p.Shift(time.Hour)
	if !p.LastBelieved.Equal(minute(62)) || !p.LastTried.Equal(minute(63)) || !p.LastAnswered.Equal(minute(62)) || !p.Earlier.IsZero() {
		t.Errorf("shifted it is %+v", p)
	}
	p.Earlier = minute(70)
	if !p.Heard().Equal(minute(70)) {
		t.Errorf("it was heard at %v", p.Heard())
	}
}

func TestExtreme(t *testing.T) {
	probe := func(name string, at int, celsius float64) *Probe {
		p := NewProbe(name, 3*time.Minute)
		p.Step(minute(at), reading(celsius, math.NaN(), ""), sensor.Measurement{Celsius: celsius, Humidity: math.NaN()})
		return p
	}
	all := []*Probe{probe("cool", 10, 22), probe("warm", 10, 26), probe("old", 5, 40), probe("silent", 5, 2)}
	for _, c := range []struct {
		highest bool
		value   func(*Probe) float64
		want    string
		v       float64
	}{{true, Celsius, "warm", 26}, {false, Celsius, "cool", 22}, {true, Humidity, "", math.NaN()}} {
		v, p := Extreme(all, minute(11), c.value, c.highest)
		name := ""
		if p != nil {
			name = p.Name
		}
		if name != c.want || !same(v, c.v) {
			t.Errorf("highest %v: %v of %q, want %v of %q", c.highest, v, name, c.v, c.want)
		}
	}
}
