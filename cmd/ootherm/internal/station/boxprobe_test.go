package station_test

import (
	"math"
	"slices"
	"testing"
)

// The reading of a box's probe that no zone lists is published with the box.
func TestProbeOfABoxThatNoZoneLists(t *testing.T) {
	t.Parallel()
	for _, listed := range []bool{true, false} {
		p := testPlan(t)
		for i := range p.Zones {
			if !listed {
				p.Zones[i].Probes = slices.DeleteFunc(slices.Clone(p.Zones[i].Probes), func(name string) bool { return name == "dummy" })
			}
		}
		b := newBench(t, p)
		b.note(season)
		b.observe(began, map[string]float64{"air": 23, "dummy": 23.4, "warm": 27}) // the dummy's offset is -0.2
		x := boxOf(b.Now(), "B2")
		if *x.Probe != "dummy" || listed != (x.Measured == nil) || !listed && math.Abs(*x.Measured.Celsius-23.2) > 0.01 {
			t.Errorf("listed %v: %+v", listed, x.Measured)
		}
		if _, p, ok := b.Now().ProbeOf("dummy"); !ok || p.Celsius == nil || math.Abs(*p.Celsius-23.2) > 0.01 {
			t.Errorf("listed %v: dummy is %.4f, found %v", listed, *p.Celsius, ok)
		}
	}
}
