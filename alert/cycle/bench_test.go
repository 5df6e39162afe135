package cycle_test

import (
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/cycle"
)

// A reading with the cycle of the thermostat, and without.
func BenchmarkObserve(b *testing.B) {
	i := incubator{every: 10 * time.Second, period: 45 * time.Minute, swing: 0.6, duty: 0.5, noise: 0.03, step: 0.1, seed: 3}
	limit := i.limitOf(false)
	c := i.start()
	values := make([]float64, 3*8640)
	for k := range values {
		values[k] = c.next()
	}
	for name, observe := range map[string]func(time.Time, float64, bool) bool{
		"cycle": cycle.NewDrift(time.UTC, limit).Observe, "drift alone": alert.NewDrift(time.UTC, limit).Observe,
	} {
		b.Run(name, func(b *testing.B) {
			for k := range b.N {
				observe(begin.Add(time.Duration(k)*i.every), values[k%len(values)], true)
			}
		})
	}
}
