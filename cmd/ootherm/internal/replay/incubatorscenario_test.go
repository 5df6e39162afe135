package replay_test

import (
	"math"
	"strings"
	"testing"
	"time"
)

// thermostatBands are those of an incubator at 30 C.
const thermostatBands = `wanted = { low = "28.5C", high = "31.5C" }
safe = { low = "27C", high = "33C" }`

// incubatorCelsius is an incubator whose thermostat switches every 20 minutes at 29.7 and 30.3 C.
func incubatorCelsius(at time.Time) float64 {
	const half = 20.0
	minutes := math.Mod(float64(at.Unix())/60, 2*half)
	return 29.7 + 0.6*math.Abs(minutes-half)/half
}

// An incubator's heater that dies is told by the cycle that stops, and one that does not stop;
// an incubator that goes on as always is not told of.
func TestIncubatorScenarios(t *testing.T) {
	begins := scenarioBegins.Add(9 * time.Hour) // in a fall
	for _, c := range []struct {
		name   string
		toward float64 // C that the air goes to; 0: it goes on
		hours  float64 // time constant
		want   string
	}{
		{"dies", 22, 4.4, "The heater has been off for "},
		{"does not stop", 38, 4.4, "The heater has been on for "},
		{"goes on", 0, 0, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := scenario{
				bands: thermostatBands, begins: begins, usual: incubatorCelsius, learned: 3 * 24 * time.Hour, lasts: 2 * time.Hour,
				change: func(_ int, since time.Duration) (float64, bool) {
					if c.toward == 0 {
						return 0, true
					}
					from := incubatorCelsius(begins)
					v := from + (c.toward-from)*(1-math.Exp(-since.Hours()/c.hours))
					return v - incubatorCelsius(begins.Add(since)), true
				},
			}
			got := s.run(t)
			switch {
			case c.want == "" && len(got) > 0:
				t.Errorf("told for nothing: %+v", got)
			case c.want != "" && (len(got) == 0 || !strings.Contains(got[0].Body, c.want) || !strings.Contains(got[0].Body, " after 20 min.")):
				t.Errorf("the first of %d messages lacks %q: %+v", len(got), c.want, got)
			case c.want != "":
				t.Logf("after %v:\n%s", got[0].At.Sub(begins), got[0].Body)
			}
		})
	}
}
