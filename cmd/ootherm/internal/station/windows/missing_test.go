package windows

import (
	"math"
	"slices"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/station/conditions"
	"example.com/ootherm/cmd/ootherm/internal/station/pastreadings"
	"example.com/ootherm/sensor"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/forecast"
	"example.com/ootherm/thermal/profile"
	"example.com/ootherm/thermal/track"
)

var at = time.Date(2026, 4, 20, 8, 0, 0, 0, time.UTC)

// newWindows has a zone with a reading, one without, and a species with a line beside one
// without.
func newWindows(t *testing.T) *Windows {
	t.Helper()
	all, err := profile.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(all, func(p profile.Profile) bool { return p.Name == "crested gecko" })
	p := plan.Plan{Every: time.Minute, Location: time.UTC, Probes: []plan.Probe{{Name: "a"}, {Name: "b"}},
		Zones:    []plan.Zone{{Name: "room", Probes: []string{"a"}}, {Name: "attic", Probes: []string{"b"}}},
		Profiles: []profile.Profile{all[i], {Name: "bare"}}}
	past := pastreadings.New(pastreadings.Options{Plan: p, Now: func() time.Time { return at }})
	c := conditions.New(p, past, at, func() {})
	c.Observe([]sensor.Reading{{Probe: "a", Measurement: sensor.Measurement{Celsius: 25, Humidity: math.NaN()}}}, at, func(track.Source, thermal.Sample) {})
	w := New(Options{Plan: p})
	w.Follow(c, nil)
	w.now = at
	return w
}

// What a clutch lacks for its window names what mends it, all of it at once.
func TestMissing(t *testing.T) {
	rate := thermal.DegreeDays{Base: 14, Required: 800}
	cold := forecast.Hatch{Rate: rate, Window: thermal.Window{None: thermal.TooColdReason}}
	w := newWindows(t)
	for name, c := range map[string]struct {
		group track.Group
		hatch forecast.Hatch
		want  []string
	}{
		"a window":           {track.Group{Waiting: true, Profile: "crested gecko", Zone: "room"}, forecast.Hatch{Rate: rate}, []string{}},
		"over":               {track.Group{}, forecast.Hatch{}, []string{}},
		"no kind":            {track.Group{Waiting: true, Zone: "room"}, forecast.Hatch{}, []string{snapshot.MissingKind}},
		"an unknown kind":    {track.Group{Waiting: true, Profile: "none", Zone: "room"}, forecast.Hatch{}, []string{snapshot.UnknownKind}},
		"a bare profile":     {track.Group{Waiting: true, Profile: "bare", Zone: "room"}, forecast.Hatch{}, []string{snapshot.MissingModel}},
		"no zone":            {track.Group{Waiting: true, Profile: "crested gecko"}, forecast.Hatch{}, []string{snapshot.MissingZone}},
		"a zone that went":   {track.Group{Waiting: true, Profile: "crested gecko", Zone: "cellar"}, forecast.Hatch{}, []string{snapshot.MissingSource}},
		"no reading":         {track.Group{Waiting: true, Profile: "crested gecko", Zone: "attic"}, forecast.Hatch{}, []string{snapshot.MissingReading}},
		"arrested":           {track.Group{Waiting: true, Profile: "crested gecko", Zone: "room", Arrest: track.Arrest{Arrested: true}}, forecast.Hatch{}, []string{snapshot.MissingResumption}},
		"still being read":   {track.Group{Waiting: true, Profile: "crested gecko", Zone: "room"}, forecast.Hatch{}, []string{snapshot.MissingHistory}},
		"too cold":           {track.Group{Waiting: true, Profile: "crested gecko", Zone: "room"}, cold, []string{snapshot.MissingWarmth}},
		"kind and reading":   {track.Group{Waiting: true, Zone: "attic"}, forecast.Hatch{}, []string{snapshot.MissingKind, snapshot.MissingReading}},
		"a probe of its own": {track.Group{Waiting: true, Profile: "crested gecko", Zone: "room", Probe: "b"}, forecast.Hatch{}, []string{snapshot.MissingReading}},
	} {
		if got := w.missing(&c.group, c.hatch); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", name, got, c.want)
		}
	}
}
