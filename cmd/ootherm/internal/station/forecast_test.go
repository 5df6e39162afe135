package station_test

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/thermal/profile"
)

// hourly is a station that is polled once an hour, so that a season is soon over.
func hourly(t *testing.T, more ...profile.Profile) *bench {
	t.Helper()
	p := testPlan(t)
	p.Every = time.Hour
	p.Profiles = append(p.Profiles, more...)
	return newBench(t, p)
}

// live lets hours pass, a reading each time the station polls; celsius is told the hours since the station began.
func (b *bench) live(from, to int, celsius func(hour int) float64) {
	b.t.Helper()
	for h := from; h < to; h += int(b.options.Plan.Every.Hours()) {
		c := celsius(h)
		b.observe(began.Add(time.Duration(h)*time.Hour), map[string]float64{"air": c, "dummy": c + 0.2, "warm": c})
	}
}

func steady(c float64) func(int) float64 { return func(int) float64 { return c } }

// layEggs are the lines of a clutch laid and placed at an hour, with its dam.
func layEggs(hour int, clutch, dam, profile string, eggs int) string {
	at := began.Add(time.Duration(hour) * time.Hour).Format(time.RFC3339)
	var b strings.Builder
	fmt.Fprintf(&b, `{"key":"box-%[2]s","at":%[1]q,"entry":"box","box":"box %[2]s","zone":"room"}
{"key":"c-%[2]s","at":%[1]q,"entry":"clutch","clutch":%[2]q,"dam":%[3]q,"profile":%[4]q,"eggs":%[5]d,"laid_after":%[1]q,"laid_by":%[1]q}
`, at, clutch, dam, profile, eggs)
	for n := range eggs {
		fmt.Fprintf(&b, `{"key":"p-%[2]s-%[3]d","at":%[1]q,"entry":"placed","egg":"%[2]s-%[3]d","box":"box %[2]s","slot":"%[3]d"}`+"\n", at, clutch, n+1)
	}
	return b.String()
}

func dam(name, profile string) string {
	return fmt.Sprintf(`{"key":"d-%s","at":%q,"entry":"dam","dam":%[1]q,"profile":%[3]q}`+"\n", name, began.Format(time.RFC3339), profile)
}

func hatched(hour int, clutch string, n int) string {
	return fmt.Sprintf(`{"key":"h-%[2]s-%[3]d","at":%[1]q,"entry":"hatched","egg":"%[2]s-%[3]d"}`+"\n",
		began.Add(time.Duration(hour)*time.Hour).Format(time.RFC3339), clutch, n)
}

func (b *bench) clutch(id string) snapshot.Clutch {
	b.t.Helper()
	for _, x := range b.Now().Boxes {
		for _, c := range x.Clutches {
			if c.Clutch == id {
				return c
			}
		}
	}
	b.t.Fatalf("clutch %s is in no box", id)
	return snapshot.Clutch{}
}

// quick is a well known line whose eggs take 20 days at 23.3 C, so that some of it
// hatch within a test.
func quick() profile.Profile {
	p := profile.Profile{Name: "quick", Usual: 23.3, Bounds: profile.Bounds{Upper: 30}, Family: "Diplodactylidae"}
	for i := range 12 {
		p.References = append(p.References, profile.Reference{Celsius: 23.3, Days: 20, Source: "own notes", Study: fmt.Sprint(i)})
	}
	return p
}

