package station_test

import (
	"math"
	"testing"
	"time"

	"example.com/ootherm/sensor/history"
)

// A boot began with a clock that was wrong, and is dated right after an hour. From then on
// the station is like one that starts with the right date: what eggs felt, trends and
// spreads. It publishes, and makes readings durable, at once.
func TestDateComputesAgainWhatTheReadingsSay(t *testing.T) {
	for name, wrong := range map[string]time.Duration{"two days ahead": 50 * time.Hour, "nearly a day behind": 90 * time.Minute} {
		t.Run(name, func(t *testing.T) {
			const right = 24 * time.Hour // when the boot began, after the first
			b := newBench(t, testPlan(t))
			b.options.PublishEvery = time.Minute
			b.note(season)
			for up := time.Duration(0); up < time.Hour; up += time.Minute {
				b.observe(began.Add(up), air(began.Add(up)))
			}
			boot, err := b.options.History.(*history.Store).Begin("two", began.Add(wrong), 0, false)
			if err != nil {
				t.Fatal(err)
			}
			b.options.Boot = boot
			b.start(boot.Start)
			run := func(from, to time.Duration) {
				for up := from; up < to; up += time.Minute {
					b.observe(began.Add(up), air(began.Add(up)))
					if err := b.Tick(t.Context(), b.Boot().Start.Add(up)); err != nil {
						t.Fatal(err)
					}
				}
			}
			run(0, time.Hour)
			if err := b.Date(t.Context(), began.Add(right), 0, true); err != nil {
				t.Fatal(err)
			}
			dated, flushed := b.Now(), *b.Now().Health.Flushed
			if want := began.Add(right + 59*time.Minute); !dated.At.Equal(want) || flushed.After(want) {
				t.Errorf("published as of %v, flushed at %v; want %v, and not after it", dated.At, flushed, want)
			}
			if z := dated.Zones[0]; z.TrendPerHour == nil || z.SpreadK == nil {
				t.Errorf("the room has the trend %v and the spread %v, want those of the last hour", deref(z.TrendPerHour), deref(z.SpreadK))
			}
			run(time.Hour, 3*time.Hour)
			if got := *b.Now().Health.Flushed; !got.After(flushed.Add(time.Hour)) {
				t.Errorf("flushed at %v, and two hours later at %v", flushed, got)
			}
			b.Refresh()
			live := b.Now().Boxes[0].Clutches[0]
			b.options.Boot = b.Boot()
			b.start(b.Time())
			rebuilt := b.Now().Boxes[0].Clutches[0]
			for what, x := range map[string][2]*float64{
				"developed": {live.Developed, rebuilt.Developed}, "observed": {live.Observed, rebuilt.Observed},
				"degree-days": {&live.DegreeDays.SoFar, &rebuilt.DegreeDays.SoFar}, "equivalent": {live.EquivalentCelsius, rebuilt.EquivalentCelsius},
			} {
				if math.Abs(*x[0]-*x[1]) > 1e-6*math.Abs(*x[1]) {
					t.Errorf("%s: %v, and after a restart %v", what, *x[0], *x[1])
				}
			}
		})
	}
}
