package words

import "time"

// ShortDate is a day where there is little room, "12 Jul".
func (r Reader) ShortDate(t time.Time) string { return r.local(t).Format("2 Jan") }

// ShortDays is a range of days where there is little room: "1-2 Apr", "28 Mar-2
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
