package pipeline_test

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/replay/pipeline"
	"example.com/ootherm/cmd/ootherm/internal/station"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/history"
)

var start = time.Date(2026, 4, 2, 19, 0, 0, 0, time.UTC)

func memory(t *testing.T) *history.Store {
	h := history.Memory(history.Options{})
	if _, err := h.Begin("boot", start, 0, true); err != nil {
		t.Fatal(err)
	}
	return h
}

func at(n int, probe string) sensor.Reading {
	return sensor.Reading{
		Probe: probe, Stamp: sensor.Stamp{Boot: 1, Uptime: time.Duration(n) * 10 * time.Second},
		Measurement: sensor.Measurement{Celsius: 24 + float64(n%7)/100, Humidity: 0.5},
	}
}

// points are all readings of a probe.
func points(t *testing.T, h station.History, probe string) (all []history.Point) {
	for x, err := range h.Range(probe, start, start.AddDate(1, 0, 0)) {
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, x)
	}
	return all
}

// What is read is what was appended before, at any moment.
func TestHistoryIsThatOfItsStore(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := rand.New(rand.NewPCG(1, 2))
		plain := memory(t)
		h := pipeline.NewHistory(memory(t))
		for n := range 9000 {
			batch := []sensor.Reading{at(n, "a"), at(n, "b"), at(n, "c")}
			for _, to := range []station.History{plain, h} {
				if err := to.Append(batch); err != nil {
					t.Fatal(err)
				}
			}
			clear(batch) // the caller uses its memory again
			if r.IntN(1500) == 0 {
				if got, want := points(t, h, "b"), points(t, plain, "b"); !slices.Equal(got, want) {
					t.Fatalf("after %d: %d readings, want %d", n+1, len(got), len(want))
				}
			}
		}
		if err := h.Flush(); err != nil {
			t.Fatal(err)
		}
		if got, want := len(points(t, h, "c")), 9000; got != want {
			t.Errorf("%d readings, want %d", got, want)
		}
		if err := h.Close(); err != nil {
			t.Fatal(err)
		}
	})
}

// A reading that cannot be kept is an error, at the latest of Close.
func TestHistoryReportsWhatCannotBeKept(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		for name, end := range map[string]func(*pipeline.History) error{
			"flush": (*pipeline.History).Flush, "close": func(h *pipeline.History) error { return nil },
		} {
			h := pipeline.NewHistory(memory(t))
			unknown := at(1, "a")
			unknown.Boot = 7
			if err := h.Append([]sensor.Reading{unknown}); err != nil {
				t.Errorf("%s: already %v", name, err)
			}
			err := end(h)
			if last := h.Close(); err == nil {
				err = last
			} else if last != nil {
				t.Errorf("%s: told twice: %v", name, last)
			}
			if err == nil || !strings.Contains(err.Error(), "boot 7 was never begun") {
				t.Errorf("%s: %v", name, err)
			}
		}
	})
}
