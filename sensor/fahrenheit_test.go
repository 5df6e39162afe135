package sensor

import (
	"math"
	"testing"
)

// Water freezes at 32 °F and boils at 212 °F; the scales meet at -40.
func TestFahrenheit(t *testing.T) {
	for _, c := range []struct{ celsius, fahrenheit float64 }{{0, 32}, {100, 212}, {-40, -40}, {23.5, 74.3}} {
		if got := ToFahrenheit(c.celsius); math.Abs(got-c.fahrenheit) > 1e-9 {
			t.Errorf("%g °C is %g °F, want %g", c.celsius, got, c.fahrenheit)
		}
		if got := FromFahrenheit(c.fahrenheit); math.Abs(got-c.celsius) > 1e-9 {
			t.Errorf("%g °F is %g °C, want %g", c.fahrenheit, got, c.celsius)
		}
	}
}
