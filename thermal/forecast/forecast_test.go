package forecast_test

import (
	"fmt"
	"iter"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book/booktest"
	"example.com/ootherm/thermal/forecast"
	"example.com/ootherm/thermal/profile"
	"example.com/ootherm/thermal/track"
)

const (
	gap     = 10 * time.Minute
	celsius = 25.0
	species = "crested gecko"
)

var laid = time.Date(2026, 4, 1, 0, 0, 0, 0, time.UTC)

// steady is a past at one temperature, a sample each ten minutes.
type steady float64

func (c steady) Samples(_ track.Source, warmer float64, from, to time.Time) iter.Seq2[thermal.Sample, error] {
	return func(yield func(thermal.Sample, error) bool) {
		for at := from.Truncate(gap); at.Before(to); at = at.Add(gap) {
			if !at.Before(from) && !yield(thermal.Sample{At: at, Celsius: float64(c) + warmer}, nil) {
				return
			}
		}
	}
}

func (steady) Exposure(track.Source, float64, time.Time, time.Time) (x thermal.Exposure, first, last thermal.Sample, ok bool, err error) {
	return x, first, last, false, nil
}

// book is one dam's clutches, each of one egg that was placed at some day.
type clutch struct {
	id      string
	placed  int // days after it was laid
	hatched int // days after it was laid; 0: it waits
	probe   bool
}

func linesOf(clutches ...clutch) string {
	lines := new(booktest.Lines)
	day := func(n int) string { return laid.AddDate(0, 0, n).Format(time.DateOnly) }
	lines.Add(day(0), `"dam","dam":"Sorrel","profile":%q`, species)
	for i, c := range clutches {
		probe := ""
		if c.probe {
			probe = fmt.Sprintf(`,"probe":"p%d"`, i)
		}
		lines.Add(day(0), `"box","box":"B%d","zone":"room"%s`, i, probe)
		lines.Clutch(day(0), c.id, `"dam":"Sorrel",`, 1)
	}
	for i, c := range clutches {
		lines.Add(day(c.placed), `"placed","egg":"%s-1","box":"B%d","slot":"a"`, c.id, i)
	}
	for _, c := range clutches {
		if c.hatched > 0 {
			lines.Add(day(c.hatched), `"hatched","egg":"%s-1"`, c.id)
		}
	}
	return lines.String()
}

// houseOf is a house at one temperature, some days after its clutches were laid.
func houseOf(t *testing.T, days int, clutches ...clutch) forecast.House {
	t.Helper()
	all, err := profile.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	h := forecast.House{
		Now:    laid.AddDate(0, 0, days),
		Groups: track.Groups(booktest.Fold(t, linesOf(clutches...)), func(string) (bool, bool) { return false, false }),
		Profile: func(name string) (profile.Profile, bool) {
			i := slices.IndexFunc(all, func(p profile.Profile) bool { return p.Name == name })
			if i < 0 {
				return profile.Profile{}, false
			}
			return all[i], true
		},
		Climate:    func(track.Source) thermal.ZoneHistory { return nil },
		SetPoint:   func(track.Source) float64 { return celsius },
		Spread:     func(string) float64 { return 0 },
		Difference: func(k float64) string { return fmt.Sprintf("%.1f K", k) },
	}
	tracks := map[string]*track.Track{}
	for _, g := range h.Groups {
		x, err := track.Rebuild(steady(celsius), g.Stays, h.Now, gap)
		if err != nil {
			t.Fatal(err)
		}
		tracks[g.Track] = x
	}
	h.Track = func(key string) *track.Track { return tracks[key] }
	return h
}

// hatchOf is the forecast of the first group of a clutch.
func hatchOf(t testing.TB, h forecast.House, clutch string) forecast.Hatch {
	t.Helper()
	for _, g := range h.Groups {
		if g.Clutch == clutch {
			x, ok := forecast.New().Next(h).Of(g)
			if !ok {
				t.Fatalf("%s has no forecast", clutch)
			}
			return x
		}
	}
	t.Fatalf("the book has no %s", clutch)
	return forecast.Hatch{}
}

