package track_test

import (
	"errors"
	"iter"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/booktest"
	"example.com/ootherm/thermal/profile"
	"example.com/ootherm/thermal/track"
)

const gap = 10 * time.Minute

var (
	began     = time.Date(2026, 4, 2, 19, 0, 0, 0, time.UTC)
	errDamage = errors.New("damaged")
)

// past is what sources did: samples in order of time. An error stands at damaged.
type past struct {
	samples map[track.Source][]thermal.Sample
	damaged time.Time
}

func (p past) Samples(s track.Source, warmer float64, from, to time.Time) iter.Seq2[thermal.Sample, error] {
	return func(yield func(thermal.Sample, error) bool) {
		failed := p.damaged.IsZero() || p.damaged.Before(from) || !p.damaged.Before(to)
		for _, x := range p.samples[s] {
			if !failed && x.At.After(p.damaged) {
				failed = true
				if !yield(thermal.Sample{Celsius: math.NaN()}, errDamage) {
					return
				}
			}
			if x.At.Before(from) || !x.At.Before(to) {
				continue
			}
			x.Celsius += warmer
			if !yield(x, nil) {
				return
			}
		}
	}
}

// Exposure sums the samples of a source with a probe, as a store with sums does.
func (p past) Exposure(s track.Source, warmer float64, from, to time.Time) (x thermal.Exposure, first, last thermal.Sample, ok bool, err error) {
	if s.Probe == "" {
		return x, first, last, false, nil
	}
	for y, e := range p.Samples(s, warmer, from, to) {
		switch {
		case e != nil:
			err = e
			continue
		case first.At.IsZero():
			first = y
		case y.At.Sub(last.At) > gap:
			x = x.Gap(thermal.Gap{From: last.At, To: y.At, Before: last.Celsius, After: y.Celsius})
		default:
			x.Add(last, y)
		}
		last = y
	}
	return x, first, last, true, err
}

var (
	room  = track.Source{Zone: "room"}
	probe = track.Source{Probe: "p"}
)

// wandering is a source that wanders, a sample each minute, with holes.
func wandering(rng *rand.Rand, long time.Duration) (all []thermal.Sample) {
	c := 25.0
	for at := began.Add(-time.Hour); at.Before(began.Add(long)); at = at.Add(time.Minute) {
		c += rng.NormFloat64() * 0.1
		if h := at.Sub(began).Hours(); h > 20 && h < 22 {
			continue
		}
		all = append(all, thermal.Sample{At: at.Add(17 * time.Second), Celsius: c})
	}
	return all
}

func near(a, b, within float64) bool { return math.Abs(a-b) <= within }

// same fails unless two exposures came to the same.
func same(t *testing.T, what string, got, want thermal.Exposure) {
	t.Helper()
	if got.Measured() != want.Measured() || got.Missing() != want.Missing() || !near(got.Mean(), want.Mean(), 1e-9) {
		t.Errorf("%s: %v measured, %v missing, mean %.6f; want %v, %v, %.6f", what,
			got.Measured(), got.Missing(), got.Mean(), want.Measured(), want.Missing(), want.Mean())
	}
}

// What was followed as it came is what is rebuilt at the end, whenever the following
// began, in a zone and under a probe, warmer than the source and moved on the way.
func TestFollowedIsRebuilt(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	p := past{samples: map[track.Source][]thermal.Sample{room: wandering(rng, 60*time.Hour), probe: wandering(rng, 60*time.Hour)}}
	moved := began.Add(30*time.Hour + 30*time.Second)
	for _, stays := range [][]book.Stay{
		{{Zone: "room", From: began}},
		{{Zone: "room", Probe: "p", From: began, Offset: 0.7}},
		{{Zone: "room", From: began, To: moved}, {Zone: "room", Probe: "p", From: moved, Offset: -0.3}},
		{{Zone: "room", Probe: "p", From: began, To: moved}, {Zone: "room", From: moved}},
	} {
		last := stays[len(stays)-1]
		end := began.Add(60 * time.Hour)
		want, err := track.Rebuild(p, stays, end, gap)
		if err != nil {
			t.Fatal(err)
		}
		for _, from := range []time.Duration{31 * time.Hour, 40*time.Hour + 11*time.Second, 59 * time.Hour} {
			got, err := track.Rebuild(p, stays, began.Add(from), gap)
			if err != nil {
				t.Fatal(err)
			}
			for s := range p.Samples(track.SourceOf(last), last.Offset, began, end) {
				got.Observe(s)
			}
			same(t, from.String(), got.UpTo(end), want.UpTo(end))
			same(t, from.String()+", first day", got.FirstDay(), want.FirstDay())
		}
		if m := want.UpTo(end).Missing(); m < 2*time.Hour || m > 2*time.Hour+2*time.Minute {
			t.Errorf("%v are missing, want the two hours without samples", m)
		}
	}
}