// Eggs of one species that hatch late in this house make those of another be
// expected later too, by less; a hatch narrows the window of its own clutch's
// waiting eggs.
func TestHatchesOfAnySpeciesTeachTheHouse(t *testing.T) {
	t.Parallel()
	b := hourly(t, quick())
	b.windowsDaily()
	b.note(dam("Sorrel", "crested gecko") + dam("Quill", "quick") + layEggs(0, "S1", "Sorrel", "crested gecko", 1))
	var lines string
	for i := range 5 {
		lines += layEggs(0, fmt.Sprint("Q", i), "Quill", "quick", 2)
	}
	b.note(lines)
	b.live(0, 12*24, steady(23.3))
	before := b.clutch("S1")
	b.live(12*24, 23*24, steady(23.3))
	if err := b.Tick(t.Context(), began.Add(23*24*time.Hour)); err != nil {
		t.Fatal(err)
	}
	half := b.clutch("Q1")
	b.note(hatched(23*24, "Q1", 1))
	width := func(w *snapshot.Window) time.Duration { return w.LateAfter.Sub(w.CheckFrom) }
	if got := b.clutch("Q1").Window; width(got) > width(half.Window)*2/3 {
		t.Errorf("one of two eggs hatched: the other's window is %+v, was %+v", got, half.Window)
	}
	for i := range 5 {
		for n := range 2 {
			if i != 1 || n != 0 {
				b.note(hatched(23*24, fmt.Sprint("Q", i), n+1))
			}
		}
	}
	after := b.clutch("S1")
	if later := after.Window.Likely.Sub(before.Window.Likely).Hours() / 24; !(later > 1 && later < 15) {
		t.Errorf("five clutches a seventh late elsewhere moved the likely day by %.1f days, want some, and less than a seventh", later)
	}
	if b, a := share(before), share(after); a >= b {
		t.Errorf("the window is %.3f of the whole time wide, and was %.3f before anything had hatched", a, b)
	}
}

// A hatch after eleven days is a slip in the book, not an egg: it teaches nothing,
// and is told.
func TestAnUnbelievableHatchTeachesNothing(t *testing.T) {
	b := hourly(t, quick())
	b.note(dam("Sorrel", "crested gecko") + layEggs(0, "S1", "Sorrel", "crested gecko", 1) + layEggs(0, "S2", "Sorrel", "crested gecko", 1))
	b.live(0, 11*24+1, steady(23.3))
	before := b.clutch("S1")
	b.note(hatched(11*24, "S2", 1))
	after := b.clutch("S1")
	if after.DegreeDays.Base != before.DegreeDays.Base || after.DegreeDays.Required != before.DegreeDays.Required {
		t.Errorf("the line went from %+v to %+v", before.DegreeDays, after.DegreeDays)
	}
	if !slices.ContainsFunc(after.Because, func(s string) bool { return strings.HasPrefix(s, "S2 hatched after 1") }) {
		t.Errorf("nothing tells of S2: %q", after.Because)
	}
}

// share is how wide a window is for the whole time that its eggs take.
func share(c snapshot.Clutch) float64 {
	return c.Window.LateAfter.Sub(c.Window.CheckFrom).Hours() / c.Window.Likely.Sub(c.Laid.Latest).Hours()
}

// Eggs whose development rests have no window until the breeder notes that it goes
// on; only heat from then on counts.
func TestArrestedDevelopmentWaitsForTheNote(t *testing.T) {
	p := quick()
	p.Name, p.ArrestedDevelopment = "resting", true
	b := hourly(t, p)
	b.note(dam("Olive", "resting") + layEggs(0, "O1", "Olive", "resting", 1))
	b.live(0, 24*15, steady(23.3))
	c := b.clutch("O1")
	if c.Window != nil || !strings.Contains(strings.Join(c.Because, "\n"), `note about O1: "development resumed"`) {
		t.Fatalf("a window %+v of eggs that rest, because %q", c.Window, c.Because)
	}
	b.note(`{"key":"n1","at":"2026-04-12T19:00:00Z","entry":"note","about":"O1","text":"Development resumed, veins are seen"}` + "\n")
	c = b.clutch("O1")
	if c.Window == nil {
		t.Fatalf("no window after the note, because %q", c.Because)
	}
	// Ten days after laying the rest ended; five of about twenty days are over since.
	if c.Developed == nil || math.Abs(*c.Developed-0.25) > 0.02 {
		t.Errorf("%v of the way, want a quarter", deref(c.Developed))
	}
	if days := c.Window.Likely.Sub(began).Hours() / 24; math.Abs(days-30) > 1.5 {
		t.Errorf("likely %.1f days after laying, want 30", days)
	}
}

