package messages

import (
	"time"

	"example.com/ootherm/alert"
)

// How long after a message about a zone further stages of other zones wait, to share one
// message; the second is for those that follow without a pause. What is more urgent does not
// wait. Both are our choice.
const (
	shareTime     = 10 * time.Minute
	shareTimeMore = 20 * time.Minute
)

// sharing is until when further messages about zones wait for one another. It is not stored:
// after a restart the next message goes at once.
type sharing struct {
	at       time.Time // of the last that went at once
	until    time.Time
	zone     string
	priority alert.Priority // of what went at once
	held     bool           // something waits
}

// next is before when a message is not sent; zero: it goes at once. Again says that it tells
// of what was told before.
func (s *sharing) next(x alert.Message, again bool) time.Time {
	if len(x.Threads) == 0 || x.Threads[0].Side == "" {
		return time.Time{}
	}
	if s.held && !x.At.Before(s.until) { // what waited goes then: what comes after it waits in its turn
		s.until, s.held = s.until.Add(shareTimeMore), false
	}
	zone := x.Threads[0].Zone
	waits, other := x.At.Before(s.until), again || zone != s.zone
	switch {
	case x.At.Equal(s.at): // they go together
		return time.Time{}
	case waits && other && (x.Priority == s.priority || x.Priority != alert.Critical):
		s.held = true
		return s.until
	case !waits || zone != s.zone || x.Priority == alert.Critical:
		*s = sharing{at: x.At, until: x.At.Add(shareTime), zone: zone, priority: x.Priority}
	}
	return time.Time{}
}
