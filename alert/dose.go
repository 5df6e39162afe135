package alert

import "time"

// Dose is how long a value was at a limit or past it: the longest unbroken
// excursion and all of them together, which WHO's specifications of temperature
// devices call single event and cumulative. A span between two samples belongs to
// an excursion in full when both its ends are beyond the limit and by half when
// one is; a hole in the record is a span like any other. Feed the seconds of
// either to an [Alarm] of kind [SingleEvent] or [Cumulative].
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
	beyond := Limit{High: d.High, At: d.At}.Beyond(v)
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
