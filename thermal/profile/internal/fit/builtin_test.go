package main

import (
	"slices"
	"strings"
	"testing"

	"example.com/ootherm/thermal/backtest"
	"example.com/ootherm/thermal/profile"
)

// The published rows of a species that is built in are its references, all of them, each
// with its paper, and no other measured reference stands beside them.
func TestBuiltinReferencesAreThePublishedRows(t *testing.T) {
	all, err := profile.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	rows := readTable(t)
	with := 0
	for _, p := range all {
		own := slices.DeleteFunc(slices.Clone(rows), func(r backtest.Row) bool { return r.Species != p.Species })
		if len(own) > 0 {
			with++
		}
		for _, ref := range p.References {
			if ref.Practice {
				continue
			}
			i := slices.IndexFunc(own, func(r backtest.Row) bool {
				return r.Celsius == ref.Celsius && r.DailyRange == ref.DailyRange && r.Days == ref.Days && r.SD == ref.SD && r.Eggs == ref.N &&
					strings.HasPrefix(ref.Source, r.Author) && strings.Contains(ref.Source, r.Year) && strings.Contains(ref.Source, "study "+r.Study)
			})
			if i < 0 {
				t.Errorf("%s: %+v is no row of the table, or stands there twice", p.Name, ref)
				continue
			}
			own = slices.Delete(own, i, i+1)
		}
		for _, r := range own {
			t.Errorf("%s lacks %+v", p.Name, r)
		}
	}
	if with != 3 {
		t.Errorf("%d species built in have published rows, want 3", with)
	}
}
