package thermal

import (
	"testing"
	"time"
)

// Dips below -0.5 C of under an hour each, 3.5 h in all: no single event is an
// hour long, the cumulative time is past three.
func TestManyShortDipsAreCumulative(t *testing.T) {
	e := Under(-0.5)
	at := start
	step := func(celsius float64, d time.Duration) {
		from := Sample{at, celsius}
		at = at.Add(d)
		e = e.Span(from, Sample{at, celsius}, 0.42)
	}
	for range 5 {
		step(4, 3*time.Hour)
		step(-1.5, 42*time.Minute)
	}
	step(4, time.Hour)
	got := e.Total()
	want := Beyond{Cumulative: 210 * time.Minute, Longest: 42 * time.Minute, Events: 5, DegreeHours: 3.5, Most: 1}
	near(t, "degree-hours", got.DegreeHours, want.DegreeHours, 1e-9)
	got.DegreeHours = want.DegreeHours
	if got != want {
		t.Errorf("got %+v, want %+v", got, want)
	}
	if e.Stage(4).Events != 5 || e.Stage(3).Events != 0 {
		t.Errorf("at 42 %% of the way, yet stage 4 has %d events and stage 3 has %d", e.Stage(4).Events, e.Stage(3).Events)
	}
	if e.Running() != 0 {
		t.Errorf("an event is said to run for %v", e.Running())
	}
}

// The limit is crossed between samples: only the part beyond it counts.
func TestCrossingCountsThePartBeyond(t *testing.T) {
	e := Over(26).Span(Sample{start, 25}, Sample{start.Add(time.Hour), 29}, 0)
	got := e.Total()
	if got.Cumulative != 45*time.Minute || got.Most != 3 || got.Events != 1 || e.Running() != 45*time.Minute {
		t.Errorf("%+v, running %v; want 45 min, 3 K", got, e.Running())
	}
	near(t, "degree-hours", got.DegreeHours, 1.5*0.75, 1e-9)
	e = e.Span(Sample{start.Add(time.Hour), 29}, Sample{start.Add(2 * time.Hour), 26}, 1)
	if e.Total().Longest != 105*time.Minute || e.Total().Events != 1 || e.Running() != 0 {
		t.Errorf("%+v, running %v; want one event of 105 min, over", e.Total(), e.Running())
	}
	if last := e.Stage(Stages - 1); last.Cumulative != time.Hour || last.Events != 0 {
		t.Errorf("the last stage holds %+v", last)
	}
}

// After a span that was not measured the event is found still there: it is one.
func TestGapDoesNotEndAnEvent(t *testing.T) {
	e := Over(26).Span(Sample{start, 27}, Sample{start.Add(time.Hour), 27}, 0.5)
	e = e.Span(Sample{start.Add(3 * time.Hour), 27}, Sample{start.Add(4 * time.Hour), 27}, 0.5)
	if got := e.Total(); got.Events != 1 || got.Cumulative != 2*time.Hour || got.Longest != 2*time.Hour {
		t.Errorf("%+v, want one event of the two hours measured", got)
	}
}