// A probe in the box is known to 0.3 K. Without one the box may be as far from its zone
// as half of what the zone's probes show, and 0.4 K at least.
func TestHowWrongTheTemperatureIs(t *testing.T) {
	for _, x := range []struct {
		probe  bool
		spread float64
		want   float64
	}{{true, 0, 0.3}, {true, 4, 0.3}, {false, 0, 0.5}, {false, 0.7, 0.5}, {false, 1.6, math.Hypot(0.3, 0.8)}} {
		h := houseOf(t, 30, clutch{id: "S1", probe: x.probe})
		h.Spread = func(string) float64 { return x.spread }
		if got := hatchOf(t, h, "S1").Heat.ProbeSD; math.Abs(got-x.want) > 0.01 {
			t.Errorf("own probe %v, the zone's probes %.1f K apart: %.3f K, want %.3f", x.probe, x.spread, got, x.want)
		}
	}
	calibrated := houseOf(t, 30, clutch{id: "S1", probe: true})
	rough := hatchOf(t, calibrated, "S1").Window
	calibrated.ProbeError = func(src track.Source, since time.Time) float64 {
		if src.Probe != "p0" || since.After(laid) {
			t.Errorf("asked for %v since %v, want its probe since it was laid", src, since)
		}
		return 0.1
	}
	if x := hatchOf(t, calibrated, "S1"); x.Heat.ProbeSD != 0.1 || x.Window.LateAfter.Sub(x.Window.CheckFrom) >= rough.LateAfter.Sub(rough.CheckFrom) {
		t.Errorf("with a probe calibrated to 0.1 K: %.2f K, %v wide, before %v", x.Heat.ProbeSD, x.Window.LateAfter.Sub(x.Window.CheckFrom), rough.LateAfter.Sub(rough.CheckFrom))
	}
	// A box without a probe, in a zone with one probe, has that probe's bias.
	shared := houseOf(t, 30, clutch{id: "S1", probe: true}, clutch{id: "S2"})
	shared.OnlyProbe = func(string) string { return "p0" }
	shared.ProbeError = calibrated.ProbeError
	if got, want := hatchOf(t, shared, "S2").Heat.ProbeSD, math.Hypot(0.1, 0.4); math.Abs(got-want) > 0.01 {
		t.Errorf("by the zone's one probe, calibrated: %.3f K, want %.3f", got, want)
	}
	if n := forecast.Biases(shared); n != 1 {
		t.Errorf("%d biases of one probe", n)
	}
	width := func(probe bool) time.Duration {
		w := hatchOf(t, houseOf(t, 30, clutch{id: "S1", probe: probe}), "S1").Window
		return w.LateAfter.Sub(w.CheckFrom)
	}
	if with, without := width(true), width(false); without <= with {
		t.Errorf("the window is %v wide without a probe and %v with one", without, with)
	}
}

// Eggs that lay elsewhere before they were placed were there within 3 K of their first
// day in the box.
func TestBeforePlacing(t *testing.T) {
	const unplaced, inBox = 20, 10
	x := hatchOf(t, houseOf(t, unplaced+inBox, clutch{id: "S1", placed: unplaced, probe: true}), "S1")
	_, low, high := x.Heat.Since.Bridged(x.Rate)
	for _, y := range []struct {
		name      string
		got, want float64
	}{
		{"coldest", low, unplaced*x.Rate.PerDay(celsius-3) + inBox*x.Rate.PerDay(celsius)},
		{"warmest", high, unplaced*x.Rate.PerDay(celsius+3) + inBox*x.Rate.PerDay(celsius)},
	} {
		if math.Abs(y.got/y.want-1) > 0.005 {
			t.Errorf("%s: developed %.4f, want %.4f", y.name, y.got, y.want)
		}
	}
}

// A hatch within four standard deviations of what is published teaches; one beyond that
// is named, and does not.
func TestHatchesThatAreNotBelieved(t *testing.T) {
	h := houseOf(t, 200, clutch{id: "S1", probe: true})
	p, _ := h.Profile(species)
	prior, err := forecast.New().Prior(p)
	if err != nil {
		t.Fatal(err)
	}
	want, sd := prior.Predict(thermal.Observed{Celsius: celsius, Own: true, Eggs: 1})
	for _, x := range []struct {
		sds      float64
		believed bool
	}{{-5.2, false}, {-3, true}, {3, true}, {5.2, false}} {
		days := int(math.Exp(want+x.sds*sd) + 0.5)
		h := houseOf(t, days+30, clutch{id: "S1", probe: true, hatched: days}, clutch{id: "S2", placed: days, probe: true})
		b := hatchOf(t, h, "S2")
		named := slices.ContainsFunc(b.Because, func(s string) bool { return strings.HasPrefix(s, "S1 hatched after") })
		learned := slices.ContainsFunc(b.Because, func(s string) bool { return strings.Contains(s, "comes from your own hatches") })
		if learned != x.believed || named == x.believed {
			t.Errorf("a hatch after %d days, %.1f standard deviations off: learned %v, named %v; %q", days, x.sds, learned, named, b.Because)
		}
		d := forecast.New().Next(h).Durations["S1"]
		if d.Implausible == x.believed || math.Abs(d.Days-float64(days)) > 0.01 {
			t.Errorf("%.1f standard deviations off: %+v", x.sds, d)
		}
	}
}

