package alert_test

import (
	"math"
	"testing"
	"time"

	"example.com/ootherm/alert"
)

// A thermostat's cycle over a steady zone is not a drift, at whatever pace it is
// polled: where the polls are as far apart as the cycle, it looks like a slower one.
func TestDriftKnowsAThermostat(t *testing.T) {
	for _, every := range []time.Duration{10 * time.Second, time.Minute, 5 * time.Minute, 7 * time.Minute, 10 * time.Minute, 15 * time.Minute} {
		for _, period := range []time.Duration{10 * time.Minute, 20 * time.Minute, 33 * time.Minute, time.Hour} {
			for _, swing := range []float64{1, 2} {
				for _, limit := range []alert.Limit{{At: 22.8}, {High: true, At: 25.2}} {
					d := alert.NewDrift(time.UTC, limit)
					for at := time.Duration(0); at < 7*24*time.Hour; at += every {
						v := 24 + swing/2*math.Sin(2*math.Pi*at.Seconds()/period.Seconds())
						if d.Observe(start.Add(at), v, true) {
							p, _ := d.Projection(0)
							t.Errorf("cycle of %g K in %v, every %v, limit %v: called after %v: %+v", swing, period, every, limit.At, at, p)
							break
						}
					}
				}
			}
		}
	}
}

// A door that is opened for some minutes, or one wild reading, is over before
// anybody could come.
func TestDriftIsNoOpenDoor(t *testing.T) {
	for _, c := range []struct {
		every time.Duration
		depth float64 // K
		back  time.Duration
	}{
		{30 * time.Second, 2, 20 * time.Minute},
		{5 * time.Minute, 2, 20 * time.Minute},
		{10 * time.Minute, 2, 20 * time.Minute},
		{time.Hour, 2.5, time.Minute},
	} {
		d := alert.NewDrift(time.UTC, alert.Limit{At: 18})
		for at := time.Duration(0); at < 7*24*time.Hour; at += c.every {
			v := 24.0
			if since := at - 100*time.Hour; since >= 0 {
				v -= c.depth * math.Exp(-since.Seconds()/c.back.Seconds())
			}
			if d.Observe(start.Add(at), v, true) {
				p, _ := d.Projection(0)
				t.Errorf("every %v: %g K and back in %v: called after %v: %+v", c.every, c.depth, c.back, at-100*time.Hour, p)
				break
			}
		}
	}
}

// What goes on is one call, however far apart the polls are.
func TestDriftIsCalledOnce(t *testing.T) {
	for _, every := range []time.Duration{30 * time.Second, 10 * time.Minute, time.Hour} {
		d, was, calls := alert.NewDrift(time.UTC, alert.Limit{At: 20}), false, 0
		for at := time.Duration(0); at < 82*time.Hour; at += every {
			v := 24.0
			if at > 72*time.Hour {
				v -= 0.35 * (at - 72*time.Hour).Hours()
			}
			is := d.Observe(start.Add(at), v, true)
			if is && !was {
				calls++
			}
			was = is
		}
		if calls != 1 {
			t.Errorf("every %v: %d calls, want one", every, calls)
		}
	}
}

func TestDriftSaysWhen(t *testing.T) {
	for _, high := range []bool{false, true} {
		sign, limit := 1.0, alert.Limit{At: 20}
		if high {
			sign, limit = -1, alert.Limit{High: true, At: 28}
		}
		d := alert.NewDrift(time.UTC, limit)
		failed := 3*24*time.Hour + 7*time.Hour
		var first alert.Projection
		var called, reached time.Duration
		for at := time.Duration(0); reached == 0; at += 10 * time.Second {
			v := 24.0
			if at > failed {
				v -= sign * 8 * (1 - math.Exp(-(at-failed).Hours()/4))
			}
			if limit.Beyond(v) {
				reached = at
			}
			on := d.Observe(start.Add(at), v, true)
			if p, ok := d.Projection(0); ok != on {
				t.Fatalf("high %v: Observe says %v, Projection %v", high, on, ok)
			} else if on && called == 0 {
				called, first = at, p
			}
		}
		if called < failed || called > failed+time.Hour {
			t.Fatalf("high %v: called %v after the failure; the limit was reached after %v", high, called-failed, reached-failed)
		}
		if first.Earliest.After(first.At) || !first.Latest.IsZero() && first.Latest.Before(first.At) {
			t.Errorf("high %v: %v is not between %v and %v", high, first.At, first.Earliest, first.Latest)
		}
		if end := start.Add(reached); end.Before(first.Earliest) || !first.Latest.IsZero() && end.After(first.Latest) {
			t.Errorf("high %v: foretold %v (%v to %v), reached %v", high, first.At, first.Earliest, first.Latest, end)
		}
		if first.PerHour*sign >= 0 || first.Limit != limit.At {
			t.Errorf("high %v: %+v", high, first)
		}
		if _, on := d.Projection(0); on {
			t.Errorf("high %v: it is still called where the band alarm took over", high)
		}
	}
}

func TestDriftOutlivesHolesAndClocks(t *testing.T) {
	d := alert.NewDrift(time.UTC, alert.Limit{At: 20})
	for at := time.Duration(0); at < 48*time.Hour; at += time.Minute {
		d.Observe(start.Add(at), 24, true)
	}
	for _, at := range []time.Duration{50 * time.Hour, 500 * time.Hour, -9000 * time.Hour, -8999 * time.Hour, 1 << 62} {
		for range 3 {
			if d.Observe(start.Add(at), 24, true) || d.Observe(start.Add(at+time.Minute), math.NaN(), true) {
				t.Errorf("called %v after the start, at the value it always had", at)
			}
		}
	}
}

func BenchmarkDrift(b *testing.B) {
	d, at := alert.NewDrift(time.UTC, alert.Limit{At: 20}), start
	for b.Loop() {
		at = at.Add(10 * time.Second)
		d.Observe(at, 24+0.01*float64(at.Minute()), true)
	}
}
