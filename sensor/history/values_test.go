package history

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"example.com/ootherm/sensor"
)

// Values are the believed readings of Range, in blocks on disk, in memory and being filled.
func TestValuesAreTheReadings(t *testing.T) {
	for name, make := range kinds {
		t.Run(name, func(t *testing.T) {
			s := make(t, Options{}).Store
			b := begin(t, s, "a", t0)
			rng := rand.New(rand.NewPCG(91, 91))
			for hour := range time.Duration(40) {
				readings := room(rng, "p", b.Number, hour*time.Hour, (hour+1)*time.Hour, time.Minute)
				for i := range readings {
					switch rng.IntN(9) {
					case 0:
						readings[i].Cause = sensor.NoAnswer
					case 1:
						readings[i].Celsius = math.NaN()
					}
				}
				put(t, s, readings...)
				if hour%10 == 9 && hour < 30 {
					flush(t, s)
				}
			}
			for range 50 {
				from := t0.Add(time.Duration(rng.Int64N(int64(41 * time.Hour))))
				to := from.Add(time.Duration(rng.Int64N(int64(20 * time.Hour))))
				var want []Value
				for p, err := range s.Range("p", from, to) {
					if err != nil {
						t.Fatal(err)
					}
					if p.Believed() && !math.IsNaN(p.Celsius) {
						want = append(want, Value{p.At.UnixMilli(), p.Celsius, p.Humidity})
					}
				}
				n := 0
				for values, err := range s.Values("p", from, to) {
					if err != nil {
						t.Fatal(err)
					}
					for _, v := range values {
						if n >= len(want) || v.UnixMilli != want[n].UnixMilli || v.Celsius != want[n].Celsius || !(v.Humidity == want[n].Humidity || math.IsNaN(v.Humidity)) {
							t.Fatalf("%s to %s: value %d is %+v", from, to, n, v)
						}
						n++
					}
				}
				if n != len(want) {
					t.Errorf("%s to %s: %d values, want %d", from, to, n, len(want))
				}
			}
		})
	}
}
