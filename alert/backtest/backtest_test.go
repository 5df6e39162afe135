package backtest_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert/backtest"
)

// made are zones that are made up, so that the detector is not judged by the
// recordings alone: rooms and incubators with a thermostat's cycle or without, a
// day's course, sun on some days, weather, doors, noise, a sensor's step, polls
// from ten seconds to an hour, missing readings and holes.
func made(n int, seed uint64) (all []backtest.Recording) {
	begin := time.Date(2026, 3, 1, 6, 0, 0, 0, time.UTC)
	for i := range n {
		r := rand.New(rand.NewPCG(seed, uint64(i)))
		pick := func(v ...float64) float64 { return v[r.IntN(len(v))] }
		poll := time.Duration(pick(10, 30, 60, 120, 300, 420, 600, 900, 3600)) * time.Second
		days := min(60, max(5, 12000*poll.Hours()/24)) * (0.5 + 0.5*r.Float64())
		period := time.Duration(8+52*r.Float64()) * time.Minute
		swing := pick(0, 0, 0.3, 0.6, 1) // peak to peak
		course, sun := pick(0, 0.3, 1, 3), pick(0, 0, 1, 3)
		weather, calm := pick(0, 0.3, 1), (0.5+2.5*r.Float64())*86400
		doors := pick(0, 0.5, 2) // a day
		noise, step := pick(0.01, 0.03, 0.1), pick(0.01, 0.0625, 0.1, 0.5)
		lost := pick(0, 0.01, 0.1)
		usual := pick(23, 28, 31)
		rec := backtest.Recording{Name: fmt.Sprintf("%2d: %v, cycle %.1f K %v, day %.1f, sun %.0f, weather %.1f, %.1f doors, step %.2f", i, poll, swing, period.Round(time.Minute), course, sun, weather, doors, step)}
		wander, shine, open, phase, day := 0.0, 0.0, 0.0, 0.0, -1
		var holeUntil time.Duration
		for at := time.Duration(0); at.Hours() < days*24; at += poll {
			if today := int(at.Hours() / 24); today != day {
				day, shine = today, sun*r.Float64()
			}
			dt := poll.Seconds()
			wander = wander*math.Exp(-dt/calm) + weather*math.Sqrt(1-math.Exp(-2*dt/calm))*r.NormFloat64()
			open *= math.Exp(-dt / 1200)
			if r.Float64() < doors*dt/86400 {
				open -= 0.5 + r.Float64()
			}
			phase += 2 * math.Pi * dt / (period.Seconds() * (1 + 0.05*r.NormFloat64()))
			hour := math.Mod(at.Hours()+6, 24)
			v := usual + wander + open + swing/2*math.Sin(phase) + noise*r.NormFloat64()
			v += course / 2 * math.Sin(2*math.Pi*(hour-9)/24)
			v += shine * math.Exp(-math.Pow((hour-10)/1.5, 2))
			if r.Float64() < 0.05*dt/86400 {
				holeUntil = at + time.Duration(1+11*r.Float64())*time.Hour
			}
			if at < holeUntil || r.Float64() < lost {
				continue
			}
			rec.Samples = append(rec.Samples, backtest.Sample{At: begin.Add(at), Celsius: math.Round(v/step) * step})
		}
		all = append(all, rec)
	}
	return all
}

// What was chosen on recorded rooms must hold for zones it has not seen. They are
// made harder than rooms are: several doors a day, weather of a kelvin within a day.
func TestMadeZones(t *testing.T) {
	zones, failures := 20, 6
	if os.Getenv("OOTHERM_FULL") == "1" {
		zones, failures = 120, 30
	}
	low, high, err := backtest.Run(t.Context(), made(zones, 7), failures, 1)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range []backtest.Side{low, high} {
		for _, z := range append(s.Zones, s.All) {
			b, l := z.By[backtest.Drift], z.By[backtest.Line]
			t.Logf("high %-5v %3.0f %% called, %.2f false in 30 days (line %3.0f %%, %.2f), %d calls, %v with cycles: %s", s.High, 100**b.Share, b.In30Days, 100**l.Share, l.In30Days, b.FalseCalls, z.Cycles, z.Zone)
		}
		drift, line := s.All.By[backtest.Drift], s.All.By[backtest.Line]
		switch {
		case !(*drift.Share >= 0.85 && *drift.Lead >= 0.45):
			t.Errorf("high %v: %.3f called, lead %.2f", s.High, *drift.Share, *drift.Lead)
		case !(drift.In30Days <= 1.5 && drift.In30Days < line.In30Days):
			t.Errorf("high %v: %.2f false calls in 30 days, a straight line %.2f", s.High, drift.In30Days, line.In30Days)
		case !(*s.All.Within >= 0.7 && *s.All.Within <= 0.9):
			t.Errorf("high %v: %.2f passed the limit within the interval of 80 %%", s.High, *s.All.Within)
		}
	}
}

// steady is a zone that does nothing.
func steady(n int) backtest.Recording {
	r := backtest.Recording{Name: "steady"}
	begin := time.Date(2026, 3, 1, 6, 0, 0, 0, time.UTC)
	for i := range n {
		r.Samples = append(r.Samples, backtest.Sample{At: begin.Add(time.Duration(i) * 5 * time.Minute), Celsius: 24 + 0.1*float64(i%2)})
	}
	return r
}

