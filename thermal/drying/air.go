package drying

import (
	"math"
	"time"
)

const (
	// minMeasuredShare is how much of a time the deficit must be known for its sum to be known
	// (our choice). The rest counts as its mean.
	minMeasuredShare = 0.9
	// minHourMeasured is how much of an hour must be measured for its mean to count (our
	// choice).
	minHourMeasured = 0.5
	// latest is how long after the last known hour the air is taken to be as it was in it (our
	// choice).
	latest = 3 * time.Hour
)

// Air is the deficit of the air of a place by the hours of UTC.
type Air struct {
	first int64 // hours since 1970
	hours []hour
}

// hour sums what was measured in an hour, over all probes.
type hour struct{ kPaHours, measured float64 }

// mean is the mean deficit of an hour in kPa; NaN where it is not known.
func (h hour) mean() float64 {
	if h.measured < minHourMeasured {
		return math.NaN()
	}
	return h.kPaHours / h.measured
}

// NewAir is the air of the whole hours from one time to another, of which nothing is known yet.
func NewAir(from, to time.Time) *Air {
	a := &Air{first: hourOf(from)}
	a.hours = make([]hour, max(0, hourOf(to)-a.first))
	return a
}

func hourOf(t time.Time) int64 { return int64(math.Floor(float64(t.Unix()) / 3600)) }

func startOf(hour int64) time.Time { return time.Unix(3600*hour, 0).UTC() }

// From is where the hours begin.
func (a *Air) From() time.Time { return startOf(a.first) }

// To is where the hours end.
func (a *Air) To() time.Time { return startOf(a.first + int64(len(a.hours))) }

// Observe takes the mean deficit in kPa that a probe measured from one time to another. What is
// outside of the hours, and what is not a number, is left out.
func (a *Air) Observe(from, to time.Time, kPa float64) {
	if math.IsNaN(kPa) {
		return
	}
	kPa = max(0, kPa) // a hygrometer reads past saturation
	a.each(from, to, func(i int, hours float64) {
		a.hours[i].kPaHours += hours * kPa
		a.hours[i].measured += hours
	})
}

// each goes through the hours of a span that are known, with how much of each is in the span.
func (a *Air) each(from, to time.Time, do func(i int, hours float64)) {
	begin, end := from.Sub(a.From()).Hours(), min(to.Sub(a.From()).Hours(), float64(len(a.hours)))
	for i := int(max(0, math.Floor(begin))); float64(i) < end; i++ {
		do(i, min(float64(i+1), end)-max(float64(i), begin))
	}
}

// Extend adds the hours that follow.
func (a *Air) Extend(next *Air) { a.hours = append(a.hours, next.hours...) }

// Forget drops the hours before a time.
func (a *Air) Forget(before time.Time) {
	n := min(max(0, hourOf(before)-a.first), int64(len(a.hours)))
	a.first, a.hours = a.first+n, a.hours[n:]
}

// Dose is the deficit summed over a time.
type Dose struct {
	KPaHours float64 // while it was measured
	Measured float64 // hours
	Hours    float64 // all of them
}

// Plus is the dose over two times.
func (d Dose) Plus(o Dose) Dose {
	return Dose{d.KPaHours + o.KPaHours, d.Measured + o.Measured, d.Hours + o.Hours}
}

// Sum is the dose in kPa h. Hours that were not measured count as the mean of the others. It is
// NaN where more than a tenth was not.
func (d Dose) Sum() float64 {
	switch {
	case !(d.Hours > 0):
		return 0
	case d.Measured < minMeasuredShare*d.Hours:
		return math.NaN()
	}
	return d.KPaHours * d.Hours / d.Measured
}

// Over is the dose from one time to another; none of it was measured where there is no air. Up
// to three hours after the last known hour count as that one.
func (a *Air) Over(from, to time.Time) Dose {
	d := Dose{Hours: max(0, to.Sub(from).Hours())}
	if a == nil || d.Hours <= 0 {
		return d
	}
	add := func(kPa, hours float64) {
		if !math.IsNaN(kPa) {
			d.KPaHours, d.Measured = d.KPaHours+kPa*hours, d.Measured+hours
		}
	}
	a.each(from, to, func(i int, hours float64) { add(a.hours[i].mean(), hours) })
	if n := len(a.hours); n > 0 && to.After(a.To()) && to.Sub(a.To()) <= latest {
		begin := a.To()
		if from.After(begin) {
			begin = from
		}
		add(a.hours[n-1].mean(), to.Sub(begin).Hours())
	}
	return d
}
