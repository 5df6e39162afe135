// Package demo is an invented season: crested and gargoyle geckos on a shelf,
// leopard geckos in an incubator, half a year of their warmth with a heater that
// failed one night, a thermostat that stuck, a power cut, and a heater that has
// just failed. Nobody and nothing in it is real.
package demo

import (
	"fmt"
	"math"
	"time"

	"example.com/ootherm/sensor"
)

// Days is how much of the season lies behind: long enough for crested geckos to
// hatch.
const Days = 170

// Every is how far apart the readings of the last two weeks lie; those before are
// further apart, so that the season is made up in seconds.
const (
	Every  = time.Minute
	before = 5 * time.Minute
)

// Next is when the reading after one was taken.
func (s Season) Next(at time.Time) time.Time {
	if s.now.Sub(at) > 14*24*time.Hour {
		return at.Add(before)
	}
	return at.Add(Every)
}

// Season is the invented season as seen from one moment.
type Season struct {
	now   time.Time
	began time.Time
}

// New is the season that has run for Days days by now.
func New(now time.Time) Season {
	now = now.UTC().Truncate(time.Second)
	return Season{now: now, began: now.Add(-Days * 24 * time.Hour)}
}

// Began is when the season's first reading was taken.
func (s Season) Began() time.Time { return s.began }

// Config is the station's configuration, to listen at an address and keep its
// data in a folder.
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

// Probes are the names of the season's probes.
func Probes() []string { return []string{"shelf air", "dummy box", "incubator"} }

// What happened, counted back from now.
const (
	heaterFailed = 29*24*time.Hour + 3*time.Hour // for five hours, one night
	powerCut     = 17*24*time.Hour + 2*time.Hour // for two hours and ten minutes
	stuck        = 47*24*time.Hour + 9*time.Hour // the incubator's thermostat, for four hours
	drifting     = 95 * time.Minute              // the shelf's heater, until now and on
)

// Off reports whether the power was off.
func (s Season) Off(at time.Time) bool {
	ago := s.now.Sub(at)
	return ago <= powerCut && ago > powerCut-130*time.Minute
}

// Measure is what a probe gives at a time; false while the power is off.
func (s Season) Measure(probe string, at time.Time) (sensor.Measurement, bool) {
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
			Celsius:  23.4 + 0.45*math.Cos(day) + 0.25*weather - s.fall(ago, 1) + noise(0.03, 1),
			Humidity: 0.55 - 0.03*math.Cos(day) - 0.02*weather + noise(0.003, 2),
		}, true
	case "dummy box":
		return sensor.Measurement{
			Celsius:  23.3 + 0.3*math.Cos(day-0.6) + 0.2*weather - s.fall(ago, 0.85) + noise(0.02, 3),
			Humidity: math.NaN(), // buried in medium, it would tell wetness and no more
		}, true
	case "incubator":
		return sensor.Measurement{
			Celsius:  27.9 + 3.2*course(ago, stuck, 4*time.Hour, 40) + 0.25*math.Sin(2*math.Pi*float64(at.Unix()%1500)/1500) + 0.05*weather + noise(0.02, 5),
			Humidity: 0.8 + noise(0.01, 6),
		}, true
	}
	return sensor.None(), false
}

// fall is how far the shelf has cooled below its course: while its heater was
// off it nears what the room has without it, and comes back as slowly.
func (s Season) fall(ago time.Duration, share float64) float64 {
	const depth, tau = 4.5, 150.0 // K, minutes
	return share * depth * (course(ago, heaterFailed, 5*time.Hour, tau) + course(ago, drifting, drifting+365*24*time.Hour, tau))
}

// course is how far something that began a time ago and lasted has come to its
// end (0..1), with a time constant in minutes; afterwards it goes back as slowly.
func course(ago, began, lasted time.Duration, tau float64) float64 {
	near := func(since time.Duration) float64 {
		if since <= 0 {
			return 0
		}
		return 1 - math.Exp(-since.Minutes()/tau)
	}
	return near(began-ago) - near(began-lasted-ago)
}

// hash is noise of about one standard deviation that is the same each time.
func hash(x uint64) float64 {
	x ^= x >> 33
	x *= 0xff51afd7ed558ccd
	x ^= x >> 33
	x *= 0xc4ceb9fe1a85ec53
	x ^= x >> 33
	return (float64(x>>11)/float64(1<<53) - 0.5) * 3.4
}
