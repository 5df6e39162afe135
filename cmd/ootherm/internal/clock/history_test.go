package clock_test

import (
	"math"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/clock"
	"example.com/ootherm/cmd/ootherm/internal/clock/clocktest"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/history"
)

// In these tests a machine measures every 10 s while its clock steps. The history must hold
// all readings and the whole exposure. The temperature is steady, so the exposure's cells
// are the measured time.

const every = 10 * time.Second

var (
	built   = time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	started = time.Date(2026, 4, 1, 12, 0, 0, 0, time.UTC)
)

// machine is a simulated machine that stores readings.
type machine struct {
	t        *testing.T
	clock    *clocktest.Simulated
	store    *history.Store
	boot     history.Boot
	dating   clock.Dating
	measured int // readings
	redated  int // times
}

func (m *machine) start() {
	m.t.Helper()
	floor := clock.Floor{NotBefore: built, Last: m.store.EndBefore(m.boot.Number + 1)}
	r, err := m.clock.Read()
	if err != nil {
		m.t.Fatal(err)
	}
	m.dating = clock.Begin(r, floor)
	d := m.dating.Date()
	if m.boot, err = m.store.Begin(m.clock.Boot(), d.Start, d.Bound, d.Synchronised); err != nil {
		m.t.Fatal(err)
	}
}

func (m *machine) run(d time.Duration) {
	m.t.Helper()
	for ; d > 0; d -= every {
		r, err := m.clock.Read()
		if err != nil {
			m.t.Fatal(err)
		}
		next, again := m.dating.Observe(r)
		if m.dating = next; again {
			m.redated++
			d := next.Date()
			if err := m.store.Date(m.boot.Number, d.Start, d.Bound, d.Synchronised); err != nil {
				m.t.Fatal(err)
			}
		}
		err = m.store.Append([]sensor.Reading{{
			Probe: "p", Stamp: sensor.Stamp{Boot: m.boot.Number, Uptime: r.Uptime},
			Measurement: sensor.Measurement{Celsius: 24, Humidity: math.NaN()},
		}})
		if err != nil {
			m.t.Fatal(err)
		}
		m.measured++
		m.clock.Advance(every)
	}
}

func (m *machine) points() []history.Point {
	m.t.Helper()
	var out []history.Point
	for p, err := range m.store.Range("p", time.Unix(0, 0), time.Unix(1<<34, 0)) {
		if err != nil {
			m.t.Fatal(err)
		}
		out = append(out, p)
	}
	return out
}

// wantAll checks that every reading is stored, in order, and none before the build.
func (m *machine) wantAll() {
	m.t.Helper()
	points := m.points()
	if len(points) != m.measured {
		m.t.Errorf("%d readings were measured, %d are stored", m.measured, len(points))
	}
	for i, p := range points {
		if p.At.Before(built) || i > 0 && !p.At.After(points[i-1].At) {
			m.t.Fatalf("reading %d is at %s", i, p.At)
		}
	}
}

func TestClockSteps(t *testing.T) {
	const hour, year = time.Hour, 365 * 24 * time.Hour
	for name, c := range map[string]struct {
		script            func(*machine)
		redated           int
		measured, missing time.Duration
	}{
		"+10 min": {func(m *machine) {
			m.run(hour)
			m.clock.Step(10 * time.Minute)
			m.run(hour)
			m.clock.Synchronise()
			m.run(hour)
		},
			0, 3*hour - every, 0},
		"-12 h": {func(m *machine) {
			m.run(hour)
			m.clock.Step(-12 * hour)
			m.run(hour)
			m.clock.Synchronise()
			m.run(hour)
		},
			0, 3*hour - every, 0},
		"+1 year": {func(m *machine) { m.run(hour); m.clock.Step(year); m.run(hour); m.clock.Synchronise(); m.run(hour) },
			0, 3*hour - every, 0},
		"boot without time": {func(m *machine) {
			m.run(10 * hour)
			m.clock.Reboot(2 * hour)
			m.clock.SetWall(time.Unix(0, 0))
			m.start()
			m.run(hour)
			m.clock.Synchronise()
			m.run(9 * hour)
		}, 1, 20*hour - 2*every, 2*hour + every},
		"boot with the time it had, and a step on the way": {func(m *machine) {
			m.run(hour)
			m.clock.Reboot(5 * hour)
			m.start()
			m.run(hour)
			m.clock.Step(5 * time.Minute)
			m.run(5 * time.Minute)
			m.clock.Synchronise()
			m.run(hour - 5*time.Minute)
		}, 1, 3*hour - 2*every, 5*hour + every},
	} {
		t.Run(name, func(t *testing.T) {
			m := &machine{t: t, clock: clocktest.NewSimulated(started), store: history.Memory(history.Options{})}
			m.start()
			c.script(m)
			m.wantAll()
			if m.redated != c.redated {
				t.Errorf("the date changed %d times, want %d", m.redated, c.redated)
			}
			x, first, last, err := m.store.Exposure("p", time.Unix(0, 0), m.clock.True().Add(hour), nil)
			if err != nil {
				t.Fatal(err)
			}
			if x.Measured() != c.measured || x.Missing() != c.missing {
				t.Errorf("measured %s, missing %s; want %s, %s", x.Measured(), x.Missing(), c.measured, c.missing)
			}
			if !first.At.Equal(started) || !last.At.Equal(m.clock.True().Add(-every)) {
				t.Errorf("from %s to %s, want %s to %s", first.At, last.At, started, m.clock.True().Add(-every))
			}
		})
	}
}

func TestAllReadingsAreStoredWithoutTheTime(t *testing.T) {
	m := &machine{t: t, clock: clocktest.NewSimulated(started), store: history.Memory(history.Options{})}
	for range 3 {
		m.clock.Reboot(time.Hour)
		m.clock.SetWall(time.Unix(0, 0))
		m.start()
		m.run(time.Hour)
	}
	points := m.points()
	if len(points) != m.measured {
		t.Errorf("%d readings were measured, %d are stored", m.measured, len(points))
	}
	for i, p := range points {
		if p.At.Before(built) || i > 0 && p.At.Before(points[i-1].At) {
			t.Fatalf("reading %d is at %s", i, p.At)
		}
	}
	for _, b := range m.store.Boots() {
		if b.Synchronised || b.Bound != clock.Unbounded {
			t.Errorf("boot %d is synchronised %t, within %s", b.Number, b.Synchronised, b.Bound)
		}
	}
}
