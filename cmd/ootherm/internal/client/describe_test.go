package client

import (
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal"
)

// A late clutch is called late, whether or not it had a window before. Only a clutch
// without a forecast has no window.
func TestWindowText(t *testing.T) {
	day := time.Date(2026, 6, 12, 9, 0, 0, 0, time.UTC)
	window := snapshot.Window{CheckFrom: day, Likely: day.AddDate(0, 0, 4), LateAfter: day.AddDate(0, 0, 8)}
	late := window
	late.Late = true
	for name, c := range map[string]struct {
		clutch snapshot.Clutch
		want   string
	}{
		"a window":                       {snapshot.Clutch{Window: &window}, "check 12-20 Jun, likely 16 Jun"},
		"late after a window":            {snapshot.Clutch{Window: &late, Because: []string{thermal.LateReason}}, "late: was expected by 20 June"},
		"late from the first forecast":   {snapshot.Clutch{Because: []string{thermal.LateReason}}, "late"},
		"a dam without a profile":        {snapshot.Clutch{Because: []string{"the dam has no kind"}}, "no window"},
		"nothing is known of the clutch": {snapshot.Clutch{}, "no window"},
	} {
		c.clutch.Clutch, c.clutch.Eggs = "S1", []snapshot.Egg{{Egg: "S1-1", Fate: "waiting"}}
		var out strings.Builder
		n := &snapshot.Snapshot{Boxes: []snapshot.Box{{Box: "B1", Clutches: []snapshot.Clutch{c.clutch}}}}
		if err := DescribeBoxes(&out, n, words.Reader{}, "", nil); err != nil {
			t.Fatal(err)
		}
		first, _, _ := strings.Cut(out.String(), "\n")
		if fields := strings.Split(first, "  "); !contains(fields, c.want) {
			t.Errorf("%s: the line is %q, want %q in it", name, first, c.want)
		}
	}
}

func contains(fields []string, want string) bool {
	for _, f := range fields {
		if strings.TrimSpace(f) == want {
			return true
		}
	}
	return false
}
