package notice

import (
	"testing"

	"example.com/ootherm/alert"
)

// Every kind that can be raised has a row of texts. Its worst value is named where its value
// has a unit that is not a duration, except for a drift: its message is about what comes.
func TestEveryKindHasItsRow(t *testing.T) {
	for _, k := range alert.Kinds() {
		row := textOf(k)
		if row.headline == nil {
			t.Errorf("%s has no row in textOf", k)
		}
		measured := k.Unit() != alert.None && k.Unit() != alert.Seconds && !row.drift
		if named := row.worst != ""; named != measured {
			t.Errorf("%s: its worst value is named %t, want %t", k, named, measured)
		}
	}
	if textOf(alert.AllWell).headline != nil {
		t.Error("the daily report is no alarm and has a row in textOf")
	}
}
