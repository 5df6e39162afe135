package pastreadings_test

import (
	"errors"
	"fmt"
	"iter"
	"math"
	"slices"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/station/pastreadings"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/calibration"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/thermal/track"
)

var (
	began   = time.Date(2026, 4, 2, 19, 0, 0, 0, time.UTC)
	errRead = errors.New("one read failed")
	damage  = &history.Damage{Probe: "b", From: began, To: began.Add(time.Hour), Err: errors.New("damaged")}
)

// entry is a reading of the fake history, or an error in its place.
type entry struct {
	minute  int
	celsius float64
	err     error
}

// fake is a history of readings by probe.
type fake struct {
	pastreadings.History
	readings map[string][]entry
}

func (f fake) Range(probe string, from, to time.Time) iter.Seq2[history.Point, error] {
	return func(yield func(history.Point, error) bool) {
		for _, x := range f.readings[probe] {
			var p history.Point
			p.At, p.Probe, p.Measurement = began.Add(time.Duration(x.minute)*time.Minute), probe, sensor.Measurement{Celsius: x.celsius, Humidity: math.NaN()}
			if !p.At.Before(from) && p.At.Before(to) && !yield(p, x.err) {
				return
			}
		}
	}
}

// newPast is the past of a zone with the probes a, b and c; b reads 1 K too low.
func newPast(readings map[string][]entry, log func(error), now *time.Time) *pastreadings.Past {
	p := pastreadings.New(pastreadings.Options{
		History: fake{readings: readings}, Now: func() time.Time { return *now }, Log: log,
		Plan: plan.Plan{Every: time.Minute, Zones: []plan.Zone{{Name: "room", Probes: []string{"a", "b", "c"}, Apart: 5}}},
	})
	t := calibration.Timeline{}
	t.Add("b", 1, nil)
	p.Correct(t)
	return p
}

// The samples of a zone are in the order of their times, whichever probe they come from,
// corrected. After an error the others follow.
func TestSamplesOfAZone(t *testing.T) {
	now := began.Add(time.Hour)
	p := newPast(map[string][]entry{
		"a": {{minute: 0, celsius: 20}, {minute: 2, celsius: 22}},
		"b": {{minute: 0, celsius: 21}, {minute: 1, err: errRead}, {minute: 2, celsius: 25}, {minute: 3, celsius: 23}},
	}, nil, &now)
	var got []string
	var failed []error
	for x, err := range p.Reader().Samples(track.Source{Zone: "room"}, 0.5, began, now) {
		if err != nil {
			failed = append(failed, err)
			continue
		}
		got = append(got, fmt.Sprintf("%s %.2f", x.At.Format("15:04"), x.Celsius))
	}
	want := []string{"19:00 21.50", "19:02 24.50", "19:03 23.50"}
	if !slices.Equal(got, want) || !slices.Equal(failed, []error{errRead}) {
		t.Errorf("samples %q and errors %v, want %q and one error", got, failed, want)
	}
	for range p.Reader().Samples(track.Source{Zone: "room"}, 0, began, now) {
		break // the reads of all probes end with it
	}
}

// Damaged readings are left out; another error is handed on.
func TestBelieved(t *testing.T) {
	now := began.Add(time.Hour)
	p := newPast(map[string][]entry{
		"a": {{minute: 0, celsius: 20}, {minute: 1, celsius: math.NaN()}, {minute: 2, err: errRead}},
		"b": {{minute: 0, err: damage}, {minute: 3, celsius: 22}},
	}, nil, &now)
	celsius, failed := []float64{}, []error{}
	for x, err := range p.Reader().Believed([]string{"a", "b"}, began, now) {
		if err != nil {
			failed = append(failed, err)
			continue
		}
		celsius = append(celsius, x.Celsius)
	}
	if !slices.Equal(celsius, []float64{20, 23}) || !slices.Equal(failed, []error{errRead}) {
		t.Errorf("temperatures %v and errors %v, want 20 and 23, and the one that is no damage", celsius, failed)
	}
}

// A damaged block is logged once, another error once an hour.
func TestReport(t *testing.T) {
	now := began
	var logged []error
	p := newPast(nil, func(err error) { logged = append(logged, err) }, &now)
	for range 121 {
		p.Report(errRead)
		p.Report(fmt.Errorf("a read: %w", damage))
		now = now.Add(time.Minute)
	}
	damages := 0
	for _, err := range logged {
		if errors.Is(err, damage) {
			damages++
		}
	}
	if damages != 1 || len(logged) != 1+3 {
		t.Errorf("%d errors were logged in two hours, %d of them of the damaged block; want 4 and 1", len(logged), damages)
	}
	if all := p.Damages(); !p.Unreadable() || len(all) != 1 || all[0] != damage {
		t.Errorf("unreadable %v, damages %v", p.Unreadable(), all)
	}
}

// A changed calibration is told, one that is as it was is not.
func TestCorrect(t *testing.T) {
	now := began
	p := newPast(nil, nil, &now)
	for _, x := range []struct {
		offset float64
		want   []string
	}{{1, nil}, {2, []string{"b"}}, {2, nil}} {
		next := calibration.Timeline{}
		next.Add("b", x.offset, nil)
		if got := p.Correct(next); !slices.Equal(got, x.want) {
			t.Errorf("an offset of %v K changed %q, want %q", x.offset, got, x.want)
		}
		if got := p.Measurement("b", now, sensor.Measurement{Celsius: 20}).Celsius; got != 20+x.offset {
			t.Errorf("an offset of %v K makes %v C of 20 C", x.offset, got)
		}
	}
}
