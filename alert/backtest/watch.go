package backtest

import (
	"math"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/cycle"
)

// watcher is one way of watching a value for a limit.
type watcher interface {
	// observe takes a value and reports whether it is called.
	observe(at time.Time, celsius float64) bool
	// clone is the watcher as it is, to go on apart from it.
	clone() watcher
}

// drift is the station's own.
type drift struct{ d cycle.Drift }

func (w *drift) observe(at time.Time, v float64) bool { return w.d.Observe(at, v, true) }

func (w *drift) clone() watcher {
	c := *w
	return &c
}

// plain is an alarm of the limit itself, ten minutes late.
type plain struct{ a alert.Alarm }

func newPlain(l alert.Limit) *plain {
	l.OnDelay = 10 * time.Minute
	return &plain{alert.New(alert.Key{Kind: alert.TemperatureLow, Priority: alert.Warning}, l)}
}

func (w *plain) observe(at time.Time, v float64) bool {
	w.a, _ = w.a.Observe(at, v, true)
	return w.a.True
}

func (w *plain) clone() watcher {
	c := *w
	return &c
}

// fast is the alarm of a rate of change as the station sets it where the
// configuration does not: 5 K an hour for ten minutes.
type fast struct {
	trend alert.Trend
	a     alert.Alarm
}

func newFast() *fast {
	return &fast{a: alert.New(alert.Key{Kind: alert.RateOfChange, Priority: alert.Warning},
		alert.Limit{High: true, At: 5, Deadband: 1, OnDelay: 10 * time.Minute, OffDelay: 30 * time.Minute})}
}

func (w *fast) observe(at time.Time, v float64) bool {
	w.trend.Observe(at, v, true)
	rate := math.Abs(w.trend.PerHour())
	w.a, _ = w.a.Observe(at, rate, !math.IsNaN(rate))
	return w.a.True
}

func (w *fast) clone() watcher {
	c := *w
	return &c
}

// line is the straight line of least squares through the last one, two and three
// hours. It calls when a slope differs from none (t-test, one in a thousand) and
// the line passes the limit within as long as it is, and for two hours more.
type line struct {
	limit alert.Limit
	seen  []Sample // of the last three hours
	asked time.Time
	until time.Time
}

const (
	lineEvery = time.Minute
	lineKeeps = 2 * time.Hour
	lineLeast = 4 // points
)

func (w *line) observe(at time.Time, v float64) bool {
	old := 0
	for old < len(w.seen) && at.Sub(w.seen[old].At) > 3*time.Hour {
		old++
	}
	w.seen = append(w.seen[old:], Sample{at, v})
	if w.limit.Beyond(v) {
		w.until = time.Time{}
		return false
	}
	if at.Sub(w.asked) >= lineEvery {
		w.asked = at
		for span := time.Hour; span <= 3*time.Hour; span += time.Hour {
			if w.passes(at, span) {
				w.until = at.Add(lineKeeps)
			}
		}
	}
	return at.Before(w.until)
}

// passes reports whether the line through the last span says so.
func (w *line) passes(at time.Time, span time.Duration) bool {
	var n, st, sv, stt, stv, svv float64
	for i := len(w.seen) - 1; i >= 0 && at.Sub(w.seen[i].At) <= span; i-- {
		t, v := -at.Sub(w.seen[i].At).Hours(), w.seen[i].Celsius-w.limit.At
		n, st, sv, stt, stv, svv = n+1, st+t, sv+v, stt+t*t, stv+t*v, svv+v*v
	}
	if n < lineLeast {
		return false
	}
	tt, tv, vv := stt-st*st/n, stv-st*sv/n, svv-sv*sv/n
	slope := tv / tt
	now := sv/n - slope*st/n // above the limit
	ahead := -now / slope * float64(time.Hour)
	if !(ahead > 0 && ahead <= float64(span)) {
		return false
	}
	rest := max(0, vv-slope*tv) / (n - 2)
	return math.Abs(slope) > student999(n-2)*math.Sqrt(rest/tt)
}

func (w *line) clone() watcher {
	c := *w
	c.seen = append([]Sample(nil), w.seen...)
	return &c
}

// student999 is the 99.9 % quantile of Student's distribution (Abramowitz &
// Stegun 1964, 26.7.5; exact for two degrees of freedom, 9 % low for three).
func student999(free float64) float64 {
	if free <= 2 {
		return 22.327
	}
	const z = 3.0902
	z3, z5, z7 := math.Pow(z, 3), math.Pow(z, 5), math.Pow(z, 7)
	return z + (z3+z)/(4*free) + (5*z5+16*z3+3*z)/(96*free*free) + (3*z7+19*z5+17*z3-15*z)/(384*free*free*free)
}
