package profile_test

import (
	"math"
	"testing"
	"time"

	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/profile"
)

// crested is the crested gecko as it is built in.
func crested(t *testing.T) profile.Profile {
	t.Helper()
	all, err := profile.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range all {
		if p.Name == "crested gecko" {
			return p
		}
	}
	t.Fatal("no crested gecko is built in")
	return profile.Profile{}
}

// The first season teaches it: how wide a new clutch's window is after so many own
// clutches, each of another dam, that took 104 days at 23.3 C.
// What is left in the end is what no two eggs share, and the climate.
func TestTheFirstSeasonTeachesIt(t *testing.T) {
	b, err := crested(t).Belief()
	if err != nil {
		t.Fatal(err)
	}
	laid := time.Date(2026, 4, 1, 0, 0, 0, 0, time.UTC)
	days := func(at time.Time) float64 { return at.Sub(laid).Hours() / 24 }
	t.Log("| own clutches hatched | likely | check from | late after | days wide |")
	t.Log("|---:|---:|---:|---:|---:|")
	last := math.Inf(1)
	var first float64
	for n := range 7 {
		heat := thermal.Heat{Laid: thermal.Laid{Earliest: laid, Latest: laid}}
		w := thermal.Steady(23.3, 0.3).Outlook(b, laid).Window(heat)
		wide := days(w.LateAfter) - days(w.CheckFrom)
		if n == 0 {
			first = wide
			if low, mid, high := b.Interval(23.3); math.Abs(low-78) > 1.5 || math.Abs(mid-96) > 1.5 || math.Abs(high-117) > 1.5 {
				t.Errorf("before anything hatched %.0f days (%.0f-%.0f), want about 96 (78-117)", mid, low, high)
			}
		}
		if !(wide < last) {
			t.Errorf("after %d clutches the window is %.1f days wide, no less than after one clutch less", n, wide)
		}
		last = wide
		switch n {
		case 0, 1, 3, 6:
			t.Logf("| %d | %.0f d | %.0f d | %.0f d | %.0f |", n, days(w.Likely), days(w.CheckFrom), days(w.LateAfter), wide)
		}
		b = b.Learn(thermal.Observed{Days: 104, Celsius: 23.3, Own: true, Eggs: 2})
	}
	if last > 0.55*first {
		t.Errorf("six clutches narrowed the window from %.0f days to %.0f, want about half", first, last)
	}
}
