package replay_test

import (
	"math"
	"strings"
	"testing"
	"time"
)

// cycling is a room whose thermostat turns the heater on every 25 minutes.
func cycling(at time.Time) float64 {
	return roomCelsius(at) + 0.15*math.Sin(2*math.Pi*float64(at.Unix()%1500)/1500)
}

// criticals are the critical messages that foretell the safe limit.
func criticals(t *testing.T, s scenario) (n int) {
	t.Helper()
	for _, m := range s.run(t) {
		t.Logf("    %s %-8s %s", m.At.Format("02 15:04"), m.Priority, m.Subject)
		if m.Priority == "critical" && strings.Contains(m.Subject, " in ") && !strings.Contains(m.Subject, "back in order") {
			n++
		}
	}
	return n
}

// What was foretold of the safe limit wakes nobody once the value has come back, while a jump
// is not yet told from a failure, or again each time that a cycle touches the limit.
func TestUrgentWarningIsOfThePresent(t *testing.T) {
	for _, c := range []struct {
		name string
		scenario
		most int
	}{
		{"window open for 10 min", scenario{lasts: 14 * time.Hour, usual: cycling, change: dips(3, 10*time.Minute, 15*time.Minute, day)}, 0},
		{"probe in another place for two hours", scenario{lasts: 14 * time.Hour, usual: cycling, change: func(_ int, since time.Duration) (float64, bool) {
			if since > 2*time.Hour && since < 4*time.Hour {
				return -2.5, true
			}
			return 0, true
		}}, 0},
		{"a fall of 0.1 K an hour", scenario{lasts: 36 * time.Hour, usual: cycling, change: func(_ int, since time.Duration) (float64, bool) {
			return -0.1 * since.Hours(), true
		}}, 2},
	} {
		t.Logf("%s:", c.name)
		if n := criticals(t, c.scenario); n > c.most {
			t.Errorf("%s: %d critical messages foretell the safe limit, want at most %d", c.name, n, c.most)
		}
	}
}

// A probe that comes back from another place has not grown too warm, also where the afternoon
// warms the room.
func TestReturnFromAnotherPlace(t *testing.T) {
	warming := func(at time.Time) float64 {
		hours := at.Sub(at.Truncate(24 * time.Hour)).Hours()
		return 23.5 + 0.4*math.Sin(2*math.Pi*(hours-9.6)/24) + 0.15*math.Sin(2*math.Pi*float64(at.Unix()%1500)/1500)
	}
	for _, c := range []struct {
		from, away time.Duration
		usual      func(time.Time) float64
	}{
		{2 * time.Hour, time.Hour, cycling}, {2 * time.Hour, 2 * time.Hour, cycling}, {2 * time.Hour, 5 * time.Hour, cycling},
		{12 * time.Hour, time.Hour, warming}, {12 * time.Hour, 2 * time.Hour, warming}, {8 * time.Hour, 5 * time.Hour, warming},
	} {
		s := scenario{lasts: 60 * time.Hour, usual: c.usual, change: func(_ int, since time.Duration) (float64, bool) {
			if since > c.from && since < c.from+c.away {
				return -2.5, true
			}
			return 0, true
		}}
		for _, m := range s.run(t) {
			t.Logf("    %s %-8s %s", m.At.Format("02 15:04"), m.Priority, m.Subject)
			if strings.Contains(m.Subject, "too warm") {
				t.Errorf("away for %v from %v on: %s %s", c.away, c.from, m.At.Format("02 15:04"), m.Subject)
			}
		}
	}
}

const incubatorBands = `wanted = { low = "29C", high = "31C" }
safe = { low = "27C", high = "33C" }`

// An incubator that runs away passes the safe limit within minutes: it is told while there is
// time, and the time that is told is the time there is.
func TestRunaway(t *testing.T) {
	for _, perMinute := range []float64{0.05, 0.1, 0.2} {
		s := scenario{bands: incubatorBands, lasts: 3 * time.Hour, learned: 2 * day, usual: func(at time.Time) float64 {
			return 30 + 0.05*math.Sin(2*math.Pi*float64(at.Unix()%1200)/1200)
		}, change: func(_ int, since time.Duration) (float64, bool) { return min(15, perMinute*since.Minutes()), true }}
		passes := scenarioBegins.Add(time.Duration(3 / perMinute * float64(time.Minute)))
		got := s.run(t)
		for _, m := range got {
			t.Logf("    %s %-8s %s", m.At.Format("15:04:05"), m.Priority, m.Subject)
		}
		if len(got) == 0 || passes.Sub(got[0].At) < passes.Sub(scenarioBegins)/2 {
			t.Errorf("%g K a minute: %d messages, the first not before half of the time was gone", perMinute, len(got))
		}
		for _, m := range got {
			if !strings.Contains(m.Subject, "too warm in ") {
				continue
			}
			_, after, _ := strings.Cut(m.Subject, "too warm in ")
			words, _, _ := strings.Cut(after, " (")
			left, err := time.ParseDuration(strings.NewReplacer(" ", "", "min", "m").Replace(words))
			if there := passes.Sub(m.At); err != nil || math.Abs((left-there).Minutes()) > there.Minutes()/3 {
				t.Errorf("%g K a minute: %s %s (%v), in fact in %v", perMinute, m.At.Format("15:04"), m.Subject, err, there)
			}
		}
	}
}
