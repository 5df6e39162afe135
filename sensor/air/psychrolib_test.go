//go:build tools

package air

import (
	"bytes"
	"encoding/csv"
	"math"
	"os"
	"os/exec"
	"strconv"
	"testing"
)

// psychrolib (npm) uses the equations of Hyland and Wexler; below the freezing point
// those over ice, so dew points below 0 C are left out: hygrometers report them over
// water.
func TestAgreesWithAnotherLibrary(t *testing.T) {
	const browser = "../../testdata/browser"
	if _, err := os.Stat(browser + "/node_modules/psychrolib"); err != nil {
		t.Fatalf("%v; bash .ci/test installs it", err)
	}
	c := exec.Command("node", "psychrometrics.mjs")
	c.Dir, c.Stderr = browser, os.Stderr
	out, err := c.Output()
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(bytes.NewReader(out)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	dews := 0
	for _, row := range rows {
		var v [6]float64
		for i, s := range row {
			if v[i], err = strconv.ParseFloat(s, 64); err != nil {
				t.Fatal(err)
			}
		}
		at := " at " + row[0] + " C, " + row[1]
		within(t, "saturation"+at, SaturationPressure(v[0]), v[2], 0.001)
		within(t, "deficit"+at, Deficit(v[0], v[1]), v[4], 0.001)
		within(t, "absolute humidity"+at, Absolute(v[0], v[1]), v[5], 0.001)
		if v[3] >= 0 {
			dews++
			if got := DewPoint(v[0], v[1]); math.Abs(got-v[3]) > .01 {
				t.Errorf("dew point%s is %.4f, want %.4f within 0.01 K", at, got, v[3])
			}
		}
	}
	if len(rows) != 41*20 || dews < 500 {
		t.Errorf("compared %d rows, %d dew points", len(rows), dews)
	}
}
