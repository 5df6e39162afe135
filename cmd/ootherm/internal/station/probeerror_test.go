package station_test

import (
	"fmt"
	"testing"
	"time"

	"example.com/ootherm/thermal"
)

// What a probe's error adds to a window follows from its calibration in the book: one that
// was there before the eggs narrows their window, one that came later does not yet.
func TestACalibrationBeforeTheEggsNarrowsTheirWindow(t *testing.T) {
	days := func(calibrated int) (probe, width float64) {
		b := hourly(t, quick())
		b.live(0, 24, steady(23.3))
		at := func(hour int) string { return began.Add(time.Duration(hour) * time.Hour).Format(time.RFC3339) }
		if calibrated == 23 {
			b.note(calibration(at(calibrated)))
		}
		b.note(dam("Quill", "quick") + fmt.Sprintf(`{"key":"b","at":%[1]q,"entry":"box","box":"N","zone":"incubator","probe":"warm"}
{"key":"c","at":%[1]q,"entry":"clutch","clutch":"Q1","dam":"Quill","eggs":1,"laid_after":%[1]q,"laid_by":%[1]q}
{"key":"p","at":%[1]q,"entry":"placed","egg":"Q1-1","box":"N","slot":"1"}
`, at(23)))
		b.live(24, 5*24, steady(23.3))
		if calibrated > 23 {
			b.note(calibration(at(calibrated)))
		}
		b.live(5*24, 5*24+2, steady(23.3))
		c := b.clutch("Q1")
		w := c.Window
		for _, p := range c.Why.Parts {
			if p.Cause == string(thermal.CauseProbe) {
				probe = p.Days
			}
		}
		return probe, w.LateAfter.Sub(w.CheckFrom).Hours() / 24
	}
	never, wide := days(-1)
	before, narrow := days(23)
	later, _ := days(4 * 24)
	if !(before < 0.4*never && narrow < wide) {
		t.Errorf("the probe's error is %.2f d of %.1f, calibrated %.2f of %.1f: want it to count for less", never, wide, before, narrow)
	}
	if later < 0.9*never {
		t.Errorf("calibrated after the eggs came, the probe's error is %.2f d, want %.2f", later, never)
	}
}

func calibration(at string) string {
	return fmt.Sprintf(`{"key":"k","at":%q,"entry":"calibrated","probe":"warm","points":[{"reference_c":23.3,"read_c":23.3}]}`+"\n", at)
}
