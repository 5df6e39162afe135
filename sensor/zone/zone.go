// Package zone computes a zone's temperature from its probes: which of them are fresh,
// which agree, their median, and how far apart they are. It also holds the state of one
// probe: its last believed reading, its silence and its errors. It must not know the
// alarms, the eggs, or where readings are stored.
package zone

import (
	"iter"
	"math"
	"slices"
	"time"

	"example.com/ootherm/sensor"
)

// Sample is a believed, corrected temperature of one probe.
type Sample struct {
	Probe   string
	Celsius float64
}

// Value is a zone's temperature at a time.
type Value struct {
	At      time.Time
	Celsius float64 // the median of the fresh probes that agree; NaN where there is none
	Spread  float64 // K, the warmest of them less the coolest; NaN where there are fewer than two
}

// Cause says why a probe that was just read is left out of the zone's temperature.
type Cause struct {
	Probe string
	Cause sensor.Cause
}

// Zone aggregates the readings of some probes, one instant at a time, in the order of
// their times. A zone of one probe is that probe.
//
// The running station and a rebuild from the history both use it, so they cannot differ.
type Zone struct {
	probes    []string
	maxAge    time.Duration
	apart     float64 // K
	last      []lastSample
	agreement []agreement
	current   []float64 // scratch of updateAgreement
	sorted    []float64 // scratch of At
}

// lastSample is the last sample of a probe.
type lastSample struct {
	seen    bool
	at      int64 // Unix nanoseconds: a rebuild compares millions of them
	celsius float64
}

// New makes a zone of some probes. A sample older than maxAge does not count. Apart is how far
// apart, in K, two probes may be, the one limit for what the temperature leaves out, for the
// alarm and for messages; 0: no probe is left out.
func New(probes []string, maxAge time.Duration, apart float64) *Zone {
	return &Zone{
		probes: probes, maxAge: maxAge, apart: apart,
		last: make([]lastSample, len(probes)), agreement: make([]agreement, len(probes)),
		current: make([]float64, len(probes)), sorted: make([]float64, 0, len(probes)),
	}
}

// Probes gives the names of the zone's probes.
func (z *Zone) Probes() []string { return z.probes }

// Step takes the samples of one instant. It returns the zone's temperature then, and
// which of the probes that were read are left out of it, with the cause. Samples of other
// probes are ignored.
func (z *Zone) Step(at time.Time, samples []Sample) (Value, []Cause) {
	for _, s := range samples {
		if i := slices.Index(z.probes, s.Probe); i >= 0 {
			z.last[i] = lastSample{true, at.UnixNano(), s.Celsius}
		}
	}
	z.updateAgreement(at)
	var causes []Cause
	for _, s := range samples {
		if i := slices.Index(z.probes, s.Probe); i >= 0 && z.agreement[i].odd {
			causes = append(causes, Cause{s.Probe, Disagrees})
		}
	}
	return z.At(at), causes
}

// At gives the zone's temperature at a time, by the last samples up to then.
func (z *Zone) At(t time.Time) Value {
	z.sorted = z.sorted[:0]
	now := t.UnixNano()
	for i := range z.last {
		if z.fresh(i, now) && !z.agreement[i].odd {
			z.sorted = append(z.sorted, z.last[i].celsius)
		}
	}
	v := Value{At: t, Celsius: math.NaN(), Spread: math.NaN()}
	if n := len(z.sorted); n > 0 {
		slices.Sort(z.sorted)
		v.Celsius = Median(z.sorted)
		if n > 1 {
			v.Spread = z.sorted[n-1] - z.sorted[0]
		}
	}
	return v
}

// MedianOfAll is the median of all fresh probes in C, those too that disagree; NaN where there is
// none. It says how fast a zone changes where it has no temperature.
func (z *Zone) MedianOfAll(t time.Time) float64 {
	z.sorted = z.sorted[:0]
	for i := range z.last {
		if z.fresh(i, t.UnixNano()) {
			z.sorted = append(z.sorted, z.last[i].celsius)
		}
	}
	if len(z.sorted) == 0 {
		return math.NaN()
	}
	slices.Sort(z.sorted)
	return Median(z.sorted)
}

// fresh reports whether a probe's last sample counts at a time in Unix nanoseconds.
func (z *Zone) fresh(i int, now int64) bool {
	return z.last[i].seen && now-z.last[i].at <= int64(z.maxAge)
}

// Shift moves the times of the last samples. The station calls it when it learns when
// its boot really began.
func (z *Zone) Shift(by time.Duration) {
	for i := range z.last {
		z.last[i].at += int64(by)
	}
}

func shifted(t time.Time, by time.Duration) time.Time {
	if t.IsZero() {
		return t
	}
	return t.Add(by)
}

// Timed is a sample with its time.
type Timed struct {
	At time.Time
	Sample
}

// Values gives the temperatures of a zone through past samples, which come in the order of
// their times. Samples of one instant make one value. An error stands where samples are
// missing, beside a value that is NaN; the values after it follow.
func Values(probes []string, maxAge time.Duration, apart float64, samples iter.Seq2[Timed, error]) iter.Seq2[Value, error] {
	return func(yield func(Value, error) bool) {
		z := New(probes, maxAge, apart)
		var at time.Time
		var instant []Sample // at that time
		step := func() bool {
			if len(instant) == 0 {
				return true
			}
			v, _ := z.Step(at, instant)
			instant = instant[:0]
			return yield(v, nil)
		}
		for s, err := range samples {
			if err != nil {
				if !yield(Value{Celsius: math.NaN(), Spread: math.NaN()}, err) {
					return
				}
				continue
			}
			if s.At.After(at) {
				if !step() {
					return
				}
				at = s.At
			}
			instant = append(instant, s.Sample)
		}
		step()
	}
}

// Median gives the median of sorted values, of which there is one at least.
func Median(sorted []float64) float64 {
	n := len(sorted)
	if n%2 == 1 {
		return sorted[n/2]
	}
	return (sorted[n/2-1] + sorted[n/2]) / 2
}
