package words

import (
	"fmt"
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