// Each failure of a steady zone comes to the limit, at a time that can be computed;
// the same seed gives the same figures.
func TestRunCounts(t *testing.T) {
	room := steady(4000)
	low, high, err := backtest.Run(t.Context(), []backtest.Recording{room, room}, 20, 3)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range []backtest.Side{low, high} {
		limit := 23.0
		if s.High {
			limit = 25.1
		}
		a, b := s.Zones[0], s.Zones[1]
		if *a.LimitC != limit {
			t.Errorf("high %v: a limit of %g, want %g", s.High, *a.LimitC, limit)
		}
		if a.Failures != b.Failures || a.By[backtest.Drift].Called != b.By[backtest.Drift].Called {
			t.Errorf("high %v: the same recording gave %+v and %+v", s.High, a, b)
		}
		if a.Failures < 18 || s.All.Failures != 2*a.Failures { // all but those at the very end
			t.Errorf("high %v: %d failures of 20 came to the limit, %d of all", s.High, a.Failures, s.All.Failures)
		}
		for way, want := range map[string]float64{backtest.Drift: 1, backtest.Plain: 0} {
			if got := a.By[way]; *got.Share < want-0.1 || *got.Share > want+0.1 || got.FalseCalls != 0 {
				t.Errorf("high %v: %s called %.2f of the failures and %d times falsely", s.High, way, *got.Share, got.FalseCalls)
			}
		}
	}
}

// A recording whose readings are half an hour apart flatters: at the pace of a station, limits and
// days are the same, a failure passes the limit between two of the recording's readings, and the
// straight line calls what it missed. Each row says its pace and its kind.
func TestRunAtPace(t *testing.T) {
	room := steady(4000)
	var coarse backtest.Recording
	for i := 0; i < len(room.Samples); i += 7 { // a day's course, so that a straight line sees something
		s := room.Samples[i]
		s.Celsius += math.Sin(2 * math.Pi * s.At.Sub(room.Samples[0].At).Hours() / 24)
		coarse.Samples = append(coarse.Samples, s)
	}
	coarse.Samples = append(coarse.Samples[:100], coarse.Samples[150:]...) // a hole of a day
	coarse.Name, coarse.Kind = "coarse", backtest.Shelf
	other := coarse
	other.Name, other.Kind = "other", ""
	all := []backtest.Recording{coarse, other}
	own, _, err := backtest.Run(t.Context(), all, 20, 3)
	if err != nil {
		t.Fatal(err)
	}
	at, _, err := backtest.RunAtPace(t.Context(), all, time.Minute, 20, 3)
	if err != nil {
		t.Fatal(err)
	}
	for i, c := range []struct {
		side  backtest.Side
		pace  string
		every float64
	}{{own, backtest.RecordingPace, 35 * 60}, {at, backtest.StationPace, 60}} {
		z := c.side.Zones
		if len(z) != 2 || z[0].Pace != c.pace || *z[0].Every != c.every || z[0].Kind != backtest.Shelf || z[1].Kind != backtest.UnknownKind {
			t.Errorf("%d: the rows say %+v", i, z)
		}
		k := c.side.Kinds
		if len(k) != 2 || k[0].Kind != backtest.Shelf || k[1].Kind != backtest.UnknownKind || k[0].Failures != z[0].Failures || k[0].Pace != c.pace {
			t.Errorf("%d: by kind %+v", i, k)
		}
		if all := c.side.All; all.Kind != backtest.AllKinds || all.Pace != c.pace || (all.Every == nil) != (c.pace == backtest.RecordingPace) {
			t.Errorf("%d: all %+v", i, all)
		}
	}
	a, b := own.Zones[0], at.Zones[0]
	if *a.LimitC != *b.LimitC || a.Days != b.Days {
		t.Errorf("the limit is %g and %g, of %g and %g days", *a.LimitC, *b.LimitC, a.Days, b.Days)
	}
	late := func(r backtest.Row) float64 { return -*r.By[backtest.Plain].Lead }
	if !(late(b) > 0 && late(b) < late(a)/2) {
		t.Errorf("the limit is called %.3f and %.3f of the time late: polls in between are missing", late(a), late(b))
	}
	if _, _, err := backtest.RunAtPace(t.Context(), all, -time.Second, 20, 3); err == nil {
		t.Error("a negative pace is taken")
	}
}

func TestRunRefuses(t *testing.T) {
	back := steady(200)
	back.Samples[9].At = back.Samples[8].At
	for name, c := range map[string]struct {
		all  []backtest.Recording
		want string
	}{
		"nothing":       {nil, "no recording"},
		"few readings":  {[]backtest.Recording{steady(99)}, "steady has 99 readings"},
		"a time twice":  {[]backtest.Recording{back}, "is not after the one before"},
		"the second is": {[]backtest.Recording{steady(200), steady(3)}, "has 3 readings"},
	} {
		if _, _, err := backtest.Run(t.Context(), c.all, 5, 1); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
}