// The first day is that of the first 24 hours in a box, whatever came after.
func TestFirstDay(t *testing.T) {
	var all []thermal.Sample
	for at := began; at.Before(began.Add(72 * time.Hour)); at = at.Add(time.Minute) {
		c := 22.0
		if at.Sub(began) >= 24*time.Hour {
			c = 30
		}
		all = append(all, thermal.Sample{At: at, Celsius: c})
	}
	p := past{samples: map[track.Source][]thermal.Sample{room: all}}
	x, err := track.Rebuild(p, []book.Stay{{Zone: "room", From: began}}, began.Add(72*time.Hour), gap)
	if err != nil {
		t.Fatal(err)
	}
	if d := x.FirstDay(); !near(d.Mean(), 22, 0.01) || d.Measured() != 24*time.Hour {
		t.Errorf("the first day has %v at %.2f C, want 24 h at 22", d.Measured(), d.Mean())
	}
}

// What cannot be read is a gap with its bounds; what follows counts, and the error is told.
func TestDamageIsAGap(t *testing.T) {
	for _, stay := range []book.Stay{{Zone: "room", From: began}, {Zone: "room", Probe: "p", From: began}} {
		var all []thermal.Sample
		for at := began; at.Before(began.Add(12 * time.Hour)); at = at.Add(time.Minute) {
			if h := at.Sub(began).Hours(); h < 3 || h >= 9 {
				all = append(all, thermal.Sample{At: at, Celsius: 25})
			}
		}
		p := past{samples: map[track.Source][]thermal.Sample{track.SourceOf(stay): all}, damaged: began.Add(3*time.Hour - time.Minute)}
		x, err := track.Rebuild(p, []book.Stay{stay}, began.Add(12*time.Hour), gap)
		if !errors.Is(err, errDamage) {
			t.Errorf("the error is %v", err)
		}
		gaps := x.UpTo(began.Add(12 * time.Hour)).Gaps()
		if len(gaps) != 1 || !gaps[0].From.Equal(began.Add(3*time.Hour-time.Minute)) || !gaps[0].To.Equal(began.Add(9*time.Hour)) {
			t.Errorf("%s: gaps %+v, want one from hour 3 to hour 9", track.SourceOf(stay), gaps)
		}
	}
}

// A sample before the last adds nothing, also when the clock of one probe is behind.
func TestLateSamples(t *testing.T) {
	x, err := track.Rebuild(past{}, []book.Stay{{Zone: "room", From: began}}, began, gap)
	if err != nil {
		t.Fatal(err)
	}
	for _, minute := range []int{0, 5, 3, 4, 8} {
		x.Observe(thermal.Sample{At: began.Add(time.Duration(minute) * time.Minute), Celsius: 25})
	}
	if m := x.UpTo(began.Add(8 * time.Minute)).Measured(); m != 8*time.Minute {
		t.Errorf("%v were measured, want 8 min", m)
	}
	done := track.Empty()
	done.Observe(thermal.Sample{At: began, Celsius: 25})
	if x := done.UpTo(began.Add(time.Hour)); x.Measured() != 0 || x.Missing() != 0 {
		t.Error("an empty track took a sample")
	}
}

// A stay without any sample is a gap without bounds of temperature.
func TestNothingMeasured(t *testing.T) {
	x, err := track.Stay(past{}, book.Stay{Zone: "room", Probe: "p", From: began, To: began.Add(time.Hour)}, gap)
	if err != nil || x.Missing() != time.Hour || x.Measured() != 0 {
		t.Errorf("%v missing, %v measured, %v; want an hour missing", x.Missing(), x.Measured(), err)
	}
}

