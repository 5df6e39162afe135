package pastreadings_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/demo"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/station/pastreadings"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/calibration"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/profile"
	"example.com/ootherm/thermal/track"
)

// bySamples is a past that knows no sums: each sample is read.
type bySamples struct{ track.Past }

func (bySamples) Exposure(track.Source, float64, time.Time, time.Time) (x thermal.Exposure, first, last thermal.Sample, ok bool, err error) {
	return x, first, last, false, nil
}

// week is a week of a room with two probes and of one probe in a box: with noise, gaps, a probe
// that disagrees for hours, readings that are not believed, and a calibration on the fifth day.
func week(t *testing.T) (r pastreadings.Reader, now time.Time) {
	t.Helper()
	h := history.Memory(history.Options{})
	fillWeek(t, h)
	now = began.Add(7 * 24 * time.Hour)
	return pastOfWeek(h, nil, now, 0.25).Reader(), now
}

// fillWeek adds the week's readings to a history.
func fillWeek(t *testing.T, h *history.Store) {
	t.Helper()
	boot, err := h.Begin("a", began, 0, true)
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(81, 81))
	for minute := range 7 * 24 * 60 {
		at := time.Duration(minute) * time.Minute
		if minute/200%7 == 3 {
			continue // nothing for hours
		}
		for i, probe := range []string{"a", "b", "box"} {
			x := sensor.Reading{Probe: probe, Stamp: sensor.Stamp{Boot: boot.Number, Uptime: at + time.Duration(rng.IntN(9)*i)*time.Millisecond},
				Measurement: sensor.Measurement{Celsius: 24 + 2*math.Sin(float64(minute)/230) + 0.1*rng.NormFloat64(), Humidity: math.NaN()}}
			switch {
			case rng.IntN(20) == 0:
				x.Cause = sensor.NoAnswer
			case probe == "b" && minute > 3000 && minute < 3300:
				x.Celsius += 9
			}
			if err := h.Append([]sensor.Reading{x}); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// pastOfWeek is the past of the week, whose probes have an offset until the calibration.
func pastOfWeek(h pastreadings.History, derived pastreadings.Derived, now time.Time, offset float64) *pastreadings.Past {
	return pastOfWeekAt(h, derived, &now, offset)
}

// pastOfWeekAt is the same at a time that goes on. Jobs run at once.
func pastOfWeekAt(h pastreadings.History, derived pastreadings.Derived, now *time.Time, offset float64) *pastreadings.Past {
	p := pastreadings.New(pastreadings.Options{History: h, Derived: derived, Worker: func(job func() func()) { job()() }, Now: func() time.Time { return *now }, Plan: plan.Plan{
		Every: time.Minute, Zones: []plan.Zone{{Name: "room", Probes: []string{"a", "b"}}}}})
	corrections := calibration.Timeline{}
	for _, probe := range []string{"a", "b", "box"} {
		corrections.Add(probe, offset, []calibration.Calibration{{From: began.Add(101 * time.Hour), Temperature: []calibration.Point{{Reference: 0, Read: 0.5}}}})
	}
	p.Correct(corrections)
	return p
}

// What eggs felt is the same, to the bit, summed from blocks and from each sample; so is the
// time that they were past a limit.
func TestBlocksAreTheSamples(t *testing.T) {
	r, now := week(t)
	var p profile.Profile
	p.Safe, p.Wanted = profile.Band{Low: 21, High: 27}, profile.Band{Low: 22.5, High: 25.5}
	rng := rand.New(rand.NewPCG(82, 82))
	summed := 0
	for i := range 60 {
		stay := book.Stay{Zone: "room", From: began.Add(time.Duration(rng.IntN(100)) * time.Hour).Add(time.Duration(rng.IntN(3600)) * time.Second)}
		stay.To = stay.From.Add(time.Duration(1+rng.IntN(90)) * time.Hour)
		if i%3 == 0 {
			stay.Offset = 0.7
		}
		if i%2 == 0 {
			if _, _, _, ok, err := r.Exposure(track.SourceOf(stay), stay.Offset, stay.From, stay.To); err != nil {
				t.Fatal(err)
			} else if ok {
				summed++
			}
		} else {
			stay.Probe = "box"
		}
		if i%2 == 0 {
			got, err := track.Stay(r, stay, r.Gap)
			if err != nil {
				t.Fatal(err)
			}
			want, err := track.Stay(bySamples{r}, stay, r.Gap)
			if err != nil {
				t.Fatal(err)
			}
			a, _ := got.MarshalBinary()
			b, _ := want.MarshalBinary()
			if string(a) != string(b) {
				t.Errorf("stay %d %+v: %v measured and %v missing, mean %v, by samples %v and %v, %v", i, stay, got.Measured(), got.Missing(), got.Mean(), want.Measured(), want.Missing(), want.Mean())
			}
		}
		begin := func() *track.Excursions {
			return track.NewExcursions(p, thermal.DegreeDays{Base: 15, Required: 2000}, 0, r.Gap)
		}
		got, err := rebuildExcursions(r, begin(), []book.Stay{stay}, now)
		if err != nil {
			t.Fatal(err)
		}
		want, err := rebuildExcursions(bySamples{r}, begin(), []book.Stay{stay}, now)
		if err != nil {
			t.Fatal(err)
		}
		if len(got.Past()) != len(want.Past()) {
			t.Errorf("stay %d: past %d limits, by samples %d", i, len(got.Past()), len(want.Past()))
			continue
		}
		for j, x := range got.Past() {
			a, b := x.Total(), want.Past()[j].Total()
			if x.Limit != want.Past()[j].Limit || a.Events != b.Events || (a.Cumulative-b.Cumulative).Abs() > time.Millisecond || (a.Longest-b.Longest).Abs() > time.Millisecond {
				t.Errorf("stay %d: past %+v for %+v, by samples %+v", i, x.Limit, a, b)
			}
		}
	}
	if summed < 20 {
		t.Errorf("only %d of 30 stays in the room have sums", summed)
	}
}

// Several groups are followed together as each is alone, and what they share is read once.
func TestExcursionsTogether(t *testing.T) {
	h := history.Memory(history.Options{})
	fillWeek(t, h)
	now, read := began.Add(7*24*time.Hour), 0
	r := pastOfWeek(counted{h, &read}, nil, now, 0.25).Reader()
	var p profile.Profile
	p.Safe, p.Wanted = profile.Band{Low: 21, High: 27}, profile.Band{Low: 22.5, High: 25.5}
	begin := func() *track.Excursions {
		return track.NewExcursions(p, thermal.DegreeDays{Base: 15, Required: 2000}, 0, r.Gap)
	}
	var stays [][]book.Stay
	var alone, together []*track.Excursions
	for i := range 12 {
		from := began.Add(time.Duration(i)*7*time.Hour + 11*time.Minute)
		s := []book.Stay{{Zone: "room", From: from, To: from.Add(50 * time.Hour)}, {Zone: "room", Offset: 0.7, From: from.Add(50 * time.Hour)}}
		if i%4 == 3 {
			s = []book.Stay{{Zone: "room", Probe: "box", From: from}}
		}
		stays, together = append(stays, s), append(together, begin())
		x, err := rebuildExcursions(r, begin(), s, now)
		if err != nil {
			t.Fatal(err)
		}
		alone = append(alone, x)
	}
	before := read
	read = 0
	together, err := track.RebuildExcursions(r, together, stays, now)
	if err != nil {
		t.Fatal(err)
	}
	if read > before/3 {
		t.Errorf("%d readings were read for all groups together, %d for each alone", read, before)
	}
	for i, x := range together {
		if len(x.Past()) == 0 || len(x.Past()) != len(alone[i].Past()) {
			t.Fatalf("group %d is past %d limits, alone %d", i, len(x.Past()), len(alone[i].Past()))
		}
		for j, got := range x.Past() {
			want := alone[i].Past()[j]
			a, b := got.Total(), want.Total()
			if got.Limit != want.Limit || a.Events != b.Events || (a.Cumulative-b.Cumulative).Abs() > time.Millisecond || math.Abs(a.DegreeHours-b.DegreeHours) > 1e-9 {
				t.Errorf("group %d: past %+v for %+v, alone %+v", i, got.Limit, a, b)
			}
			for stage := range thermal.Stages {
				if a, b := got.Stage(stage), want.Stage(stage); (a.Cumulative - b.Cumulative).Abs() > time.Millisecond {
					t.Errorf("group %d, stage %d: %v, alone %v", i, stage, a.Cumulative, b.Cumulative)
				}
			}
		}
	}
}

// What eggs felt in a night and a month of the demo's season, and in the week before, is the
// same summed from blocks and from each reading: the incident page shows it.
func TestBlocksOfTheDemo(t *testing.T) {
	now := began.Add(demo.Days * 24 * time.Hour)
	season := demo.New(now)
	h := history.Memory(history.Options{})
	boot, err := h.Begin("demo", season.Began(), 0, true)
	if err != nil {
		t.Fatal(err)
	}
	for at := season.Began(); at.Before(now); at = season.Next(at) {
		for _, probe := range demo.Probes() {
			if m, on := season.Measure(probe, at); on {
				x := sensor.Reading{Probe: probe, Measurement: m, Stamp: sensor.Stamp{Boot: boot.Number, Uptime: at.Sub(season.Began())}}
				if err := h.Append([]sensor.Reading{x}); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
	r := pastreadings.New(pastreadings.Options{History: h, Now: func() time.Time { return now }, Plan: plan.Plan{
		Every: 5 * time.Minute, Zones: []plan.Zone{{Name: "shelf", Probes: []string{"shelf air", "dummy box"}}}}}).Reader()
	for _, ago := range []time.Duration{47, 29, 17, 1} { // days: each fault of the season
		for _, long := range []time.Duration{12 * time.Hour, 7 * 24 * time.Hour, 31 * 24 * time.Hour} {
			for _, stay := range []book.Stay{{Zone: "shelf"}, {Zone: "shelf", Probe: "dummy box"}, {Zone: "shelf", Offset: 0.4}} {
				stay.From = now.Add(-ago * 24 * time.Hour).Add(-7 * time.Minute)
				stay.To = stay.From.Add(long)
				if stay.To.After(now) {
					stay.To = now
				}
				got, err := r.Felt(stay)
				if err != nil {
					t.Fatal(err)
				}
				want, err := track.Stay(bySamples{r}, stay, r.Gap)
				if err != nil {
					t.Fatal(err)
				}
				// A stored summary keeps a temperature to 1e-9 K.
				if got.Measured() != want.Measured() || got.Missing() != want.Missing() || !(math.Abs(got.Mean()-want.Mean()) < 1e-8) {
					t.Errorf("%v from %v: %v at %v, by readings %v at %v", stay, stay.From, got.Measured(), got.Mean(), want.Measured(), want.Mean())
				}
			}
		}
	}
}

// rebuildExcursions follows one group of eggs.
func rebuildExcursions(p track.Past, x *track.Excursions, stays []book.Stay, upTo time.Time) (*track.Excursions, error) {
	all, err := track.RebuildExcursions(p, []*track.Excursions{x}, [][]book.Stay{stays}, upTo)
	return all[0], err
}
