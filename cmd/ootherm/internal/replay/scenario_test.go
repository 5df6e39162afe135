package replay_test

import (
	"fmt"
	"io"
	"math"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert/ratelimit"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/cmd/ootherm/internal/replay"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/recording"
)

// scenario is made-up temperatures of one zone or several, and the messages that they may
// lead to. Before it, the zones are as they always are for some days, for the drift to learn.
type scenario struct {
	zones   int             // 0: one
	bands   string          // of each zone, as the configuration writes them; empty: the usual ones
	zone    string          // the station's time zone; empty: UTC
	quiet   ratelimit.Hours // of the recipient
	begins  time.Time       // zero: 20 May 2026 00:00 UTC
	learned time.Duration   // before that; 0: six days
	lasts   time.Duration   // how long messages count
	usual   func(at time.Time) float64
	change  func(zone int, since time.Duration) (kelvin float64, ok bool) // on top of the usual; false: the probe gives nothing
	humid   func(since time.Duration) float64                             // a ratio; nil: the probe measures none
}

// usualBands are those of a room for crested geckos, rounded to whole degrees Celsius. Their
// delays are the defaults of the configuration.
const usualBands = `wanted = { low = "22C", high = "25C" }
safe = { low = "20C", high = "27C" }`

// Intervals of the rows. A probe is read every ten seconds where nothing else is configured.
// A row each half minute is the longest that still counts as the present value.
const (
	pollInterval = 10 * time.Second
	rowInterval  = 30 * time.Second
)

var scenarioBegins = time.Date(2026, 5, 20, 0, 0, 0, 0, time.UTC)

// roomCelsius is a heated room: 23.5 C in the middle, half a degree from night to afternoon.
func roomCelsius(at time.Time) float64 {
	hours := at.Sub(at.Truncate(24 * time.Hour)).Hours()
	return 23.5 + 0.25*math.Sin(2*math.Pi*(hours-9)/24)
}

// sensorNoise is what a sensor adds by itself, at most 0.04 K either way, the same for the
// same moment.
func sensorNoise(zone int, at time.Time) float64 {
	x := uint64(at.Unix())*0x9E3779B97F4A7C15 + uint64(zone+1)*0xBF58476D1CE4E5B9
	x ^= x >> 31
	x *= 0x94D049BB133111EB
	x ^= x >> 29
	return 0.04 * (2*float64(x>>11)/(1<<53) - 1)
}

func (s scenario) withDefaults() scenario {
	s.zones = max(s.zones, 1)
	if s.bands == "" {
		s.bands = usualBands
	}
	if s.begins.IsZero() {
		s.begins = scenarioBegins
	}
	if s.learned == 0 {
		s.learned = 6 * 24 * time.Hour
	}
	if s.usual == nil {
		s.usual = roomCelsius
	}
	return s
}

// scenarioRows makes the rows of a scenario as they are read.
type scenarioRows struct {
	scenario
	at   time.Time
	zone int
}

func (r *scenarioRows) Next() (recording.Row, error) {
	for {
		if r.zone == r.zones {
			r.zone, r.at = 0, r.at.Add(rowInterval)
		}
		since := r.at.Sub(r.begins)
		if since > r.lasts {
			return recording.Row{}, io.EOF
		}
		zone := r.zone
		r.zone++
		kelvin, ok := 0.0, true
		if since >= 0 {
			kelvin, ok = r.change(zone, since)
		}
		if !ok {
			continue
		}
		c := r.usual(r.at) + kelvin + sensorNoise(zone, r.at)
		m := sensor.Measurement{Celsius: math.Round(c*100) / 100, Humidity: math.NaN()}
		if r.humid != nil {
			m.Humidity = math.Round(r.humid(since)*1000) / 1000
		}
		return recording.Row{At: r.at, Probe: zoneName(zone), Measurement: m}, nil
	}
}

// zoneName is the name of a zone and of its probe.
func zoneName(zone int) string {
	if zone == 0 {
		return "room"
	}
	return fmt.Sprintf("room %d", zone+1)
}

