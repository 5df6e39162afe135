package station_test

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/sensor"
)

// moist gives the station a reading of every probe, with humidity as told: NaN is none,
// and lacking is why.
func (b *bench) moist(at time.Time, humidity map[string]float64, lacking error) {
	b.t.Helper()
	var all []sensor.Reading
	for i, probe := range []string{"air", "dummy", "warm"} {
		h, ok := humidity[probe]
		if !ok {
			h = math.NaN()
		}
		m := sensor.Measurement{Celsius: 23.3 + 0.01*float64((at.Minute()+i)%3), Humidity: h}
		if probe == "warm" {
			m.Celsius += 3.7
		}
		if ok && math.IsNaN(h) {
			m.Lacking = lacking
		}
		all = append(all, sensor.Reading{Probe: probe, Measurement: m, Stamp: sensor.Stamp{Boot: b.options.Boot.Number, Uptime: at.Sub(began)}})
	}
	if err := b.Observe(b.t.Context(), all); err != nil {
		b.t.Fatal(err)
	}
}

// damp is the silent plan with a humidity band in the room.
func damp(t *testing.T) plan.Plan {
	p := silent(t)
	p.Zones[0].Humidity = &plan.Band{Low: ptr(0.4), High: ptr(0.9), Deadband: 0.02, OnDelay: 30 * time.Minute, OffDelay: 10 * time.Minute}
	return p
}

// A probe that goes on as a thermometer is told, once its humidity has been away for
// as long as a silent probe may be: once, and again as seldom as any warning, through
// restarts, until it is back.
func TestAHumidityThatBreaksIsTold(t *testing.T) {
	nan := math.NaN()
	for name, c := range map[string]struct {
		now     float64
		lacking error
		after   time.Duration // of its first lacking reading until it is told
	}{
		"missing":          {nan, sensor.Fail(sensor.NoAnswer, "the file is empty"), 5 * time.Minute},
		"an empty cell":    {nan, nil, 5 * time.Minute},
		"it cannot be":     {33.3, nil, 12 * time.Minute}, // after a start two frames are refused whole, and two believe again
		"a nonsense below": {-5, nil, 12 * time.Minute},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBench(t, damp(t))
			at := began
			h := map[string]float64{"air": 0.5, "warm": 0.8}
			step := func(minutes int) {
				for range minutes {
					at = at.Add(time.Minute)
					b.moist(at, h, c.lacking)
				}
			}
			step(30)
			h["air"] = c.now
			broke := at.Add(time.Minute)
			step(3)
			b.start(at) // the delay goes on through a restart
			step(57)
			b.start(at)
			step(11 * 60)
			all := b.waiting()
			if len(all) != 2 { // the second after six hours
				t.Fatalf("%d messages in twelve hours, want 2: %v", len(all), subjects(all))
			}
			m := all[0]
			if m.Alarm != "humidity-silent.warning/room/probe:air" || m.Subject != "○ ROOM AIR gives no humidity" {
				t.Errorf("told as %s: %s", m.Alarm, m.Subject)
			}
			if d := m.At.Sub(broke); d < 5*time.Minute || d > c.after {
				t.Errorf("told after %v, want from 5 min to %v", d, c.after)
			}
			if c.lacking != nil && !strings.Contains(m.Body, "it does not answer") || !strings.Contains(m.Body, "Its temperature goes on: 7") {
				t.Errorf("it says\n%s", m.Body)
			}
			h["air"] = 0.5
			step(45)
			all = b.waiting()
			if last := all[len(all)-1]; len(all) != 3 || !last.Over || !strings.Contains(last.Body, "It gave no humidity from ") {
				t.Errorf("its end: %v\n%s", subjects(all), last.Body)
			}
			for _, z := range b.Now().Zones {
				for _, p := range z.Probes {
					if p.Status != "ok" {
						t.Errorf("%s is %s", p.Probe, p.Status)
					}
				}
			}
		})
	}
}

// What never measured humidity lacks none, whatever its driver might have given; nor
// does a probe that says nothing at all, which is told as silent alone.
func TestAThermometerLacksNoHumidity(t *testing.T) {
	b := newBench(t, damp(t))
	at := began
	for range 600 {
		at = at.Add(time.Minute)
		b.moist(at, nil, nil)
	}
	b.start(at)
	for range 60 {
		at = at.Add(time.Minute)
		b.moist(at, nil, nil)
	}
	if all := b.waiting(); len(all) != 0 {
		t.Errorf("told: %v", subjects(all))
	}
	for i := range 120 {
		at = at.Add(time.Minute)
		if i < 30 {
			b.moist(at, map[string]float64{"air": 0.5, "dummy": 0.5, "warm": 0.5}, nil)
		} else if err := b.Tick(t.Context(), at); err != nil {
			t.Fatal(err)
		}
	}
	for _, m := range b.waiting() {
		if strings.HasPrefix(m.Alarm, "humidity-silent") {
			t.Errorf("a probe that is silent: %s", m.Subject)
		}
	}
}

// It broke while the station was off: what the readings before then had is known.
func TestAHumidityThatBrokeWhileTheStationWasOff(t *testing.T) {
	for name, lacking := range map[string]error{"it says why": errors.New("open: no such file"), "it is as if it never was": nil} {
		t.Run(name, func(t *testing.T) {
			b := newBench(t, damp(t))
			at := began
			for range 60 {
				at = at.Add(time.Minute)
				b.moist(at, map[string]float64{"air": 0.5, "warm": 0.8}, nil)
			}
			at = at.Add(50 * time.Hour)
			b.start(at)
			for range 30 {
				at = at.Add(time.Minute)
				b.moist(at, map[string]float64{"air": math.NaN(), "warm": 0.8}, lacking)
			}
			if n := len(b.raised("humidity-silent")); n != 1 {
				t.Errorf("raised %d times, want once: %v", n, subjects(b.waiting()))
			}
		})
	}
}

// Where no band asks for it, it is a notice; several that go at once are one message.
func TestHumidityThatNobodyWatchesIsANotice(t *testing.T) {
	p := damp(t)
	p.Zones[0].Probes = []string{"air", "dummy"}
	b := newBench(t, p)
	at := began
	for i := range 90 {
		at = at.Add(time.Minute)
		h := map[string]float64{"air": 0.5, "dummy": 0.5, "warm": 0.8}
		if i >= 30 {
			h = map[string]float64{"air": math.NaN(), "dummy": math.NaN(), "warm": math.NaN()}
		}
		b.moist(at, h, sensor.Fail(sensor.BadFrame, "garbled"))
	}
	all := b.waiting()
	if len(all) != 1 || !strings.HasSuffix(all[0].Subject, ", and 2 more") || all[0].Priority != alert.Warning || !strings.Contains(all[0].Body, "INCUBATOR WARM gives no humidity (notice)") {
		t.Errorf("told: %v", subjects(all))
	}
}