// What is published of a species that rests counts from laying, the rest included: after the
// note the whole of it does not start again.
func TestPublishedDaysIncludeTheArrest(t *testing.T) {
	days := map[bool]float64{}
	for _, rests := range []bool{false, true} {
		b := hourly(t, profile.Profile{
			Name: "resting", Species: "Chamaeleo calyptratus", Family: "Chamaeleonidae", Usual: 26.5, ArrestedDevelopment: rests,
		})
		b.note(dam("Olive", "resting") + layEggs(0, "O1", "Olive", "resting", 1))
		b.live(0, 24*15, steady(26.5))
		if c := b.clutch("O1"); rests && c.Window != nil {
			t.Fatalf("a window %+v of eggs that rest", c.Window)
		}
		b.note(`{"key":"n1","at":"2026-04-12T19:00:00Z","entry":"note","about":"O1","text":"Development resumed, veins are seen"}` + "\n")
		c := b.clutch("O1")
		if c.Window == nil {
			t.Fatalf("no window after the note, because %q", c.Because)
		}
		if said := strings.Contains(strings.Join(c.Because, "\n"), "the arrest included"); said != rests {
			t.Errorf("it rests: %v, because %q", rests, c.Because)
		}
		days[rests] = c.Window.Likely.Sub(began).Hours() / 24
	}
	if math.Abs(days[true]-days[false]) > 0.5 || days[true] < 200 {
		t.Errorf("likely %.1f days after laying where it rested, %.1f where it did not", days[true], days[false])
	}
}

// Two warm spells, with how long each was, how far past the band and how far along
// the eggs were; a restart finds the same in the readings.
func TestOutsideTheBandsIsFoundAgain(t *testing.T) {
	p := quick()
	p.Safe = profile.Band{Low: 20, High: 26}
	b := hourly(t, p)
	b.note(dam("Quill", "quick") + layEggs(0, "Q1", "Quill", "quick", 1))
	spells := func(h int) float64 {
		switch {
		case h >= 100 && h < 104: // four hours at 27, and half an hour to and from
			return 27
		case h >= 250 && h < 252:
			return 28
		}
		return 23.3
	}
	b.live(0, 300, spells)
	b.note(`{"key":"n1","at":"2026-04-15T06:00:00Z","entry":"note","about":"Q1","text":"an entry has the windows computed again"}` + "\n")
	live := b.clutch("Q1").Outside
	if len(live) != 1 || live[0].Side != "warm" || live[0].Band != "safe" || live[0].Limit != 26 || live[0].Events != 2 {
		t.Fatalf("outside is %+v, want two events past the warm end of the safe band", live)
	}
	// The line from 23.3 to 27 is past 26 for the last 10/37 of its hour.
	first := 3 + 2*1/3.7
	second := 1 + 2*2/4.7
	if h := live[0].LongestSeconds / 3600; math.Abs(h-first) > 0.01 {
		t.Errorf("the longest is %.3f h, want %.3f", h, first)
	}
	if h := live[0].Seconds / 3600; math.Abs(h-first-second) > 0.01 {
		t.Errorf("in all %.3f h, want %.3f", h, first+second)
	}
	if n := len(live[0].Stages); n != 2 || live[0].Stages[0].From != 0.2 || live[0].Stages[1].From != 0.5 {
		t.Errorf("stages %+v, want one at a fifth and one at half of the way", live[0].Stages)
	}
	b.start(began.Add(300 * time.Hour))
	if again := b.clutch("Q1").Outside; !reflect.DeepEqual(again, live) {
		t.Errorf("after a restart %+v, want %+v", again, live)
	}
}

