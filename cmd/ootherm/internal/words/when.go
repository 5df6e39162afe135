package words

import (
	"fmt"
	"math"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

func (r Reader) local(t time.Time) time.Time {
	if r.Place == nil {
		return t.UTC()
	}
	return t.In(r.Place)
}

// Clock is the time of day where the station is, "14:07".
func (r Reader) Clock(t time.Time) string { return r.local(t).Format("15:04") }

// Date is the day where the station is, "12 June", with the year where it is not
// this one.
func (r Reader) Date(t time.Time) string {
	if a := r.local(t); r.thisYear(a) {
		return a.Format("2 January")
	} else {
		return a.Format("2 January 2006")
	}
}

// thisYear reports whether a day is of the year it is now. Where nobody says what
// day it is, every year is.
func (r Reader) thisYear(local time.Time) bool {
	return r.Today == nil || local.Year() == r.local(r.Today()).Year()
}

// When is a moment as seen from another: the time of day alone on the same
// day, else the date with it, and the year where it differs.
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

// Between is a span as seen from a moment: its end has a day where that is not the
// day of its beginning.
func (r Reader) Between(from, to, at time.Time) string {
	return r.When(from, at) + " to " + r.When(to, from)
}

// Days is the range from one day to another, its months short: "12-20 Jun", "28
// May to 6 Jun", "12 Jun" where both are one day. The year shows where neither end
// is of this one: a range that begins or ends in it is taken for the next one to
// come, or the last.
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

// Window is when to look: "12-20 Jun, likely 16 Jun". Past what can still be
// called a window it says so instead of giving a new one.
func (r Reader) Window(w snapshot.Window) string {
	if w.Late {
		return "late: was expected by " + r.Date(w.LateAfter)
	}
	days := r.Days(w.CheckFrom, w.LateAfter)
	if days == r.Days(w.Likely, w.Likely) {
		return days
	}
	return days + ", likely " + r.ShortDate(w.Likely)
}

// Laid is when a clutch was laid: an interval of days.
func (r Reader) Laid(l snapshot.Laid) string { return "laid " + r.Days(l.Earliest, l.Latest) }

// Span is a length of time in one or two units: "40 s", "22 min", "3 h 10 min",
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

func pair(a time.Duration, one string, b time.Duration, two string) string {
	if b == 0 {
		return fmt.Sprintf("%d %s", a, one)
	}
	return fmt.Sprintf("%d %s %d %s", a, one, b, two)
}

// Ago is how long since, "22 min ago"; under a second, or ahead of us because
// the clock was set, it is "just now".
func Ago(d time.Duration) string {
	if d < time.Second {
		return "just now"
	}
	return Span(d) + " ago"
}

// Seconds is a span given in seconds, as the published state holds ages.
func Seconds(s float64) time.Duration {
	const most = float64(math.MaxInt64) / float64(time.Second)
	switch {
	case math.IsNaN(s) || s <= 0:
		return 0
	case s >= most:
		return math.MaxInt64
	}
	return time.Duration(s * float64(time.Second))
}