// Where nothing is known of a source, its box runs at the usual of its species, give or
// take 2.5 K.
func TestUnknownClimate(t *testing.T) {
	h := houseOf(t, 30, clutch{id: "S1", probe: true})
	h.SetPoint = func(track.Source) float64 { return math.NaN() }
	p, _ := h.Profile(species)
	got := hatchOf(t, h, "S1")
	b, err := forecast.New().Belief(h, h.Groups[0])
	if err != nil {
		t.Fatal(err)
	}
	want := thermal.Steady(p.Usual, 2.5).Outlook(b, h.Now).Window(got.Heat)
	if got.Window.CheckFrom.Sub(want.CheckFrom).Abs() > time.Hour || got.Window.LateAfter.Sub(want.LateAfter).Abs() > 2*time.Hour {
		t.Errorf("the window is %v to %v, want %v to %v", got.Window.CheckFrom, got.Window.LateAfter, want.CheckFrom, want.LateAfter)
	}
}

// A group whose exposure is being rebuilt keeps its window. A late one keeps the one that
// it had.
func TestLastWindow(t *testing.T) {
	h := houseOf(t, 60, clutch{id: "S1", probe: true})
	g := h.Groups[0]
	first := forecast.New().Next(h)
	open, _ := first.Of(g)
	if open.Window.Late || open.Last == nil || !open.Last.Likely.Equal(open.Window.Likely) {
		t.Fatalf("after 60 days: %+v", open)
	}
	h.Track = func(string) *track.Track { return nil }
	if kept, ok := first.Next(h).Of(g); !ok || kept.Window.Likely != open.Window.Likely {
		t.Error("while it is rebuilt the group has another window, or none")
	}
	if _, ok := forecast.New().Next(h).Of(g); ok {
		t.Error("a group of which nothing is known has a forecast")
	}
	long := houseOf(t, 400, clutch{id: "S1", probe: true})
	late, _ := first.Next(long).Of(g)
	if !late.Window.Late || late.State != forecast.LateState || late.Last == nil || late.Last.LateAfter.Sub(open.Window.LateAfter).Abs() > 4*24*time.Hour {
		t.Errorf("after 400 days: %q, last %+v, was %+v", late.State, late.Last, open.Window)
	}
}

// A species that says nothing leaves its group with a reason and without a window; the
// others have theirs.
func TestSpeciesWithoutBelief(t *testing.T) {
	h := houseOf(t, 30, clutch{id: "S1", probe: true})
	h.Profile = func(string) (profile.Profile, bool) { return profile.Profile{Name: "unknown"}, true }
	x := hatchOf(t, h, "S1")
	if x.Rate != nil || len(x.Because) != 1 {
		t.Errorf("got %+v, want a reason alone", x)
	}
	h.Profile = func(name string) (profile.Profile, bool) { return profile.Profile{}, false }
	if _, ok := forecast.New().Next(h).Of(h.Groups[0]); ok {
		t.Error("a group without a species has a forecast")
	}
}

// What a window rests on is said: a box without a probe, one that is warmer, and hatches
// of other species.
func TestBecause(t *testing.T) {
	h := houseOf(t, 30, clutch{id: "S1"})
	h.Groups[0].Offset = -0.5
	because := strings.Join(hatchOf(t, h, "S1").Because, "\n")
	for _, part := range []string{"the box has no probe of its own: that of the room was used", "by the book the box is 0.5 K colder than the room"} {
		if !strings.Contains(because, part) {
			t.Errorf("it lacks %q:\n%s", part, because)
		}
	}
	arrested := houseOf(t, 30, clutch{id: "S1", probe: true})
	arrested.Groups[0].Arrested = true
	if x := hatchOf(t, arrested, "S1"); x.Window.Exists() || !strings.Contains(strings.Join(x.Because, "\n"), "to mark it, note about S1") {
		t.Errorf("an arrested clutch: %q", x.Because)
	}
}

// A clutch whose eggs lay apart took the mean of their days; one of which an egg waits
// is not over.
func TestDurations(t *testing.T) {
	h := houseOf(t, 100, clutch{id: "S1", hatched: 80, probe: true}, clutch{id: "S2", hatched: 90, probe: true}, clutch{id: "S3", probe: true})
	all := forecast.New().Next(h).Durations
	if len(all) != 2 || all["S1"].Days != 80 || all["S2"].Days != 90 || all["S1"].SD <= 0 {
		t.Errorf("durations %+v, want those of S1 and S2", all)
	}
	for _, g := range h.Groups {
		g.Clutch = "S1"
	}
	if all := forecast.New().Next(h).Durations; len(all) != 0 {
		t.Errorf("durations %+v of a clutch that waits", all)
	}
	h.Groups = h.Groups[:2]
	h.Groups[1].Born = 3 // three of its four eggs
	if got := forecast.New().Next(h).Durations["S1"].Days; math.Abs(got-87.5) > 0.01 {
		t.Errorf("one egg after 80 days and three after 90 are %.2f, want 87.5", got)
	}
}

