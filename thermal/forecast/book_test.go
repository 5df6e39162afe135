package forecast_test

import (
	"testing"
	"time"

	"example.com/ootherm/thermal/forecast"
	"example.com/ootherm/thermal/forecast/forecasttest"
	"example.com/ootherm/thermal/track"
)

type (
	laying = forecasttest.Laying
	fate   = forecasttest.Fate
	group  = track.Group
	source = track.Source
)

// daysOf are a time's days since the book began.
func daysOf(at time.Time) float64 { return forecasttest.Day(at) }

// houseAt is a house at one temperature, as its book is on a day.
func houseAt(t testing.TB, c, day float64, layings ...laying) forecast.House {
	t.Helper()
	return forecasttest.HouseAt(t, c, day, layings...)
}

// on is the forecast of a clutch on a day.
func on(t testing.TB, c, day float64, id string, layings ...laying) forecast.Hatch {
	t.Helper()
	return hatchOf(t, houseAt(t, c, day, layings...), id)
}

func hatched(day float64) fate { return fate{Day: day, What: "hatched"} }

// alone is a clutch of two eggs in the box of its own.
func alone(id, dam string, day int) laying { return forecasttest.Alone(id, dam, day) }

// sourceOf is the probe of a clutch's own box.
func sourceOf(clutch string) source { return source{Probe: forecasttest.Probe("box " + clutch)} }
