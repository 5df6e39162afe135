package care

import (
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/husbandry"
	"example.com/ootherm/thermal/profile"
	"example.com/ootherm/thermal/track"
)

// The eggs of a box weigh from the lightest to the heaviest of its species; one species
// whose eggs are not known leaves the box without a figure.
func TestScaleOf(t *testing.T) {
	p := plan.Plan{Profiles: []profile.Profile{
		{Name: "small", EggG: profile.Band{Low: 1, High: 3}}, {Name: "large", EggG: profile.Band{Low: 2, High: 8}}, {Name: "bare"},
	}}
	group := func(box, kind string) *track.Group { return &track.Group{Box: box, Profile: kind} }
	groups := []*track.Group{group("B1", "small"), group("B2", "small"), group("B2", "large"), group("B3", "large"), group("B3", "bare"), group("B4", "none")}
	for box, want := range map[string]husbandry.Scale{
		"B1": {EggG: 1, EggMostG: 3, ErrorG: 0.5},
		"B2": {EggG: 1, EggMostG: 8, ErrorG: 0.5},
		"B3": {ErrorG: 0.5},
		"B4": {ErrorG: 0.5},
		"B5": {ErrorG: 0.5},
	} {
		if got := scaleOf(p, groups, box); got != want {
			t.Errorf("%s: %+v, want %+v", box, got, want)
		}
	}
}

// The care of a book stays for less than an hour, or until the book changes.
func TestCareIsMadeAgain(t *testing.T) {
	var b book.Book
	note := func(line string) {
		t.Helper()
		d, err := book.ReadDraft(strings.NewReader(line))
		if err != nil {
			t.Fatal(err)
		}
		p, err := b.Prepare(d)
		if err != nil {
			t.Fatal(err)
		}
		b = p.Stored(nil)
	}
	note(`{"key":"d","at":"2026-04-01T08:00:00Z","entry":"dam","dam":"Sorrel","profile":"small"}
{"key":"c","at":"2026-04-20T08:00:00Z","entry":"clutch","clutch":"S1","dam":"Sorrel","eggs":2,"laid_after":"2026-04-19T08:00:00Z","laid_by":"2026-04-20T08:00:00Z"}`)
	c := New(plan.Plan{}, func() []*track.Group { return nil })
	first := c.Of(b, time.Date(2026, 4, 21, 8, 0, 0, 0, time.UTC))
	look := *first.Dams[0].LookFrom
	due := func(at time.Time) string { return c.Of(b, at).Dams[0].Due }
	before := look.Add(-time.Minute)
	for _, x := range []struct {
		at   time.Time
		want husbandry.Due
	}{
		{before, husbandry.DueLater},
		{before.Add(maxAge - time.Second), husbandry.DueLater},
		{before.Add(maxAge), husbandry.DueLook},
		{before, husbandry.DueLater}, // the clock was set back by as much
	} {
		if got := due(x.at); got != string(x.want) {
			t.Errorf("at %v: %s, want %s", x.at, got, x.want)
		}
	}
	note(`{"key":"t","at":"2026-04-22T08:00:00Z","entry":"dam","dam":"Tansy","profile":"small"}`)
	if n := len(c.Of(b, before.Add(time.Second)).Dams); n != 2 || len(c.Last().Dams) != 2 {
		t.Errorf("after an entry the care is of %d dams, want 2", n)
	}
}
