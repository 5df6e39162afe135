package forecast_test

import (
	"cmp"
	"fmt"
	"iter"
	"maps"
	"math"
	"slices"
	"testing"
	"time"

	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book/booktest"
	"example.com/ootherm/thermal/forecast"
	"example.com/ootherm/thermal/profile"
	"example.com/ootherm/thermal/track"
)

// laying is a clutch of a test's book. Its days count from the first day of the book.
type laying struct {
	id, dam string
	box     string // empty: its own
	day     int
	eggs    int
	fate    map[int]fate // by egg, from 1
}

// fate is what became of an egg, and on which day.
type fate struct {
	day  float64
	what string // hatched, pipped, lost, fertile
}

// bookOf writes a book until a day.
func bookOf(until float64, layings ...laying) string {
	type entry struct {
		day  float64
		what string
	}
	var all []entry
	dams := map[string]bool{}
	add := func(day float64, format string, args ...any) {
		all = append(all, entry{day, fmt.Sprintf(format, args...)})
	}
	at := func(day float64) string {
		return laid.Add(time.Duration(day * 24 * float64(time.Hour))).Format(time.RFC3339)
	}
	for _, l := range layings {
		box := cmp.Or(l.box, "box "+l.id)
		day := float64(l.day)
		if !dams[l.dam] {
			dams[l.dam] = true
			add(-2, `{"entry":"dam","dam":%q,"profile":%q,"at":%q}`, l.dam, species, at(-2))
		}
		if !dams["box "+box] {
			dams["box "+box] = true
			add(-1, `{"entry":"box","box":%q,"zone":"room","probe":"probe %s","at":%q}`, box, box, at(-1))
		}
		add(day, `{"entry":"clutch","clutch":%q,"dam":%q,"laid_after":%q,"laid_by":%q,"eggs":%d,"at":%q}`, l.id, l.dam, at(day-1), at(day), l.eggs, at(day))
		for e := range l.eggs {
			add(day, `{"entry":"placed","egg":"%s-%d","box":%q,"slot":"%s%d","at":%q}`, l.id, e+1, box, l.id, e+1, at(day))
			if f, ok := l.fate[e+1]; ok {
				if f.what == "fertile" {
					add(f.day, `{"entry":"candled","egg":"%s-%d","verdict":"fertile","at":%q}`, l.id, e+1, at(f.day))
				} else {
					add(f.day, `{"entry":%q,"egg":"%s-%d","at":%q}`, f.what, l.id, e+1, at(f.day))
				}
			}
		}
	}
	slices.SortStableFunc(all, func(a, b entry) int { return cmp.Compare(a.day, b.day) })
	text := ""
	for i, e := range all {
		if e.day <= until {
			text += fmt.Sprintf(`{"key":"k%04d",`, i) + e.what[1:] + "\n"
		}
	}
	return text
}

// houseAt is a house at one temperature, as its book is on a day.
func houseAt(t testing.TB, c, day float64, layings ...laying) forecast.House {
	t.Helper()
	all, err := profile.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	now := laid.Add(time.Duration(day * 24 * float64(time.Hour)))
	h := forecast.House{
		Now:    now,
		Groups: track.Groups(booktest.Fold(t, bookOf(day, layings...)), func(string) (bool, bool) { return false, false }),
		Profile: func(name string) (profile.Profile, bool) {
			i := slices.IndexFunc(all, func(p profile.Profile) bool { return p.Name == name })
			if i < 0 {
				return profile.Profile{}, false
			}
			return all[i], true
		},
		Climate: func(track.Source) thermal.ZoneHistory {
			var days thermal.ZoneHistory
			for d := range int(day) {
				days = append(days, thermal.Day{Start: laid.AddDate(0, 0, d), Mean: c})
			}
			return days
		},
		SetPoint:   func(track.Source) float64 { return math.NaN() },
		Spread:     func(string) float64 { return 0 },
		Difference: func(k float64) string { return fmt.Sprintf("%.1f K", k) },
	}
	h.Track = trackOf(t, h, c)
	return h
}

// trackOf gives what the groups of a house felt at one temperature.
func trackOf(t testing.TB, h forecast.House, c float64) func(key string) *track.Track {
	t.Helper()
	tracks := map[string]*track.Track{}
	for _, g := range h.Groups {
		x, err := track.Rebuild(constant(c), g.Stays, h.Now, 10*time.Minute)
		if err != nil {
			t.Fatal(err)
		}
		tracks[g.Track] = x
	}
	return func(key string) *track.Track { return tracks[key] }
}

// constant is a past at one temperature that is summed in one step.
type constant float64

func (c constant) Samples(s track.Source, warmer float64, from, to time.Time) iter.Seq2[thermal.Sample, error] {
	return func(func(thermal.Sample, error) bool) {}
}

func (c constant) Exposure(_ track.Source, warmer float64, from, to time.Time) (x thermal.Exposure, first, last thermal.Sample, ok bool, err error) {
	if !to.After(from) {
		return x, first, last, true, nil
	}
	celsius := float64(c) + warmer
	return x.Steady(celsius, to.Sub(from)), thermal.Sample{At: from, Celsius: celsius}, thermal.Sample{At: to, Celsius: celsius}, true, nil
}

// daysOf are a time's days since the book began.
func daysOf(at time.Time) float64 { return at.Sub(laid).Hours() / 24 }

// on is the forecast of a clutch on a day.
func on(t testing.TB, c, day float64, id string, layings ...laying) forecast.Hatch {
	t.Helper()
	return hatchOf(t, houseAt(t, c, day, layings...), id)
}

func hatched(day float64) fate { return fate{day, "hatched"} }

// alone is a clutch of two eggs in the box of its own.
func alone(id, dam string, day int) laying {
	return laying{id: id, dam: dam, day: day, eggs: 2, fate: map[int]fate{}}
}

// with is the same clutch, after something became of an egg.
func (l laying) with(egg int, f fate) laying {
	l.fate = maps.Clone(l.fate)
	l.fate[egg] = f
	return l
}

type (
	group  = track.Group
	source = track.Source
)

// sourceOf is the probe of a clutch's own box.
func sourceOf(clutch string) source { return source{Probe: "probe box " + clutch} }
