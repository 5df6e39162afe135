package incident

import (
	"context"
	"iter"
	"math"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
)

var began = time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)

// everyMinute makes a reading a minute of one probe; NaN is a minute without one.
func everyMinute(probe string, celsius func(minute int) float64) func([]string, time.Time, time.Time) iter.Seq2[Reading, error] {
	return func(_ []string, from, to time.Time) iter.Seq2[Reading, error] {
		return func(yield func(Reading, error) bool) {
			for at := from; !at.After(to); at = at.Add(time.Minute) {
				c := celsius(int(at.Sub(began) / time.Minute))
				if !math.IsNaN(c) && !yield(Reading{Probe: probe, At: at, Celsius: c, Humidity: math.NaN()}, nil) {
					return
				}
			}
		}
	}
}

func query(celsius func(minute int) float64) Query {
	high := 26.0
	return Query{
		From: began, To: began.Add(2 * time.Hour), Fresh: 3 * time.Minute, Gap: 10 * time.Minute,
		Plan:     plan.Plan{Zones: []plan.Zone{{Name: "room", Probes: []string{"air"}, Wanted: &plan.Band{High: &high}}}},
		Readings: everyMinute("air", celsius),
		Felt:     func(book.Stay) (thermal.Exposure, error) { return thermal.Exposure{}, nil },
		Shown:    func(string) ([]snapshot.Shown, error) { return nil, nil },
		Alarms:   func(time.Time, time.Time) ([]snapshot.PastAlarm, error) { return nil, nil },
	}
}

// Half an hour of 27 C in a room that is wanted at 26 C at most, and a quarter of an hour
// without readings.
func TestZoneInASpan(t *testing.T) {
	q := query(func(minute int) float64 {
		switch {
		case minute > 30 && minute <= 60:
			return 27
		case minute > 90 && minute < 105:
			return math.NaN()
		}
		return 25
	})
	n, err := q.Look(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	z := n.Zones[0]
	if z.Highest == nil || z.Highest.Value != 27 || !z.Highest.At.Equal(began.Add(31*time.Minute)) || z.Lowest.Value != 25 {
		t.Errorf("highest %+v, lowest %+v", z.Highest, z.Lowest)
	}
	if len(z.Gaps) != 1 || z.Missing != 15*60 || z.Measured != 105*60 {
		t.Errorf("gaps %+v, missing %.0f s, measured %.0f s", z.Gaps, z.Missing, z.Measured)
	}
	// The straight lines from 25 to 27 and back cross 26 half a minute outside.
	if len(z.Past) != 1 || z.Past[0].Events != 1 || math.Abs(z.Past[0].Seconds-30*60) > 1 || z.Past[0].Most != 1 {
		t.Errorf("past its band: %+v", z.Past)
	}
}

// A probe that was moved an alarm's time before is told beside its zone; a heater is not.
func TestJumpInASpan(t *testing.T) {
	for name, c := range map[string]struct {
		celsius func(minute int) float64
		want    int
	}{
		"moved":  {func(minute int) float64 { return 24 + 3*float64(min(1, max(0, minute-59))) }, 1},
		"heated": {func(minute int) float64 { return 24 + 3*min(1, max(0, float64(minute-59)/40)) }, 0},
	} {
		q, zone, ended := query(c.celsius), "room", began.Add(100*time.Minute)
		q.Alarms = func(time.Time, time.Time) ([]snapshot.PastAlarm, error) {
			return []snapshot.PastAlarm{
				{Alarm: "drift-up", Zone: &zone, Began: began.Add(62 * time.Minute), Ended: &ended},
				{Alarm: "temperature-high", Zone: &zone, Began: began.Add(75 * time.Minute), Ended: &ended},
			}, nil
		}
		n, err := q.Look(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if jumps := n.Zones[0].Jumps; len(jumps) != c.want || c.want == 1 && (jumps[0].Probe != "air" || math.Abs(jumps[0].Kelvin-3) > 0.01) {
			t.Errorf("%s: %+v", name, jumps)
		}
	}
}

// A clutch is told where it lay in a zone that was asked for. What the span did is the
// development less that of as long a time as the week before.
func TestClutchInASpan(t *testing.T) {
	rate := thermal.DegreeDays{Base: 15, Required: 1000}
	q := query(func(int) float64 { return 25 })
	stay := book.Stay{Zone: "room", From: began.AddDate(0, 0, -20)}
	q.Clutches = []Clutch{
		{Clutch: "S1", Box: "B1", Stays: []book.Stay{stay}, Eggs: 2, Rate: rate},
		{Clutch: "S2", Box: "B2", Stays: []book.Stay{{Zone: "room", From: stay.From, To: began.Add(-time.Hour)}}, Eggs: 1, Rate: rate},
	}
	q.Felt = func(s book.Stay) (thermal.Exposure, error) {
		celsius := 25.0 // the week before
		if !s.From.Before(began) {
			celsius = 20 // half of the heat above the base of 15 C
		}
		return thermal.Exposure{}.Steady(celsius, s.To.Sub(s.From)), nil
	}
	n, err := q.Look(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if len(n.Clutches) != 1 || n.Clutches[0].Clutch != "S1" || n.Clutches[0].Eggs != 2 {
		t.Fatalf("clutches %+v, want S1 alone", n.Clutches)
	}
	if c := n.Clutches[0]; c.Moved == nil || math.Abs(*c.Moved-1.0/24) > 1e-6 {
		t.Errorf("moved by %v days, want an hour: half of two hours' heat is missing", c.Moved)
	}
}

// A query that makes no sense says why, and a request that ends reads no more.
func TestQueryThatCannotBeAnswered(t *testing.T) {
	for why, change := range map[string]func(*Query){
		"no such zone":  func(q *Query) { q.Zone = "attic" },
		"ends too soon": func(q *Query) { q.To = q.From },
		"is too long":   func(q *Query) { q.From = q.To.Add(-maxSpan - time.Second) },
	} {
		q := query(func(int) float64 { return 25 })
		change(&q)
		if _, err := q.Look(t.Context()); err == nil {
			t.Errorf("a span that %s was answered", why)
		} else if message, ok := usererr.Message(err); !ok || message == "" {
			t.Errorf("%s: %v is not for a person", why, err)
		}
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := query(func(int) float64 { return 25 }).Look(ctx); err == nil {
		t.Error("a request that ended was answered")
	}
}
