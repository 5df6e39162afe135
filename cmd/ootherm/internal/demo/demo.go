// Package demo owns an invented season: its configuration, its readings and its book. Half a
// year of a shelf and an incubator has a heater that failed one night, a stuck thermostat,
// a power cut, and a heater that has just failed. It must not know how a station runs.
package demo

import (
	"fmt"
	"math"
	"time"

	"example.com/ootherm/sensor"
)

// Days is the length of the season so far in days: long enough for crested geckos to hatch.
const Days = 170

// Every is the interval of the readings in the last two weeks. Earlier readings have a
// longer interval, so that the season is made in seconds.
const (
	Every         = time.Minute
	earlyInterval = 5 * time.Minute
)

// Next gives the time of the reading after one.
func (s Season) Next(at time.Time) time.Time {
	if s.now.Sub(at) > 14*24*time.Hour {
		return at.Add(earlyInterval)
	}
	return at.Add(Every)
}

// Season is the invented season until a time.
type Season struct {
	now   time.Time
	began time.Time
}

// New makes the season that began [Days] days before now.
func New(now time.Time) Season {
	now = now.UTC().Truncate(time.Second)
	return Season{now: now, began: now.Add(-Days * 24 * time.Hour)}
}

// Began gives the time of the first reading.
func (s Season) Began() time.Time { return s.began }

// Config gives the station's configuration, with the address to listen on and the data
// folder.
func (s Season) Config(listen, data string) string {
	return fmt.Sprintf(`# An invented season.
[station]
name      = "egg room"
units     = "fahrenheit"
time_zone = "UTC"
listen    = %q
data      = %q
every     = "10s"

[[probe]]
name   = "shelf air"
driver = "simulated"

[[probe]]
name   = "dummy box"
driver = "simulated"

[[probe]]
name   = "incubator"
driver = "simulated"

[[zone]]
name      = "shelf"
kind      = "shelf"
probes    = ["shelf air", "dummy box"]
set_point = "74F"
wanted    = { low = "72F", high = "76F", deadband = "0.5F", on_delay = "10m", off_delay = "5m" }
humidity  = { low = "45%%", high = "70%%", deadband = "2%%", on_delay = "30m", off_delay = "10m" }

[[zone]]
name      = "incubator"
kind      = "incubator"
probes    = ["incubator"]
set_point = "82F"
wanted    = { low = "80F", high = "84F", deadband = "0.5F", on_delay = "10m", off_delay = "5m" }
`, listen, data)
}

// Probes gives the names of the season's probes.
func Probes() []string { return []string{"shelf air", "dummy box", "incubator"} }

// The beginnings of the season's faults, before now.
const (
	heaterFailed    = 29*24*time.Hour + 3*time.Hour // for five hours, one night
	powerCut        = 17*24*time.Hour + 2*time.Hour // for two hours and ten minutes
	stuckThermostat = 47*24*time.Hour + 9*time.Hour // in the incubator, for four hours
	heaterFailing   = 95 * time.Minute              // on the shelf, not over yet
)

// Off reports whether the power was off at a time.
func (s Season) Off(at time.Time) bool {
	ago := s.now.Sub(at)
	return ago <= powerCut && ago > powerCut-130*time.Minute
}

// Measure gives a probe's measurement at a time; ok is false while the power is off.
func (s Season) Measure(probe string, at time.Time) (m sensor.Measurement, ok bool) {
	ago := s.now.Sub(at)
	if s.Off(at) {
		return sensor.None(), false
	}
	day := 2 * math.Pi * float64(at.Unix()%86400-15*3600) / 86400
	weather := math.Sin(2 * math.Pi * at.Sub(s.began).Hours() / (24 * 11))
	noise := func(k float64, salt uint64) float64 { return k * hash(uint64(at.Unix())*31+salt) }
	switch probe {
	case "shelf air":
		return sensor.Measurement{
			Celsius:  23.4 + 0.45*math.Cos(day) + 0.25*weather - s.cooling(ago, 1) + noise(0.03, 1),
			Humidity: 0.55 - 0.03*math.Cos(day) - 0.02*weather + noise(0.003, 2),
		}, true
	case "dummy box":
		return sensor.Measurement{
			Celsius:  23.3 + 0.3*math.Cos(day-0.6) + 0.2*weather - s.cooling(ago, 0.85) + noise(0.02, 3),
			Humidity: math.NaN(), // a probe in the medium measures wetness, not humidity
		}, true
	case "incubator":
		return sensor.Measurement{
			Celsius:  27.9 + 3.2*approach(ago, stuckThermostat, 4*time.Hour, 40) + 0.25*math.Sin(2*math.Pi*float64(at.Unix()%1500)/1500) + 0.05*weather + noise(0.02, 5),
			Humidity: 0.8 + noise(0.01, 6),
		}, true
	}
	return sensor.None(), false
}

// cooling gives how far the shelf is below its usual temperature, in kelvin. While the
// heater is off, it approaches the room's temperature; afterwards it recovers as slowly.
func (s Season) cooling(ago time.Duration, share float64) float64 {
	const depth, tau = 4.5, 150.0 // K, minutes
	return share * depth * (approach(ago, heaterFailed, 5*time.Hour, tau) + approach(ago, heaterFailing, heaterFailing+365*24*time.Hour, tau))
}

// approach gives how far an effect has come to its end (0..1), with a time constant in
// minutes. It began at an age and lasted for a time; afterwards it decays as slowly.
func approach(ago, began, lasted time.Duration, tau float64) float64 {
	near := func(since time.Duration) float64 {
		if since <= 0 {
			return 0
		}
		return 1 - math.Exp(-since.Minutes()/tau)
	}
	return near(began-ago) - near(began-lasted-ago)
}

// hash gives noise of about one standard deviation. The same input gives the same noise.
func hash(x uint64) float64 {
	x ^= x >> 33
	x *= 0xff51afd7ed558ccd
	x ^= x >> 33
	x *= 0xc4ceb9fe1a85ec53
	x ^= x >> 33
	return (float64(x>>11)/float64(1<<53) - 0.5) * 3.4
}
