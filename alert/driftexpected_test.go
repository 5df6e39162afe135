package alert_test

import (
	"math"
	"testing"
	"time"

	"example.com/ootherm/alert"
)

// A setback by a timer, that the bands tell, is no drift on its first night. A heater that dies
// at that hour is called where the value goes further; once it is known that the room does not
// follow a timer, it is called as if there were none.
func TestExpectedChange(t *testing.T) {
	const turn = 20 * time.Hour
	setback := func(since time.Duration) float64 { return -3 * (1 - math.Exp(-since.Minutes()/20)) }
	dies := func(since time.Duration) float64 { return -10 * (1 - math.Exp(-since.Hours()/3)) }
	called := func(day time.Duration, change func(time.Duration) float64, told bool) time.Duration {
		d, begins := alert.NewDrift(time.UTC, alert.Limit{At: 19}), start.Truncate(24*time.Hour)
		for since := time.Duration(0); since < day+turn+4*time.Hour; since += time.Minute {
			at, days := begins.Add(since), since.Truncate(24*time.Hour)
			if told && since-days >= turn {
				d.Expect(begins.Add(days+turn), -3)
			}
			v, after := 24.0+0.03*math.Sin(float64(at.Unix())), since-day-turn
			if after > 0 {
				v += change(after)
			}
			if d.Observe(at, v, true) {
				return after
			}
		}
		return 0
	}
	const day = 24 * time.Hour
	if called(0, setback, false) == 0 || called(0, setback, true) != 0 {
		t.Errorf("a setback on the first night: called after %v, untold after %v", called(0, setback, true), called(0, setback, false))
	}
	if got := called(0, dies, true); got <= 0 || got > 85*time.Minute { // it passes the limit after 125 min
		t.Errorf("a heater that dies on the first night: called after %v", got)
	}
	for _, days := range []time.Duration{1, 2, 5} {
		if got, want := called(days*day, dies, true), called(days*day, dies, false); got != want || want <= 0 {
			t.Errorf("a heater that dies after %d days: called after %v, untold after %v", days, got, want)
		}
	}
}
