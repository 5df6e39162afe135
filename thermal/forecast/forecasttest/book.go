package forecasttest

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

// Species is the species of all dams.
const Species = "crested gecko"

// Began is day 0 of every book.
var Began = time.Date(2026, 4, 1, 0, 0, 0, 0, time.UTC)

// At is a time so many days after a book began.
func At(day float64) time.Time { return Began.Add(time.Duration(day * 24 * float64(time.Hour))) }

// Day is a time's days since the book began.
func Day(at time.Time) float64 { return at.Sub(Began).Hours() / 24 }

// Laying is a clutch of a book. Its days count from the first day of the book.
type Laying struct {
	ID, Dam string
	Box     string // empty: its own
	Day     int
	Eggs    int
	Fates   map[int]Fate // by egg, from 1
}

// Fate is what became of an egg, and on which day.
type Fate struct {
	Day  float64
	What string // hatched, pipped, lost, fertile
}

// Alone is a clutch of two eggs in a box of its own.
func Alone(id, dam string, day int) Laying {
	return Laying{ID: id, Dam: dam, Day: day, Eggs: 2, Fates: map[int]Fate{}}
}

// With is the same clutch, after something became of an egg.
func (l Laying) With(egg int, f Fate) Laying {
	l.Fates = maps.Clone(l.Fates)
	l.Fates[egg] = f
	return l
}

// Boxed is the box of a clutch.
func (l Laying) Boxed() string { return cmp.Or(l.Box, "box "+l.ID) }

// Probe is the probe in a box.
func Probe(box string) string { return "probe " + box }

// Book writes a book until a day, as lines. Every box has a probe and stands in the zone
// room.
func Book(until float64, layings ...Laying) string {
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
		return At(day).Format(time.RFC3339)
	}
	for _, l := range layings {
		box := l.Boxed()
		day := float64(l.Day)
		if !dams[l.Dam] {
			dams[l.Dam] = true
			add(-2, `{"entry":"dam","dam":%q,"profile":%q,"at":%q}`, l.Dam, Species, at(-2))
		}
		if !dams["box "+box] {
			dams["box "+box] = true
			add(-1, `{"entry":"box","box":%q,"zone":"room","probe":%q,"at":%q}`, box, Probe(box), at(-1))
		}
		add(day, `{"entry":"clutch","clutch":%q,"dam":%q,"laid_after":%q,"laid_by":%q,"eggs":%d,"at":%q}`, l.ID, l.Dam, at(day-1), at(day), l.Eggs, at(day))
		for e := range l.Eggs {
			add(day, `{"entry":"placed","egg":"%s-%d","box":%q,"slot":"%s%d","at":%q}`, l.ID, e+1, box, l.ID, e+1, at(day))
			if f, ok := l.Fates[e+1]; ok {
				if f.What == "fertile" {
					add(f.Day, `{"entry":"candled","egg":"%s-%d","verdict":"fertile","at":%q}`, l.ID, e+1, at(f.Day))
				} else {
					add(f.Day, `{"entry":%q,"egg":"%s-%d","at":%q}`, f.What, l.ID, e+1, at(f.Day))
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

// HouseAt is a house at one temperature, as its book is on a day.
func HouseAt(t testing.TB, c, day float64, layings ...Laying) forecast.House {
	t.Helper()
	all, err := profile.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	now := At(day)
	h := forecast.House{
		Now:    now,
		Groups: track.Groups(booktest.Fold(t, Book(day, layings...)), func(string) (bool, bool) { return false, false }),
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
				days = append(days, thermal.Day{Start: Began.AddDate(0, 0, d), Mean: c})
			}
			return days
		},
		SetPoint:   func(track.Source) float64 { return math.NaN() },
		Spread:     func(string) float64 { return 0 },
		Difference: func(k float64) string { return fmt.Sprintf("%.1f K", k) },
	}
	h.Track = Tracks(t, h, c)
	return h
}

// Tracks gives what the groups of a house felt at one temperature.
func Tracks(t testing.TB, h forecast.House, c float64) func(key string) *track.Track {
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
