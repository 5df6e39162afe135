package rulesview

import (
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert/rules"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/station/conditions"
	"example.com/ootherm/cmd/ootherm/internal/station/pastreadings"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/profile"
	"example.com/ootherm/thermal/track"
)

var began = time.Date(2026, 4, 2, 19, 0, 0, 0, time.UTC)

func ptr[T any](v T) *T { return &v }

// A bus has a rule of its own when it has two probes or more.
func TestBusesOf(t *testing.T) {
	planned := []plan.Probe{{Name: "a", Bus: "two"}, {Name: "b", Bus: "two"}, {Name: "c", Bus: "one"}, {Name: "d"}, {Name: "e"}, {Name: "f", Bus: "again"}, {Name: "g", Bus: "again"}}
	probes := map[string]*rules.Probe{}
	for _, p := range planned {
		probes[p.Name] = &rules.Probe{}
	}
	got := busesOf(planned, probes)
	if len(got) != 2 || got[0].Name != "again" || got[1].Name != "two" || len(got[1].Probes) != 2 || got[1].Probes[0] != probes["a"] || got[1].Probes[1] != probes["b"] {
		t.Errorf("%+v", got)
	}
}

// A zone's own safe band comes first, then the strictest of the species whose eggs wait in it.
func TestSafeBand(t *testing.T) {
	p := plan.Plan{Profiles: []profile.Profile{
		{Name: "wide", Climate: profile.Climate{Safe: profile.Band{Low: 15, High: 30}}},
		{Name: "narrow", Climate: profile.Climate{Safe: profile.Band{Low: 20, High: 27}}},
	}}
	own := plan.Zone{Name: "room", Safe: &plan.Band{Low: ptr(18.0), High: ptr(26.0)}}
	bare := plan.Zone{Name: "room"}
	waits := func(zone, kind string) *track.Group { return &track.Group{Zone: zone, Profile: kind, Waiting: true} }
	hatched := &track.Group{Zone: "room", Profile: "narrow"}
	for name, c := range map[string]struct {
		zone      plan.Zone
		groups    []*track.Group
		low, high float64 // 0: no band
	}{
		"its own":         {own, []*track.Group{waits("room", "narrow")}, 18, 26},
		"no eggs":         {bare, nil, 0, 0},
		"one species":     {bare, []*track.Group{waits("room", "wide")}, 15, 30},
		"the strictest":   {bare, []*track.Group{waits("room", "wide"), waits("room", "narrow")}, 20, 27},
		"in another zone": {bare, []*track.Group{waits("room", "wide"), waits("attic", "narrow")}, 15, 30},
		"hatched":         {bare, []*track.Group{waits("room", "wide"), hatched}, 15, 30},
	} {
		b := safeBand(p, c.zone, c.groups, began)
		if (b == nil) != (c.low == 0) || b != nil && (*b.Low != c.low || *b.High != c.high) {
			t.Errorf("%s: %+v, want %v to %v", name, b, c.low, c.high)
		}
	}
}

// Another spell is another band; the same one is no change. The band before it goes on for two
// hours, for no probe has a value.
func TestBandsChanged(t *testing.T) {
	night := config.Spell{From: 20 * time.Hour, To: 6 * time.Hour, Band: config.Band{Low: ptr(18.0)}}
	p := plan.Plan{Every: time.Minute, Location: time.UTC, Zones: []plan.Zone{{Name: "room", Wanted: &plan.Band{Low: ptr(20.0), Spells: []config.Spell{night}}}}}
	past := pastreadings.New(pastreadings.Options{Plan: p, Now: func() time.Time { return began }})
	r := New(Options{Plan: p, Past: past, Conditions: conditions.New(p, past, began, func() {})})
	r.bands, r.View.Zones = []*turningBands{newTurningBands(p.Zones[0], p, began)}, make([]rules.Zone, 1)
	for _, c := range []struct {
		after time.Duration // 19:00
		want  bool
	}{{0, false}, {59 * time.Minute, false}, {time.Hour, true}, {179 * time.Minute, false}, {3 * time.Hour, true}, {10 * time.Hour, false}, {11 * time.Hour, true}, {12 * time.Hour, false}, {13 * time.Hour, true}} {
		if got := r.BandsChanged(began.Add(c.after)); got != c.want {
			t.Errorf("after %v: changed %v, want %v", c.after, got, c.want)
		}
	}
}

// What a zone did counts since the last eggs left it, and for two weeks at most.
func TestSinceEggsLeft(t *testing.T) {
	var b book.Book
	d, err := book.ReadDraft(strings.NewReader(`{"key":"d","at":"2026-03-01T08:00:00Z","entry":"dam","dam":"Sorrel"}
{"key":"b","at":"2026-03-01T08:00:00Z","entry":"box","box":"B1","zone":"room"}
{"key":"c","at":"2026-03-02T08:00:00Z","entry":"clutch","clutch":"S1","dam":"Sorrel","eggs":1,"laid_after":"2026-03-01T08:00:00Z","laid_by":"2026-03-02T08:00:00Z"}
{"key":"c1","at":"2026-03-02T08:00:00Z","entry":"placed","egg":"S1-1","box":"B1","slot":"a"}
{"key":"l","at":"2026-04-01T08:00:00Z","entry":"lost","egg":"S1-1"}`))
	if err != nil {
		t.Fatal(err)
	}
	ready, err := b.Prepare(d)
	if err != nil {
		t.Fatal(err)
	}
	b = ready.Stored(nil)
	left := time.Date(2026, 4, 1, 8, 0, 0, 0, time.UTC)
	for name, c := range map[string]struct {
		zone    string
		started time.Time
		want    time.Time
	}{
		"a day ago":     {"room", began, left},
		"long ago":      {"room", left.AddDate(0, 0, 30), left.AddDate(0, 0, 16)},
		"no eggs of it": {"attic", began, began.AddDate(0, 0, -14)},
	} {
		h := sinceEggsLeft(b, c.zone, c.started)
		if len(h.Stays) != 1 || h.Stays[0].Zone != c.zone || !h.Stays[0].From.Equal(c.want) || h.ID == "" {
			t.Errorf("%s: %+v, want since %v", name, h, c.want)
		}
	}
	if all := histories(b, book.Box{Eggs: []string{"S1-1", "none"}}); len(all) != 1 || len(all[0].Stays) != 1 {
		t.Errorf("the histories of the box are %+v", all)
	}
}