const season = `{"key":"a1","at":"2026-04-02T19:00:00Z","entry":"dam","dam":"Sorrel","profile":"crested gecko"}
{"key":"a2","at":"2026-04-02T19:00:00Z","entry":"box","box":"B1","zone":"room"}
{"key":"a3","at":"2026-04-02T19:00:00Z","entry":"box","box":"B2","zone":"room","probe":"p","offset_k":0.5}
{"key":"a4","at":"2026-04-02T19:00:00Z","entry":"clutch","clutch":"S1","dam":"Sorrel","eggs":3,"laid_after":"2026-04-01T19:00:00Z","laid_by":"2026-04-02T19:00:00Z"}
{"key":"a5","at":"2026-04-02T19:00:00Z","entry":"placed","egg":"S1-1","box":"B1","slot":"a"}
{"key":"a6","at":"2026-04-02T19:00:00Z","entry":"placed","egg":"S1-2","box":"B1","slot":"b"}
{"key":"a7","at":"2026-04-02T19:00:00Z","entry":"placed","egg":"S1-3","box":"B2","slot":"a"}
`

func TestGroups(t *testing.T) {
	never := func(string) (bool, bool) { return false, false }
	all := track.Groups(booktest.Fold(t, season+`{"key":"b1","at":"2026-06-01T19:00:00Z","entry":"hatched","egg":"S1-1"}
{"key":"b2","at":"2026-06-03T19:00:00Z","entry":"hatched","egg":"S1-2"}
`), never)
	if len(all) != 2 {
		t.Fatalf("%d groups, want those of two boxes", len(all))
	}
	over, open := all[0], all[1]
	if over.Box != "B1" || over.Waiting || over.Born != 2 || over.Left() != 0 || !over.Hatched.Equal(time.Date(2026, 6, 2, 19, 0, 0, 0, time.UTC)) {
		t.Errorf("the group that is over: %+v", over)
	}
	if open.Box != "B2" || !open.Waiting || open.Left() != 1 || open.Probe != "p" || open.Offset != 0.5 || open.Track == over.Track || open.ID() == over.ID() {
		t.Errorf("the group that waits: %+v", open)
	}
	b := booktest.Fold(t, season+`{"key":"b1","at":"2026-04-20T19:00:00Z","entry":"note","about":"S1","text":"Development resumed: warm."}
`)
	for _, g := range track.Groups(b, func(string) (bool, bool) { return true, true }) {
		if g.Arrested || !g.Resumed.Equal(time.Date(2026, 4, 20, 19, 0, 0, 0, time.UTC)) || !g.Stays[0].From.Equal(g.Resumed) {
			t.Errorf("development resumed on 20 April: arrested %v, resumed %v, stays %+v", g.Arrested, g.Resumed, g.Stays)
		}
	}
	// Where the published days include the arrest, heat counts from laying.
	whole := track.Groups(b, never)
	for i, g := range track.Groups(b, func(string) (bool, bool) { return true, false }) {
		if g.Arrested || !g.Resumed.IsZero() || g.Track != whole[i].Track {
			t.Errorf("days that include the arrest: arrested %v, resumed %v, stays %+v", g.Arrested, g.Resumed, g.Stays)
		}
	}
	for _, g := range track.Groups(booktest.Fold(t, season), func(string) (bool, bool) { return true, true }) {
		if !g.Arrested || !g.Resumed.IsZero() {
			t.Errorf("nothing is noted: arrested %v, resumed %v", g.Arrested, g.Resumed)
		}
	}
}

