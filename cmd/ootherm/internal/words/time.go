package words

import (
	"fmt"
	"math"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// local gives a time in the station's time zone.
func (r Reader) local(t time.Time) time.Time {
	if r.Place == nil {
		return t.UTC()
	}
	return t.In(r.Place)
}

// Clock formats the station's local time of day, "14:07".
func (r Reader) Clock(t time.Time) string { return r.local(t).Format("15:04") }

// Date formats the station's local day, "12 June". It has the year unless that is the
// current one.
func (r Reader) Date(t time.Time) string {
	if a := r.local(t); r.thisYear(a) {
		return a.Format("2 January")
	} else {
		return a.Format("2 January 2006")
	}
}

// thisYear reports whether a day is in the current year. Without Today every day is.
func (r Reader) thisYear(local time.Time) bool {
	return r.Today == nil || local.Year() == r.local(r.Today()).Year()
}

// When formats a time as seen from another. On the same day it is the time of day alone;
// otherwise it has the date, and the year where that differs.
func (r Reader) When(t, from time.Time) string {
	a, b := r.local(t), r.local(from)
	switch {
	case a.Year() != b.Year():
		return a.Format("2 January 2006 15:04")
	case a.YearDay() != b.YearDay():
		return a.Format("2 January 15:04")
	}
	return a.Format("15:04")
}

// OnOrAt formats a time within a sentence, as seen from another: "at 14:05", "on 29 November,
// 14:05".
func OnOrAt(r Reader, t, from time.Time) string {
	when, clock := r.When(t, from), r.Clock(t)
	if when == clock {
		return "at " + clock
	}
	return "on " + strings.TrimSuffix(when, " "+clock) + ", " + clock
}

// Between formats a span as seen from a time. Its end has a date where that differs from
// the date of its beginning.
func (r Reader) Between(from, to, at time.Time) string {
	return r.When(from, at) + " to " + r.When(to, from)
}

// Days formats a range of days: "12-20 Jun", "28 May to 6 Jun", or "12 Jun" for one day. The
// year shows where neither end is in the current year; the year of a range that touches it
// is clear.
func (r Reader) Days(from, to time.Time) string {
	const short = "2 Jan"
	a, b := r.local(from), r.local(to)
	year := ""
	if !r.thisYear(a) && !r.thisYear(b) {
		year = b.Format(" 2006")
	}
	switch {
	case a.Year() != b.Year() && year != "":
		return a.Format(short+" 2006") + " to " + b.Format(short) + year
	case a.Year() != b.Year() || a.Month() != b.Month():
		return a.Format(short) + " to " + b.Format(short) + year
	case a.Day() != b.Day():
		return fmt.Sprintf("%d-%s", a.Day(), b.Format(short)) + year
	}
	return b.Format(short) + year
}

// ShortDate formats a day where there is little room, "12 Jul".
func (r Reader) ShortDate(t time.Time) string { return r.local(t).Format("2 Jan") }

// ShortDays formats a range of days where there is little room: "1-2 Apr", "28 Mar-2
// Apr", "2 Apr".
func (r Reader) ShortDays(from, to time.Time) string {
	a, b := r.local(from), r.local(to)
	switch {
	case a.Year() != b.Year() || a.Month() != b.Month():
		return a.Format("2 Jan") + "-" + b.Format("2 Jan")
	case a.Day() != b.Day():
		return a.Format("2") + "-" + b.Format("2 Jan")
	}
	return b.Format("2 Jan")
}

// Window formats a hatch window: "12-20 Jun, likely 16 Jun". A late one gives the day by
// which the hatch was expected.
func (r Reader) Window(w snapshot.Window) string {
	if w.Late {
		return "late: was expected by " + r.Date(w.LateAfter)
	}
	days := r.Days(w.CheckFrom, w.LateAfter)
	switch {
	case w.Likely.IsZero():
		return days + ", " + AnyDay
	case days == r.Days(w.Likely, w.Likely):
		return days
	}
	return days + ", likely " + r.ShortDate(w.Likely)
}

// AnyDay is said of eggs that have no likely day: the half of those that still wait would be
// due when nearly all like them have hatched.
const AnyDay = "any day now, or not at all"

// Likely says the likely day of a window: "likely 16 June".
func (r Reader) Likely(w snapshot.Window) string {
	if w.Likely.IsZero() {
		return AnyDay
	}
	return "likely " + r.Date(w.Likely)
}

// Laid formats the interval of days in which a clutch was laid.
func (r Reader) Laid(l snapshot.Laid) string { return "laid " + r.Days(l.Earliest, l.Latest) }

// Span formats a length of time in one or two units: "40 s", "22 min", "3 h 10 min",
// "1 d 3 h", "12 d".
func Span(d time.Duration) string {
	if d < 0 {
		d = 0
	}
	switch {
	case d.Round(time.Second) < time.Minute:
		return fmt.Sprintf("%d s", d.Round(time.Second)/time.Second)
	case d.Round(time.Minute) < time.Hour:
		return fmt.Sprintf("%d min", d.Round(time.Minute)/time.Minute)
	case d.Round(time.Minute) < 24*time.Hour:
		m := d.Round(time.Minute)
		return pair(m/time.Hour, "h", m%time.Hour/time.Minute, "min")
	case d.Round(time.Hour) < 48*time.Hour:
		h := d.Round(time.Hour)
		return pair(h/(24*time.Hour), "d", h%(24*time.Hour)/time.Hour, "h")
	}
	return fmt.Sprintf("%d d", d.Round(24*time.Hour)/(24*time.Hour))
}

// pair formats two units; a second one of zero is left out.
func pair(a time.Duration, one string, b time.Duration, two string) string {
	if b == 0 {
		return fmt.Sprintf("%d %s", a, one)
	}
	return fmt.Sprintf("%d %s %d %s", a, one, b, two)
}

// Ago formats an age, "22 min ago". Under a second it is "just now", and so is a negative
// age, which a clock step causes.
func Ago(d time.Duration) string {
	if d < time.Second {
		return "just now"
	}
	return Span(d) + " ago"
}

// Seconds converts seconds, the unit of ages in the snapshot, to a duration. Negative
// values and NaN become zero.
func Seconds(s float64) time.Duration {
	const maxSeconds = float64(math.MaxInt64) / float64(time.Second)
	switch {
	case math.IsNaN(s) || s <= 0:
		return 0
	case s >= maxSeconds:
		return math.MaxInt64
	}
	return time.Duration(s * float64(time.Second))
}
