package station

import (
	"context"
	"errors"
	"iter"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/thermal/book/review"
)

// Boot is the boot that the station runs in, as it is dated now.
func (s *Station) Boot() history.Boot { return s.boot }

// Time is the time of the last step.
func (s *Station) Time() time.Time { return s.now }

// Advance moves the time of the station forward without a step. A replay notes
// entries at the time at which they happened.
func (s *Station) Advance(to time.Time) { s.now = later(s.now, to) }

// Watches reports whether the station has a probe of that name.
func (s *Station) Watches(probe string) bool { return s.probes[probe] != nil }

// Readings gives the readings of a probe in a span, corrected. Any goroutine may
// call it.
func (s *Station) Readings(probe string, from, to time.Time) iter.Seq2[history.Point, error] {
	return func(yield func(history.Point, error) bool) {
		for x, err := range s.o.History.Range(probe, from, to) {
			x.Measurement = s.corrections.Load().Measurement(probe, x.At, x.Measurement)
			if !yield(x, err) {
				return
			}
		}
	}
}

// RawReadings gives the readings of a probe in a span as the probe gave them. Any
// goroutine may call it.
func (s *Station) RawReadings(probe string, from, to time.Time) iter.Seq2[history.Point, error] {
	return s.o.History.Range(probe, from, to)
}

// ShownWindows gives the windows that were shown of a clutch, or of all clutches for
// an empty name. Any goroutine may call it.
func (s *Station) ShownWindows(clutch string) ([]snapshot.Shown, error) {
	return shownOf(s.o.Shown, clutch)
}

// PastAlarms gives the alarms that lasted at some time of a span. Any goroutine may
// call it.
func (s *Station) PastAlarms(from, to time.Time) ([]snapshot.PastAlarm, error) {
	return pastAlarms(s.o.AlarmLog, nil, from, to)
}

// Durations gives how long the clutches that are over took, by clutch. Any goroutine may
// call it.
func (s *Station) Durations() map[string]review.Duration {
	return s.forecast.now.Load().Durations
}

// Unacknowledged gives the keys of the alarms that wait for somebody to see them.
func (s *Station) Unacknowledged() (keys []alert.Key) {
	for _, k := range s.panel.Keys() {
		if x, _ := s.panel.Alarm(k); x.State == alert.Active || x.State == alert.Returned {
			keys = append(keys, k)
		}
	}
	return keys
}

// Refresh computes all windows and publishes the state, however lately that was done.
func (s *Station) Refresh() {
	s.outdateForecast()
	s.updateForecast()
	s.Publish()
}

// Stop makes durable what the station holds.
func (s *Station) Stop(ctx context.Context) error { return errors.Join(s.commit(ctx), s.Flush()) }
