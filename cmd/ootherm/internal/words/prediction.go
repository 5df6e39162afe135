package words

import (
	"fmt"
	"math"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// Coming formats a predicted crossing of a limit: the limit, the time with its interval,
// and the time left: "68.0 °F about 03:10 (02:50-03:40), in 1 h".
func (r Reader) Coming(c snapshot.Coming, at time.Time) string {
	text := fmt.Sprintf("%s about %s", r.Temperature(c.Limit), r.Clock(c.About))
	if c.Latest == nil {
		return text + fmt.Sprintf(" (not before %s, perhaps not at all)", r.Clock(c.Earliest))
	}
	text += fmt.Sprintf(" (%s-%s)", r.Clock(c.Earliest), r.Clock(*c.Latest))
	if left := c.About.Sub(at); left >= time.Minute {
		return text + ", in " + Span(left)
	}
	return text
}

// Differ says what plain degree-days, a straight line, would say beside the curve. Under a day
// they agree, since eggs are looked at once a day.
func Differ(curve, line *snapshot.Window) string {
	switch {
	case curve == nil || line == nil:
		return ""
	case line.Late && !curve.Late:
		return "By plain degree-days it would be late by now."
	case curve.Late && !line.Late:
		return "By plain degree-days it would not be late yet."
	case curve.Likely.IsZero() || line.Likely.IsZero():
		return ""
	}
	d := line.Likely.Sub(curve.Likely)
	days := int(math.Round(math.Abs(d.Hours()) / 24))
	switch {
	case days < 1:
		return "Plain degree-days say the same within a day."
	case d > 0:
		return "Plain degree-days say " + Count(days, "day", "days") + " later."
	}
	return "Plain degree-days say " + Count(days, "day", "days") + " sooner."
}