// run gives the messages of a scenario that one recipient gets from its beginning on.
func (s scenario) run(t *testing.T) []replay.Message {
	t.Helper()
	s = s.withDefaults()
	var b strings.Builder
	fmt.Fprintf(&b, "[station]\nname = \"house\"\nevery = %q\n", pollInterval)
	if s.zone != "" {
		fmt.Fprintf(&b, "time_zone = %q\n", s.zone)
	}
	for i := range s.zones {
		fmt.Fprintf(&b, "[[probe]]\nname = %[1]q\n[[zone]]\nname = %[1]q\nkind = \"room\"\nprobes = [%[1]q]\n%[2]s\n", zoneName(i), s.bands)
	}
	c, err := config.ParseReplay("scenario", []byte(b.String()), probeconfig.Drivers())
	if err != nil {
		t.Fatal(err)
	}
	p, err := plan.FromConfig(c)
	if err != nil {
		t.Fatal(err)
	}
	start := s.begins.Add(-s.learned)
	r := replay.Replay{Plan: p, Rows: &scenarioRows{scenario: s, at: start}, Start: start, Until: s.begins.Add(s.lasts),
		RateLimit: ratelimit.Limit{Quiet: s.quiet, Where: p.Location}}
	result, err := r.Run(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for i, m := range result.Messages {
		if !m.At.Before(s.begins) {
			return result.Messages[i:]
		}
	}
	return nil
}

// cools is a heater that died: the zone goes towards a temperature below the usual one.
func cools(kelvin float64, over time.Duration) func(int, time.Duration) (float64, bool) {
	return func(_ int, since time.Duration) (float64, bool) {
		return -kelvin * (1 - math.Exp(-since.Hours()/over.Hours())), true
	}
}

// dips is a door or window that is open for a while, each time after an interval: the air
// loses some degrees, and comes back over another time.
func dips(kelvin float64, open, over, each time.Duration) func(int, time.Duration) (float64, bool) {
	return func(_ int, since time.Duration) (float64, bool) {
		since %= each
		since -= 10 * time.Hour
		switch {
		case since < 0:
			return 0, true
		case since < open:
			return -kelvin * since.Seconds() / open.Seconds(), true
		}
		return -kelvin * math.Exp(-(since-open).Seconds()/over.Seconds()), true
	}
}

// swings is a thermostat that hunts: its swing grows from nothing to an amplitude over a time.
func swings(offset, amplitude float64, period, grows time.Duration) func(int, time.Duration) (float64, bool) {
	return func(_ int, since time.Duration) (float64, bool) {
		share := 1.0
		if grows > 0 {
			share = min(1, since.Hours()/grows.Hours())
		}
		return offset + share*amplitude*math.Sin(2*math.Pi*since.Hours()/period.Hours()), true
	}
}

// setback is a room that is 3 K cooler at night, by local time; it takes some 40 minutes.
func setback(where *time.Location) func(time.Time) float64 {
	const tau = 20.0 // min; after two of them 2.6 K of the 3 K are done
	return func(at time.Time) float64 {
		l := at.In(where)
		minutes := float64(l.Hour()*60+l.Minute()) + float64(l.Second())/60
		switch {
		case minutes >= 22*60:
			return 21.5 + 3*math.Exp(-(minutes-22*60)/tau)
		case minutes >= 7*60:
			return 24.5 - 3*math.Exp(-(minutes-7*60)/tau)
		}
		return 21.5
	}
}

const setbackBands = `wanted = [{ from = "22:00", to = "07:00", low = "20C", high = "23C" }, { low = "23C", high = "26C" }]
safe = { low = "18C", high = "28C" }`

var newYork = func() *time.Location {
	l, err := time.LoadLocation("America/New_York")
	if err != nil {
		panic(err)
	}
	return l
}()

func still(int, time.Duration) (float64, bool) { return 0, true }

const day = 24 * time.Hour

// scenarios are those with a budget of messages, with the count before there were episodes.
var scenarios = []struct {
	name string
	scenario
	before, most int
}{
	{"thermostat hunting, growing to 2.5 K, 96 h", scenario{lasts: 96 * time.Hour, learned: 2 * day, change: swings(0, 2.5, time.Hour, 72*time.Hour)}, 183, 12},
	{"loose plug, 10 min on and off, 24 h", scenario{lasts: day, learned: time.Hour, change: func(_ int, since time.Duration) (float64, bool) {
		return 0, since/(10*time.Minute)%2 == 1
	}}, 120, 6},
	{"0.45 K around the limit in 45 min swings, 24 h", scenario{lasts: day, usual: func(time.Time) float64 { return 23.5 }, learned: 2 * day, change: swings(-1.5, 0.45, 45*time.Minute, 0)}, 64, 5},
	{"hunting slowly (3 h), 2.5 K, 96 h", scenario{lasts: 96 * time.Hour, learned: 2 * day, change: swings(0, 2.5, 3*time.Hour, 0)}, 139, 12},
	{"20 zones cool together, 12 h", scenario{zones: 20, lasts: 12 * time.Hour, learned: 8 * time.Hour, change: func(zone int, since time.Duration) (float64, bool) {
		return cools(12, time.Duration(240+6*zone)*time.Minute)(zone, since)
	}}, 74, 20},
	{"window opened 10 min on five days", scenario{lasts: 5 * day, change: dips(3, 10*time.Minute, 40*time.Minute, day)}, 12, 5},
	{"door opened 15 min weekly, five weeks", scenario{lasts: 35 * day, change: dips(3, 15*time.Minute, 40*time.Minute, 7*day)}, 12, 5},
	{"setback of 3 K with bands by hour, 10 d", scenario{bands: setbackBands, lasts: 10 * day, usual: setback(time.UTC), change: still}, 0, 0},
	{"the same, its first 3 d", scenario{bands: setbackBands, lasts: 3 * day, learned: time.Minute, usual: setback(time.UTC), change: still}, 4, 0},
	{"clock change in a setback room", scenario{bands: setbackBands, zone: "America/New_York", begins: time.Date(2026, 3, 8, 5, 0, 0, 0, time.UTC), learned: 10 * day,
		lasts: 3 * day, usual: setback(newYork), change: still}, 8, 0},
}

// Each scenario leads to no more messages than its budget allows; what is wrong is told.
func TestScenarioBudgets(t *testing.T) {
	t.Logf("%-48s %6s %4s %4s", "scenario", "before", "most", "now")
	for _, c := range scenarios {
		got := c.run(t)
		t.Logf("%-48s %6d %4d %4d", c.name, c.before, c.most, len(got))
		for _, m := range got {
			t.Logf("    %s %-8s %s", m.At.Format("02 15:04"), m.Priority, m.Subject)
		}
		if len(got) > c.most || len(got) == 0 && c.most > 5 {
			t.Errorf("%s: %d messages, want at most %d", c.name, len(got), c.most)
		}
	}
}

// firstCalls are real failures, with the latest time of their first message: that before there
// were episodes, or half of the time until the safe limit's alarm.
var firstCalls = []struct {
	name string
	scenario
	first time.Duration // after the failure began
}{
	{"heater dies", scenario{lasts: 3 * time.Hour, learned: 2 * day, change: cools(10, 4*time.Hour)}, 13 * time.Minute},
	{"heater stuck on", scenario{lasts: 3 * time.Hour, learned: 2 * day, change: func(z int, d time.Duration) (float64, bool) {
		k, ok := cools(10, 3*time.Hour)(z, d)
		return -k, ok
	}}, 13 * time.Minute},
	// It passes the safe limit after 58 min; that alarm alone would call after 68.
	{"heater dies 0.5 K outside wanted", scenario{lasts: 3 * time.Hour, usual: func(time.Time) float64 { return 21.5 }, change: cools(10, 6*time.Hour)}, 34 * time.Minute},
	{"probe unplugged", scenario{lasts: time.Hour, learned: time.Hour, change: func(int, time.Duration) (float64, bool) { return 0, false }}, 6 * time.Minute},
}

// The first message of a real failure comes no later than without episodes, and what passes
// the safe limit is critical before it does.
func TestFirstCallIsNotLater(t *testing.T) {
	for _, c := range firstCalls {
		got := c.run(t)
		if len(got) == 0 || got[0].At.After(scenarioBegins.Add(c.first)) {
			t.Errorf("%s: %d messages, the first not within %v", c.name, len(got), c.first)
			continue
		}
		urgent := false
		for _, m := range got {
			urgent = urgent || m.Priority == "critical"
			if m.Episode == nil || *m.Episode != *got[0].Episode {
				t.Errorf("%s: %s is of another episode", c.name, m.Subject)
			}
		}
		if !urgent {
			t.Errorf("%s: nothing is critical", c.name)
		}
	}
}

// A failure that is mended is one story: it begins, gets critical, is safe again, holds where it
// is not yet usual, and is over. What holds wakes nobody.
func TestMendedFailure(t *testing.T) {
	const failed, warms = 3 * time.Hour, time.Hour
	lowest := -10 * (1 - math.Exp(-failed.Hours()/4))
	s := scenario{lasts: 8 * time.Hour, change: func(zone int, since time.Duration) (float64, bool) {
		if since < failed {
			return cools(10, 4*time.Hour)(zone, since)
		}
		return lowest * math.Exp(-(since-failed).Hours()/warms.Hours()), true
	}}
	got := s.run(t)
	want := []struct{ priority, subject string }{
		{"warning", "getting too cold"}, {"critical", "too cold in"}, {"critical", "too cold: "}, {"critical", "too cold: "},
		{"critical", "safe again"}, {"warning", "holds at"}, {"critical", "back in order"},
	}
	if len(got) != len(want) {
		t.Errorf("%d messages, want %d", len(got), len(want))
	}
	for i, m := range got {
		if i < len(want) && (m.Priority != want[i].priority || !strings.Contains(m.Subject, want[i].subject)) {
			t.Errorf("%s %s %q, want %s %q", m.At.Format("15:04"), m.Priority, m.Subject, want[i].priority, want[i].subject)
		}
		if *m.Episode != *got[0].Episode {
			t.Errorf("%s: another episode", m.Subject)
		}
	}
}

// movedTo is a probe that is moved to a place so many kelvins warmer, whose zone fails later.
func movedTo(kelvin float64, failsAfter time.Duration, fails func(int, time.Duration) (float64, bool)) func(int, time.Duration) (float64, bool) {
	return func(zone int, since time.Duration) (float64, bool) {
		if since < failsAfter {
			return kelvin, true
		}
		more, ok := fails(zone, since-failsAfter)
		return kelvin + more, ok
	}
}

// A probe that was moved and holds is not critical before it is past the safe limit. It is
// critical past that, and where it goes on towards it.
func TestMovedProbeIsNotUrgent(t *testing.T) {
	for _, c := range []struct {
		kelvin float64
		fails  time.Duration // the heater, after so long; 0: it does not
		urgent time.Duration // critical within so long; 0: never
	}{
		{1.2, 0, 0}, {1.8, 0, 0}, {2.4, 0, 0}, {3, 0, 0}, {-1.2, 0, 0}, {-2, 0, 0}, {-3, 0, 0},
		{4, 0, 11 * time.Minute}, {-4.2, 0, 11 * time.Minute},
		{-1.2, 2 * time.Hour, 150 * time.Minute}, {-2, 5 * time.Hour, 330 * time.Minute},
	} {
		s := scenario{lasts: 10 * time.Hour, learned: 2 * day, change: movedTo(c.kelvin, 24*time.Hour, nil)}
		if c.fails > 0 {
			s.change = movedTo(c.kelvin, c.fails, cools(10, 4*time.Hour))
		}
		got, urgent := s.run(t), time.Time{}
		for _, m := range got {
			if m.Priority == "critical" && urgent.IsZero() {
				urgent = m.At
			}
		}
		switch {
		case len(got) == 0 || !strings.Contains(got[0].Body, "jumped"):
			t.Errorf("moved by %g K: %d messages, and none tells that it jumped", c.kelvin, len(got))
		case c.urgent == 0 && !urgent.IsZero():
			t.Errorf("moved by %g K: critical at %s", c.kelvin, urgent)
		case c.urgent > 0 && (urgent.IsZero() || urgent.After(scenarioBegins.Add(c.urgent)) || urgent.Before(scenarioBegins.Add(c.fails))):
			t.Errorf("moved by %g K: critical at %s, want within %v", c.kelvin, urgent, c.urgent)
		}
	}
}

// A probe that was moved is told as that; a heater that died is not.
func TestMovedProbe(t *testing.T) {
	moved := scenario{lasts: 3 * time.Hour, learned: 2 * day, change: func(int, time.Duration) (float64, bool) { return 1.8, true }}
	got := moved.run(t)
	if len(got) == 0 || len(got) > 3 || !strings.Contains(got[0].Body, "Room jumped up by 1.8 °C at 00:0") || !strings.Contains(got[0].Body, "Probe moved or unplugged, or a door open?") ||
		!strings.Contains(got[0].Body, "First: See that the probe lies where it belongs") || strings.Contains(got[0].Body, "Last ten minutes") {
		t.Errorf("%d messages: %+v", len(got), got)
	}
	for _, c := range firstCalls {
		for _, m := range c.run(t) {
			if strings.Contains(m.Body, "jumped") {
				t.Errorf("%s: it says\n%s", c.name, m.Body)
			}
		}
	}
}

// On the first evening of a setback by the hour a heater that dies is critical an hour and a half before
// the safe limit is passed, though the band's change explains the beginning of the fall.
func TestFailureOnTheFirstEvening(t *testing.T) {
	const evening = 22 * time.Hour
	timer, dies := setback(time.UTC), cools(10, 4*time.Hour)
	got := scenario{bands: setbackBands, lasts: 27 * time.Hour, learned: time.Minute, usual: timer, change: func(zone int, since time.Duration) (float64, bool) {
		if since < evening {
			return 0, true
		}
		fallen, ok := dies(zone, since-evening)
		return 24.5 - timer(scenarioBegins.Add(since)) + fallen, ok
	}}.run(t)
	passes := scenarioBegins.Add(evening + 252*time.Minute) // 18 C
	for _, m := range got {
		if m.Priority == "critical" {
			if left := passes.Sub(m.At); left < 90*time.Minute || m.At.Before(scenarioBegins.Add(evening)) {
				t.Errorf("%s: %v before it passes the safe limit", m.Subject, left)
			}
			return
		}
	}
	t.Errorf("%d messages, none critical", len(got))
}