// Each egg is scored by the last window that was shown for it, in the box in which it
// was, by a share of its days.
func TestScore(t *testing.T) {
	b := booktest.Fold(t, linesOf(clutch{id: "S1", hatched: 80, probe: true}, clutch{id: "S2", hatched: 100, probe: true}, clutch{id: "S3", probe: true}))
	day := func(n int) time.Time { return laid.AddDate(0, 0, n) }
	window := func(clutch, box string, at, from, likely, late int) forecast.Shown {
		return forecast.Shown{Clutch: clutch, Box: box, At: day(at), CheckFrom: day(from), Likely: day(likely), LateAfter: day(late)}
	}
	got := forecast.ScoreShown(b, []forecast.Shown{
		window("S1", "B0", 10, 60, 70, 79),
		window("S1", "B0", 30, 70, 84, 90),
		window("S1", "B9", 31, 1, 2, 3),    // it was never there
		window("S1", "B0", 70, 81, 81, 82), // it hatches before
		window("S2", "B1", 40, 90, 95, 105),
		window("S3", "B2", 40, 90, 95, 105),
	})
	if got.Hatches != 2 || len(got.Ways) != 4 || len(got.Eggs) != 7 {
		t.Fatalf("got %d hatches at %d points, %d in all; want 2, 4 and 7", got.Hatches, len(got.Ways), len(got.Eggs))
	}
	quarter, half := got.Ways[0], got.Ways[1]
	// By hand: a tenth of a normal in log days before the first figure, a twentieth after the
	// second one.
	density := func(from, late, hatched float64) float64 {
		from, late, hatched = math.Log(from), math.Log(late), math.Log(hatched)
		sd := (late - from) / (1.2816 + 1.6449)
		off := (hatched - from - 1.2816*sd) / sd
		return math.Log(math.Exp(-off*off/2) / sd / math.Sqrt(2*math.Pi))
	}
	score := func(x *forecast.WayScore) (v float64) {
		v, x.LogScore = x.LogScore, 0
		return v
	}
	if got, want := score(&quarter), density(60, 79, 80); math.Abs(got-want) > 1e-3 {
		t.Errorf("by a quarter of the way the log score is %.3f, want %.3f", got, want)
	}
	if got, want := score(&half), (density(70, 90, 80)+density(90, 105, 100))/2; math.Abs(got-want) > 1e-3 {
		t.Errorf("by half of the way the log score is %.3f, want %.3f", got, want)
	}
	score(&got.Ages[1].Score)
	if got := got.Ways[3]; got.Early != 1 || got.Late != 0 {
		t.Errorf("at the end: %d before check-from and %d after late-after, want 1 and none", got.Early, got.Late)
	}
	if quarter != (forecast.WayScore{Way: 0.25, N: 1, Late: 1, Inside: 0, MeanDaysOff: 10, MeanWidth: 19}) {
		t.Errorf("by a quarter of the way: %+v", quarter)
	}
	if half != (forecast.WayScore{Way: 0.5, N: 2, Inside: 1, MeanDaysOff: 4.5, MeanWidth: 17.5}) {
		t.Errorf("by half of the way: %+v", half)
	}
	if got := got.Ages[1]; got != (forecast.AgeScore{AgeDays: 60, Score: forecast.WayScore{N: 2, Inside: 1, MeanDaysOff: 4.5, MeanWidth: 17.5}}) {
		t.Errorf("after 60 days: %+v", got)
	}
	if got := got.Ages[2]; got.AgeDays != 90 || got.Score.N != 1 || got.Score.MeanDaysOff != 5 {
		t.Errorf("after 90 days, when one had hatched: %+v", got)
	}
	unlikely := window("S1", "B0", 10, 60, 70, 79)
	unlikely.Likely = time.Time{}
	if got := forecast.ScoreShown(b, []forecast.Shown{unlikely}); !math.IsNaN(got.Ways[0].MeanDaysOff) || got.Ways[0].N != 1 || !math.IsNaN(got.Eggs[0].DaysOff) {
		t.Errorf("a window without a likely day: %+v", got)
	}
	none := forecast.ScoreShown(b, nil)
	if none.Hatches != 0 || len(none.Ways) != 4 || !math.IsNaN(none.Ways[0].Inside) {
		t.Errorf("without a window there is a score: %+v", none)
	}
}
