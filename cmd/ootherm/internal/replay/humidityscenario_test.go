package replay_test

import (
	"math"
	"strings"
	"testing"
	"time"
)

// A room that dries by 2 % a day is told of once, days before its limit, with the day; then the
// limit's own alarm is told. One whose humidity goes up and down with the weather is not.
func TestHumidityOverDays(t *testing.T) {
	const day = 24 * time.Hour
	for _, c := range []struct {
		name   string
		change func(days float64) float64
		early  int
	}{
		{"2 % a day drier", func(days float64) float64 { return -0.02 * days }, 1},
		{"weather", func(days float64) float64 { return 0.06 * math.Sin(2*math.Pi*days/6) }, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := scenario{
				bands: usualBands + "\nhumidity = { low = \"55%\", high = \"90%\" }", learned: 3 * day, lasts: 10 * day,
				change: func(int, time.Duration) (float64, bool) { return 0, true },
			}
			s.humid = func(since time.Duration) float64 {
				return 0.70 + 0.02*math.Sin(2*math.Pi*since.Hours()/24) + c.change(max(0, since.Hours()/24))
			}
			early, limit := 0, time.Duration(0)
			var first time.Duration
			for _, m := range s.run(t) {
				at := m.At.Sub(scenarioBegins)
				t.Logf("%.1f d: %s", at.Hours()/24, strings.ReplaceAll(m.Body, "\n", " | "))
				switch {
				case strings.Contains(m.Subject, "getting too dry"):
					early, first = early+1, at
				case strings.Contains(m.Subject, "too dry") && limit == 0:
					limit = at
				}
			}
			if early != c.early || early > 0 && limit-first < day {
				t.Errorf("%d early words, the first on day %.1f, the limit on day %.1f", early, first.Hours()/24, limit.Hours()/24)
			}
		})
	}
}