// An egg that was elsewhere for weeks and rejoins its box keeps its own heat, whatever it is
// called. One that was placed an evening later, or left the box first, is of the group.
func TestEggsThatRejoinAreAGroupOfTheirOwn(t *testing.T) {
	never := func(string) (bool, bool) { return false, false }
	b := booktest.Fold(t, season+`{"key":"b1","at":"2026-04-03T07:00:00Z","entry":"clutch","clutch":"S2","dam":"Sorrel","eggs":3,"laid_after":"2026-04-02T19:00:00Z","laid_by":"2026-04-02T19:00:00Z"}
{"key":"b2","at":"2026-04-03T08:00:00Z","entry":"placed","egg":"S2-1","box":"B1","slot":"c"}
{"key":"b3","at":"2026-04-03T18:00:00Z","entry":"placed","egg":"S2-2","box":"B1","slot":"d"}
{"key":"b4","at":"2026-04-03T18:00:00Z","entry":"placed","egg":"S2-3","box":"B1","slot":"e"}
{"key":"b5","at":"2026-04-05T19:00:00Z","entry":"lost","egg":"S2-3"}
{"key":"b6","at":"2026-04-25T19:00:00Z","entry":"moved","egg":"S1-3","box":"B1","slot":"g"}
`)
	var got []string
	tracks, ids := map[string]bool{}, map[string]bool{}
	for _, g := range track.Groups(b, never) {
		for _, e := range g.Eggs {
			got = append(got, g.Apart+"|"+g.Box+" "+e.ID)
		}
		tracks[g.Track], ids[g.ID()] = true, true
	}
	want := []string{"|B1 S1-1", "|B1 S1-2", "S1-3|B1 S1-3", "|B1 S2-1", "|B1 S2-2", "|B1 S2-3"}
	if !slices.Equal(got, want) || len(tracks) != 3 || len(ids) != 3 {
		t.Errorf("groups %q with %d exposures and %d names, want %q with 3", got, len(tracks), len(ids), want)
	}
}

// Excursions counted as they come are those that are rebuilt.
func TestExcursions(t *testing.T) {
	p := profile.Profile{Climate: profile.Climate{Safe: profile.Band{Low: 20, High: 30}, Wanted: profile.Band{Low: math.Inf(-1), High: 26}}}
	if got := track.Limits(p); len(got) != 3 || !got[0].Warm || got[0].Celsius != 30 || got[2] != (track.Limit{Band: "wanted", Celsius: 26, Warm: true}) {
		t.Fatalf("limits %+v, want safe above and below, wanted above", got)
	}
	var all []thermal.Sample
	for at := began; at.Before(began.Add(6 * time.Hour)); at = at.Add(time.Minute) {
		c := 25.0
		if h := at.Sub(began).Hours(); h >= 2 && h < 3 {
			c = 28
		}
		all = append(all, thermal.Sample{At: at, Celsius: c})
	}
	stay := book.Stay{Zone: "room", Probe: "p", From: began, Offset: 0.5}
	src := past{samples: map[track.Source][]thermal.Sample{probe: all}}
	begin := func() *track.Excursions {
		return track.NewExcursions(p, thermal.DegreeDays{Base: 15, Required: 100}, 0.5, gap)
	}
	for _, upTo := range []time.Duration{0, 150 * time.Minute, 6 * time.Hour} {
		x, err := rebuildExcursions(src, begin(), []book.Stay{stay}, began.Add(upTo))
		if err != nil {
			t.Fatal(err)
		}
		for s := range src.Samples(probe, 0.5, began, began.Add(6*time.Hour)) {
			x.Observe(s)
		}
		passed := x.Past()
		if len(passed) != 1 || passed[0].Celsius != 26 || !near(passed[0].Total().Cumulative.Minutes(), 60, 1.1) || passed[0].Stage(thermal.Stages/2).Cumulative == 0 {
			t.Errorf("rebuilt up to %v: %+v, want an hour above 26 C, half of the way", upTo, passed)
		}
	}
	src.damaged = began.Add(time.Hour)
	if _, err := rebuildExcursions(src, begin(), []book.Stay{stay}, began.Add(6*time.Hour)); !errors.Is(err, errDamage) {
		t.Errorf("the error is %v", err)
	}
}

// rebuildExcursions follows one group of eggs.
func rebuildExcursions(p track.Past, x *track.Excursions, stays []book.Stay, upTo time.Time) (*track.Excursions, error) {
	all, err := track.RebuildExcursions(p, []*track.Excursions{x}, [][]book.Stay{stays}, upTo)
	return all[0], err
}
