package pastreadings_test

import (
	"math"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/station/pastreadings"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/calibration"
	"example.com/ootherm/sensor/history"
)

func TestHourlyIsCorrectedAsTheReadingsAre(t *testing.T) {
	h := history.Memory(history.Options{})
	boot, err := h.Begin("a", began, 0, true)
	if err != nil {
		t.Fatal(err)
	}
	for i := range 120 {
		err := h.Append([]sensor.Reading{{
			Probe: "b", Stamp: sensor.Stamp{Boot: boot.Number, Uptime: time.Duration(i) * time.Minute},
			Measurement: sensor.Measurement{Celsius: 23 + math.Sin(float64(i)/20), Humidity: 0.6 + 0.05*math.Cos(float64(i)/20)},
		}})
		if err != nil {
			t.Fatal(err)
		}
	}
	now := began.Add(2 * time.Hour)
	p := pastreadings.New(pastreadings.Options{History: h, Now: func() time.Time { return now }, Plan: plan.Plan{Every: time.Minute}})
	line := calibration.Timeline{}
	line.Add("b", 1, []calibration.Calibration{{From: began.Add(time.Hour), Temperature: []calibration.Point{{Reference: 0, Read: 0.5}, {Reference: 30, Read: 30}}}})
	p.Correct(line)
	hours := 0
	for x, err := range p.Hourly("b", began, now) {
		if err != nil {
			t.Fatal(err)
		}
		n, sum, damp, least := 0, 0.0, 0.0, math.Inf(1)
		for r, err := range p.Readings("b", x.From, x.To) {
			if err != nil {
				t.Fatal(err)
			}
			n, sum, damp, least = n+1, sum+r.Celsius, damp+r.Humidity, min(least, r.Celsius)
		}
		if x.Celsius.Count != n || math.Abs(x.Celsius.Mean-sum/float64(n)) > 1e-8 || math.Abs(x.Celsius.Least-least) > 1e-8 {
			t.Errorf("hour %d: %+v, want %d readings of %g on average and %g at least", hours, x.Celsius, n, sum/float64(n), least)
		}
		// The vapour pressure bends within the hour.
		if math.Abs(x.Humidity.Mean-damp/float64(n)) > 1e-3 {
			t.Errorf("hour %d: humidity %g, want %g", hours, x.Humidity.Mean, damp/float64(n))
		}
		hours++
	}
	if hours != 2 {
		t.Errorf("%d hours, want 2", hours)
	}
}
