package zone

import (
	"math"
	"time"

	"example.com/ootherm/sensor"
)

// Probe is the state of one probe. A zero time stands before the first event of its kind.
type Probe struct {
	Name string

	Celsius      float64   // of the last believed reading, corrected; NaN before the first
	Humidity     float64   // ratio, of the same reading; NaN where it has none
	LastBelieved time.Time // since this start
	Earlier      time.Time // when it was last believed before this start, as far as is known
	LastTried    time.Time // believed or not
	LastAnswered time.Time // believed or not

	Cause            sensor.Cause // why the last reading is not believed or not used; empty: it is
	MeasuresHumidity bool         // as far as is known
	HumidityError    error        // why the last believed reading has no humidity; nil: not known
	Errors           map[sensor.Cause]int

	screen sensor.Screen
	maxAge time.Duration
}

// NewProbe makes the state of a probe before its first reading. A reading older than
// maxAge is not fresh.
func NewProbe(name string, maxAge time.Duration) *Probe {
	return &Probe{Name: name, Celsius: math.NaN(), Humidity: math.NaN(), Errors: map[sensor.Cause]int{}, maxAge: maxAge}
}

// Screen gives the next reading of the probe with the cause why it is not believed, if any.
func (p *Probe) Screen(r sensor.Reading) sensor.Reading {
	return p.screen.Judge(r)
}

// Step takes a screened reading, and its measurement corrected. It reports whether the
// reading gives a temperature that is believed.
func (p *Probe) Step(at time.Time, r sensor.Reading, corrected sensor.Measurement) bool {
	p.LastTried, p.Cause = at, r.Cause
	if r.Believed() || answered(r.Cause) {
		p.LastAnswered = at
	}
	if !r.Believed() {
		p.Errors[r.Cause]++
		return false
	}
	p.LastBelieved, p.Celsius, p.Humidity = at, corrected.Celsius, corrected.Humidity
	p.HumidityError = r.Lacking
	p.MeasuresHumidity = p.MeasuresHumidity || !math.IsNaN(r.Humidity) || r.Lacking != nil
	return !math.IsNaN(p.Celsius)
}

// LeaveOut notes why the zone's temperature leaves out the probe's last reading.
func (p *Probe) LeaveOut(c sensor.Cause) {
	p.Cause = c
	p.Errors[c]++
}

// Fresh reports whether the last believed reading stands for the present.
func (p *Probe) Fresh(now time.Time) bool {
	return !p.LastBelieved.IsZero() && now.Sub(p.LastBelieved) <= p.maxAge
}

// Silence is how long the probe has given no believed reading, since the start at most.
func (p *Probe) Silence(now, started time.Time) time.Duration {
	if p.LastBelieved.After(started) {
		return now.Sub(p.LastBelieved)
	}
	return now.Sub(started)
}

// Heard is when the probe was last believed, before this start too; zero: not known.
func (p *Probe) Heard() time.Time {
	if p.LastBelieved.After(p.Earlier) {
		return p.LastBelieved
	}
	return p.Earlier
}

// Saturated reports whether the probe's humidity is too near saturation to trust.
func (p *Probe) Saturated() bool { return p.screen.Saturated() }

// Status says in one word how a probe is.
type Status string

// Statuses.
const (
	OK      Status = "ok"
	Suspect Status = "suspect" // it answers and is not believed, or not used
	Stale   Status = "stale"   // it does not answer, and its last reading is too old
	Missing Status = "missing" // it never gave a reading
)

// Status is how the probe is now.
func (p *Probe) Status(now time.Time) Status {
	answers := p.Cause != "" && answered(p.Cause) && now.Sub(p.LastTried) <= p.maxAge
	switch {
	case answers:
		return Suspect
	case p.LastBelieved.IsZero():
		return Missing
	case !p.Fresh(now):
		return Stale
	case p.Cause != "":
		return Suspect
	}
	return OK
}

// answered reports whether a probe that fails for this cause gave an answer.
func answered(c sensor.Cause) bool { return c != sensor.NoAnswer && c != sensor.BusGone }

// Shift moves the times of this boot. The station calls it when it learns when its boot
// really began.
func (p *Probe) Shift(by time.Duration) {
	p.LastBelieved, p.LastTried, p.LastAnswered = shifted(p.LastBelieved, by), shifted(p.LastTried, by), shifted(p.LastAnswered, by)
}

// Extreme is the highest or lowest fresh value of some probes, and its probe; NaN and nil
// where no probe is fresh. A probe that disagrees with its neighbours counts: it may be
// the one beside the trouble, and an alarm too many does less harm than one too few.
func Extreme(probes []*Probe, now time.Time, value func(*Probe) float64, highest bool) (v float64, at *Probe) {
	v = math.NaN()
	for _, p := range probes {
		x := value(p)
		if !p.Fresh(now) || math.IsNaN(x) {
			continue
		}
		if at == nil || highest && x > v || !highest && x < v {
			v, at = x, p
		}
	}
	return v, at
}

// Celsius and Humidity give a value of a probe to [Extreme].
func Celsius(p *Probe) float64  { return p.Celsius }
func Humidity(p *Probe) float64 { return p.Humidity }
