package alert

import (
	"fmt"
	"time"
)

// Acknowledge notes that somebody has seen the alarm. A second time, or of an
// alarm with nothing to acknowledge, it changes nothing.
func (a Alarm) Acknowledge(now time.Time, who string) (Alarm, []Event) {
	if (a.True && !a.Acked) || a.Unseen {
		a.Acked, a.Unseen = true, false
		a.AckedBy, a.AckedAt = who, now
	}
	return a.settle(now, nil)
}

// CallAgain calls an alarm that is true before its re-alarm time, because what it tells of goes
// on after a rest. It takes back the acknowledgement, as every call does. A hidden alarm is
// not called.
func (a Alarm) CallAgain(now time.Time) (Alarm, []Event) {
	if !a.True || a.hidden() {
		return a, nil
	}
	e := a.event(now, Active)
	e.ReAlarm = true
	a.Acked, a.Called = false, now
	if a.State != Active {
		a.State, a.Changed = Active, now
	}
	return a, []Event{e}
}

// ShelveError says that a time asked for is not one an alarm can be shelved to.
type ShelveError struct {
	Now, Until time.Time
}

func (e *ShelveError) Error() string {
	return fmt.Sprintf("shelving until %s, asked at %s: it must end later than now and within %s",
		e.Until.Format(time.RFC3339), e.Now.Format(time.RFC3339), MaxShelve)
}

// Shelve hides the alarm until a time, at most [MaxShelve] away; any other is a
// [*ShelveError]. It ends by itself.
func (a Alarm) Shelve(now, until time.Time) (Alarm, []Event, error) {
	if d := until.Sub(now); d <= 0 || d > MaxShelve {
		return Alarm{}, nil, &ShelveError{now, until}
	}
	a.ShelvedUntil, a.Unseen = until, false
	a, events := a.settle(now, nil)
	return a, events, nil
}

// Unshelve shows the alarm again before its time.
func (a Alarm) Unshelve(now time.Time) (Alarm, []Event) {
	a.ShelvedUntil = time.Time{}
	return a.settle(now, nil)
}

// Suppress hides the alarm while a cause above it lasts, one that raises an alarm
// of its own. It may be called at every step.
func (a Alarm) Suppress(now time.Time) (Alarm, []Event) {
	a.Hidden, a.Unseen = true, false
	return a.settle(now, nil)
}

// Unsuppress ends what Suppress began. It may be called at every step.
func (a Alarm) Unsuppress(now time.Time) (Alarm, []Event) {
	a.Hidden = false
	return a.settle(now, nil)
}

// OutOfService hides the alarm for maintenance, until InService.
func (a Alarm) OutOfService(now time.Time) (Alarm, []Event) {
	a.Out, a.Unseen = true, false
	return a.settle(now, nil)
}

// InService ends what OutOfService began.
func (a Alarm) InService(now time.Time) (Alarm, []Event) {
	a.Out = false
	return a.settle(now, nil)
}

// End ends an alarm that another one takes the place of: at once, without its off-delay, and
// with nothing left to acknowledge.
func (a Alarm) End(now time.Time) (Alarm, []Event) {
	a.True, a.Unseen = false, false
	a.Pending, a.Clearing = time.Time{}, time.Time{}
	return a.settle(now, nil)
}

// Resume takes up an alarm that was stored and loaded again, under the limit as
// it is configured now. A pending on-delay counts on from where it began when the
// next value is still past the limit. An off-delay starts again: no one watched
// meanwhile. Shelving whose end is not a time that [Alarm.Shelve] would take is
// ended (OPC UA Part 9 has unknown shelving become unshelved). Times ahead of the
// clock are brought back to it, so that a station that woke with an old clock
// does not wait for it to catch up.
func (a Alarm) Resume(now time.Time, l Limit) (Alarm, []Event) {
	a.Limit = l
	a.Clearing = time.Time{}
	a.Last.Hole = true
	a.Last.Beyond = !a.Pending.IsZero() // the span until the next value counts
	for _, t := range []*time.Time{&a.Pending, &a.Began, &a.Since, &a.Changed, &a.Called, &a.AckedAt, &a.Last.At} {
		if t.After(now) {
			*t = now
		}
	}
	if d := a.ShelvedUntil.Sub(now); d <= 0 || d > MaxShelve {
		a.ShelvedUntil = time.Time{}
	}
	return a.settle(now, nil)
}
