package station_test

import (
	"iter"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/station"
	"example.com/ootherm/sensor/history"
)

// spans is a history that notes from when on its summaries are asked for.
type spans struct {
	station.History
	from []time.Time
}

func (s *spans) Summaries(probe string, from, to time.Time) iter.Seq2[history.Summary, error] {
	s.from = append(s.from, from)
	return s.History.Summaries(probe, from, to)
}

// A climate is made of the last six years of stored readings.
func TestClimateIsOfSixYears(t *testing.T) {
	b := newBench(t, testPlan(t))
	h := &spans{History: b.options.History}
	b.options.History = h
	at := began.Add(time.Hour)
	b.start(at)
	if len(h.from) != len(b.options.Plan.Probes) {
		t.Fatalf("the summaries were asked for %d times, want once a probe", len(h.from))
	}
	for _, from := range h.from {
		if want := at.AddDate(-6, 0, 0); !from.Equal(want) {
			t.Errorf("asked from %v on, want %v", from, want)
		}
	}
}
