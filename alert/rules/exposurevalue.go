package rules

import (
	"maps"
	"math"
	"slices"
	"time"

	"example.com/ootherm/alert"
)

// ExposureLimit is how long eggs may be at a limit or past it.
type ExposureLimit struct {
	Low, High *float64 // C; either may be absent
	For       time.Duration
}

// Exposure is how long eggs were beyond limits, by each probe of the place where they are. A
// box with a probe of its own has that probe's temperature; one without has that of each probe
// of its zone, and the worst of them counts. Eggs that are moved take with them what they have.
type Exposure struct {
	kind    alert.Kind
	limit   ExposureLimit
	byProbe map[string]*ends
	names   []string // of byProbe, in order
}

// ends are the exposures beyond both ends of a limit.
type ends struct{ low, high Dose }

// NewExposure is the exposure of eggs that were nowhere yet.
func NewExposure(kind alert.Kind, limit ExposureLimit) *Exposure {
	return &Exposure{kind: kind, limit: limit}
}

// Move begins a stay at a place with some probes. Without a probe nothing says what the eggs
// feel there.
func (x *Exposure) Move(probes []string) {
	var carried ends
	if worst, _ := x.worst(); worst != nil {
		carried = *worst
	} else {
		if x.limit.Low != nil {
			carried.low = Dose{At: *x.limit.Low}
		}
		if x.limit.High != nil {
			carried.high = Dose{High: true, At: *x.limit.High}
		}
	}
	if len(probes) == 0 {
		probes = []string{""}
	}
	x.byProbe = make(map[string]*ends, len(probes))
	for _, p := range probes {
		e := carried
		x.byProbe[p] = &e
	}
	x.names = slices.Sorted(maps.Keys(x.byProbe))
}

// Observe takes a temperature of a probe of the present place.
func (x *Exposure) Observe(s Sample) {
	e := x.byProbe[s.Probe]
	if e == nil {
		return
	}
	known := !math.IsNaN(s.Celsius)
	if x.limit.Low != nil {
		e.low = e.low.Observe(s.At, s.Celsius, known)
	}
	if x.limit.High != nil {
		e.high = e.high.Observe(s.At, s.Celsius, known)
	}
}

// beyond is what an alarm goes by: of a single event the excursion that goes on, of a
// cumulative one all of them together.
func (x *Exposure) beyond(d Dose) time.Duration {
	if x.kind == alert.SingleEvent {
		return d.Present()
	}
	return d.Total
}

func (x *Exposure) of(e *ends) time.Duration { return max(x.beyond(e.low), x.beyond(e.high)) }

// worst is the most of any probe, and whose that is; nil where the eggs were nowhere yet.
func (x *Exposure) worst() (most *ends, probe string) {
	for _, name := range x.names {
		if e := x.byProbe[name]; most == nil || x.of(e) > x.of(most) {
			most, probe = e, name
		}
	}
	return most, probe
}

// Dose is how long a value was at a limit or past it: the longest unbroken
// excursion and all of them together, which WHO's specifications of temperature
// devices call single event and cumulative. A span between two samples belongs to
// an excursion in full when both its ends are beyond the limit and by half when
// one is; a hole in the record is a span like any other. Feed the seconds of
// either to an [alert.Alarm] of kind [alert.SingleEvent] or [alert.Cumulative].
//
// The zero value but for High and At is ready. It may be stored as JSON.
type Dose struct {
	High    bool          `json:"high"`
	At      float64       `json:"at"`
	Longest time.Duration `json:"longest"` // unbroken, the present one included
	Total   time.Duration `json:"total"`   // since the dose was last started again

	Start  time.Time `json:"start"` // of the present excursion; zero: none
	Last   time.Time `json:"last"`  // of the last known value; zero: none yet
	Beyond bool      `json:"beyond"`
}

// Observe takes one value, or its absence. An excursion's own length runs from
// its first value beyond to its last.
func (d Dose) Observe(now time.Time, v float64, known bool) Dose {
	if !known || v != v {
		return d
	}
	beyond := alert.Limit{High: d.High, At: d.At}.Beyond(v)
	if span := now.Sub(d.Last); !d.Last.IsZero() && span > 0 {
		switch {
		case beyond && d.Beyond:
			d.Total += span
		case beyond || d.Beyond:
			d.Total += span / 2
		}
	}
	switch {
	case !beyond:
		d.Start = time.Time{}
	case d.Start.IsZero() || d.Start.After(now):
		d.Start = now
	}
	if beyond {
		d.Longest = max(d.Longest, now.Sub(d.Start))
	}
	d.Last, d.Beyond = now, beyond
	return d
}

// Present is the length of the excursion that is going on; 0 when none is.
func (d Dose) Present() time.Duration {
	if d.Start.IsZero() {
		return 0
	}
	return d.Last.Sub(d.Start)
}
