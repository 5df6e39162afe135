package station_test

import (
	"slices"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/thermal/profile"
)

// eggsOf are the lines of a dam and of a clutch of hers in a box that stands in a zone.
func eggsOf(dam, profile, zone string) string {
	lines := `{"key":"d","at":"2026-03-01T12:00:00Z","entry":"dam","dam":"` + dam + `"` + profile + `}
`
	if zone != "" {
		lines += `{"key":"x","at":"2026-03-01T12:00:00Z","entry":"box","box":"X","zone":"` + zone + `"}
`
	}
	return lines + `{"key":"y","at":"2026-03-01T12:00:00Z","entry":"box","box":"Y","zone":"room"}
{"key":"c","at":"2026-03-01T12:00:00Z","entry":"clutch","clutch":"C1","dam":"` + dam + `","eggs":1,"laid_after":"2026-03-01T11:00:00Z","laid_by":"2026-03-01T12:00:00Z"}
`
}

const placedInX = `{"key":"p","at":"2026-03-01T12:00:00Z","entry":"placed","egg":"C1-1","box":"X","slot":"a"}
`

// The state says what each clutch lacks for its window, and nothing once it has one.
func TestMissingForAWindow(t *testing.T) {
	unknown := profile.Profile{Name: "newt"}
	for name, c := range map[string]struct {
		lines   string
		celsius float64
		want    []string
	}{
		"all there":     {eggsOf("Olive", `,"profile":"crested gecko"`, "room") + placedInX, 23, []string{}},
		"no kind":       {eggsOf("Olive", "", "room") + placedInX, 23, []string{snapshot.MissingKind}},
		"nothing known": {eggsOf("Olive", `,"profile":"newt"`, "room") + placedInX, 23, []string{snapshot.MissingModel}},
		"too cold":      {eggsOf("Olive", `,"profile":"crested gecko"`, "room") + placedInX, 2, []string{snapshot.MissingWarmth}},
		"no kind, place": {eggsOf("Olive", "", "") + `{"key":"p","at":"2026-03-01T12:00:00Z","entry":"placed","egg":"C1-1","box":"Y","slot":"a"}
{"key":"m","at":"2026-03-01T12:00:00Z","entry":"moved","egg":"C1-1","box":"Z","slot":"a"}`, 23, []string{snapshot.MissingKind, snapshot.MissingZone}},
	} {
		b := hourly(t, unknown)
		b.live(0, 30, steady(c.celsius))
		b.note(c.lines)
		b.live(30, 32, steady(c.celsius))
		got := b.clutch("C1")
		if !slices.Equal(got.Missing, c.want) || (got.Window == nil) != (len(c.want) > 0) {
			t.Errorf("%s: missing are %q, want %q; the window is %v, because %q", name, got.Missing, c.want, got.Window, got.Because)
		}
	}
}

// A dam without a kind gets one, and her clutch that waits has its window with the next
// state. An undo takes it away.
func TestAnAmendedKindGivesAWindowAtOnce(t *testing.T) {
	b := hourly(t)
	b.live(0, 30, steady(23))
	b.note(eggsOf("Olive", "", "room") + placedInX)
	if c := b.clutch("C1"); c.Window != nil || !slices.Equal(c.Missing, []string{snapshot.MissingKind}) {
		t.Fatalf("without a kind the window is %v, missing are %q", c.Window, c.Missing)
	}
	b.note(`{"key":"a","at":"2026-03-01T13:00:00Z","entry":"amended","dam":"Olive","profile":"crested gecko","name":"Olivia"}`)
	if c := b.clutch("C1"); c.Window == nil || len(c.Missing) > 0 || *c.Dam != "Olivia" {
		t.Errorf("of a kind the window is %v, missing are %q, of %s", c.Window, c.Missing, *c.Dam)
	}
	b.note(`{"key":"v","at":"2026-03-01T13:00:00Z","entry":"void","void":"a"}`)
	if c := b.clutch("C1"); c.Window != nil || *c.Dam != "Olive" {
		t.Errorf("undone the window is %v, of %s", c.Window, *c.Dam)
	}
}