// Each day one window is kept, and the book judges them once the eggs hatched.
func TestWindowsAreKeptAndJudged(t *testing.T) {
	b := hourly(t, quick())
	b.note(dam("Quill", "quick") + layEggs(0, "Q1", "Quill", "quick", 2))
	b.live(0, 21*24, steady(23.3))
	b.note(hatched(21*24-2, "Q1", 1) + hatched(21*24-1, "Q1", 2))
	kept, err := b.options.Shown.Load("Q1")
	if err != nil {
		t.Fatal(err)
	}
	days := map[string]bool{}
	for _, w := range kept {
		days[w.Day] = true
	}
	if len(kept) != len(days) || len(kept) < 20 || len(kept) > 22 {
		t.Errorf("%d windows of %d days, want one a day of 21", len(kept), len(days))
	}
	score, err := b.Queries().Score()
	if err != nil {
		t.Fatal(err)
	}
	if score.Hatches != 2 || len(score.Ways) != 4 || len(score.Eggs) != 8 {
		t.Fatalf("%d hatches at %d points, %d in all; want 2, 4 and 8", score.Hatches, len(score.Ways), len(score.Eggs))
	}
	for _, w := range score.Ways {
		if w.N != 2 || w.Inside == nil || *w.Inside != 1 || *w.MeanDaysOff > 2.5 {
			t.Errorf("at %.0f %%: %d eggs, %v inside, %v days off", 100*w.Way, w.N, deref(w.Inside), deref(w.MeanDaysOff))
		}
	}
	for _, e := range score.Eggs {
		if by := began.Add(time.Duration(e.Way * float64(e.Hatched.Sub(began)))); e.Shown.After(by) || by.Sub(e.Shown) > 25*time.Hour {
			t.Errorf("%s at %.0f %%: judged by the window of %v, want the last before %v", e.Egg, 100*e.Way, e.Shown, by)
		}
	}
}

// A second season is foretold by the first: at the same point of the spring, after
// the same days, the summer to come makes the window earlier.
func TestTheSeasonBeforeTellsTheSummer(t *testing.T) {
	t.Parallel()
	const year, spring = 365 * 24, 30 * 24
	course := func(h int) float64 { return 22 - 3*math.Cos(2*math.Pi*float64(h-2*spring)/(365.2425*24)) }
	likely := func(from int) float64 {
		p := testPlan(t)
		p.Every = 6 * time.Hour
		b := newBench(t, p)
		b.live(from, year+4*spring, course)
		b.note(dam("Sorrel", "crested gecko") + layEggs(year+4*spring-6, "S1", "Sorrel", "crested gecko", 1))
		return b.clutch("S1").Window.Likely.Sub(began).Hours()/24 - (year+4*spring)/24
	}
	one, two := likely(year+4*spring-14*24), likely(0)
	if sooner := one - two; !(sooner > 5 && sooner < 40) {
		t.Errorf("likely after %.0f days with a season before and %.0f without, want some days sooner", two, one)
	}
}

// A zone's days are found again after a restart: the window stands where it stood.
func TestClimateIsFoundAgain(t *testing.T) {
	b := hourly(t)
	b.note(dam("Sorrel", "crested gecko") + layEggs(0, "S1", "Sorrel", "crested gecko", 1))
	b.live(0, 24*20+6, func(h int) float64 { return 22 + math.Sin(float64(h)/24*2*math.Pi) })
	at := began.Add((24*20 + 5) * time.Hour)
	b.note(fmt.Sprintf(`{"key":"n1","at":%q,"entry":"note","about":"S1","text":"an entry has the windows computed again"}`+"\n", at.Format(time.RFC3339)))
	live := b.clutch("S1").Window
	b.start(at)
	again := b.clutch("S1").Window
	if off := again.Likely.Sub(live.Likely).Abs(); off > 12*time.Hour {
		t.Errorf("likely %v before a restart and %v after it", live.Likely, again.Likely)
	}
	if days := live.Likely.Sub(began).Hours() / 24; !(days > 100 && days < 118) {
		t.Errorf("likely after %.1f days at 22 C, want more than the 97 at 23.3 C", days)
	}
}
