package alert

import (
	"encoding/json"
	"fmt"
	"math"
	"time"
)

// MaxShelve is the longest that a person may hide an alarm. Shelving is bounded
// in time (ISA-18.2); the day is our own choice.
const MaxShelve = 24 * time.Hour

// Alarm watches one value against one limit. It is a value: each method gives
// the alarm as it is afterwards. Times are those handed in.
//
// The on-delay is time spent at the limit or past it. Inside the deadband it
// stands still and a value back past the deadband sets it to nothing, so noise on
// the limit is one alarm and a short excursion is none. A missing value holds it:
// nothing is raised on it, and when the next value is past the limit the hole
// counts, since both its ends were.
//
// The off-delay is harder to earn. It is time back past the deadband, measured:
// a value inside the deadband sets it to nothing, and the time on either side of
// a missing value is not counted. So a missing value never ends an alarm, nor
// brings its end nearer.
type Alarm struct {
	Key   Key   `json:"key"`
	Limit Limit `json:"limit"`
	State State `json:"state"`

	True         bool      `json:"true"`          // the condition, with delays
	Acked        bool      `json:"acked"`         // this occurrence was acknowledged
	Unseen       bool      `json:"unseen"`        // it ended before anybody acknowledged it
	ShelvedUntil time.Time `json:"shelved_until"` // zero: not shelved
	Hidden       bool      `json:"hidden"`        // suppressed
	Out          bool      `json:"out_of_service"`

	Times
	AckedBy string `json:"acked_by"`

	Values

	Kept

	Sequence uint64 `json:"sequence"` // of the last message; see Next
	First    uint64 `json:"first"`    // of the messages of this occurrence
}

// Times are when an alarm came to where it stands.
type Times struct {
	Pending  time.Time `json:"pending"`  // when the on-delay began, shifted by what did not count; zero: not running
	Clearing time.Time `json:"clearing"` // the same of the off-delay
	Began    time.Time `json:"began"`    // when the value passed the limit, of this occurrence or the last
	Since    time.Time `json:"since"`    // when the alarm was raised, or, hidden and not true, when it was hidden
	Changed  time.Time `json:"changed"`  // when the state last changed
	Called   time.Time `json:"called"`   // when it was last raised or called again
	AckedAt  time.Time `json:"acked_at"`
}

// Values are what an alarm was shown.
type Values struct {
	Value float64 `json:"value"` // the last that was known; NaN before the first
	Peak  float64 `json:"peak"`  // the worst since Began; NaN before that
	Last  last    `json:"last"`
}

// Kept is what others keep with an alarm over a restart.
type Kept struct {
	// Held is what the sources that speak for the alarm while it is true last gave, by
	// name. The alarm does not go by it: whoever hands it one value of several sources
	// keeps it here, so that one that has gone silent is not outvoted after a restart.
	Held map[string]float64 `json:"held,omitempty"`

	// Episode is what package episode knows of a place, in a record that is no alarm's.
	Episode json.RawMessage `json:"episode,omitempty"`
}

// last is how the sample before this one stood.
type last struct {
	At     time.Time `json:"at"` // of the last known value
	Beyond bool      `json:"beyond"`
	Hole   bool      `json:"hole"` // something was missing since
}

// Event is one transition of an alarm, or one more call of it.
type Event struct {
	At      time.Time
	Key     Key
	From    State
	To      State
	Began   time.Time // when the value passed the limit
	Value   float64   // NaN where none is known
	Limit   float64
	Peak    float64 // NaN where none is known
	ReAlarm bool    // it was true all along and is called again
	Gone    bool    // it ended because nothing asks for it any more, not because it is over
}

// New is an alarm that has seen nothing.
func New(k Key, l Limit) Alarm {
	return Alarm{Key: k, Limit: l, State: Normal, Values: Values{Value: math.NaN(), Peak: math.NaN()}}
}

// Observe takes one value, or its absence. A value that is no number is absent.
func (a Alarm) Observe(now time.Time, v float64, known bool) (Alarm, []Event) {
	if !known || math.IsNaN(v) || math.IsInf(v, 0) {
		a.Last.Hole = true
		return a.Tick(now)
	}
	a.Value = v
	beyond, back := a.Limit.Beyond(v), a.Limit.Back(v)
	if a.True {
		a = a.clearing(now, v, back)
	} else {
		a = a.pending(now, v, beyond, back)
	}
	a.Last = last{At: now, Beyond: beyond}
	a, events := a.settle(now, nil)
	a, more := a.Tick(now)
	return a, append(events, more...)
}

// ObserveQuiet does in place what Observe does, where that changes no more of a normal alarm
// than its value: nearly always. It reports whether it did.
func (a *Alarm) ObserveQuiet(now time.Time, v float64, known bool) bool {
	if a.State != Normal || a.True || a.Unseen || a.Out || a.Hidden || !a.Pending.IsZero() || !a.ShelvedUntil.IsZero() {
		return false
	}
	switch {
	case !known || math.IsNaN(v) || math.IsInf(v, 0):
		a.Last.Hole = true
	case a.Limit.Beyond(v):
		return false
	default:
		a.Value, a.Last = v, last{At: now}
	}
	return true
}

// pending runs the on-delay.
func (a Alarm) pending(now time.Time, v float64, beyond, back bool) Alarm {
	running := !a.Pending.IsZero()
	switch {
	case back:
		a.Pending = time.Time{}
		return a
	case !running && !beyond:
		return a
	case !running:
		a.Pending, a.Began, a.Peak = now, now, v
	case !beyond || !a.Last.Beyond: // into, inside or out of the deadband
		if span := now.Sub(a.Last.At); span > 0 {
			a.Pending = a.Pending.Add(span)
		}
	}
	if a.Pending.After(now) { // the clock was set back
		a.Pending = now
	}
	a.Peak = a.Limit.worse(a.Peak, v)
	if beyond && now.Sub(a.Pending) >= a.Limit.OnDelay {
		a.True, a.Acked, a.Unseen = true, false, false
		a.Pending, a.Clearing = time.Time{}, time.Time{}
		a.AckedBy, a.AckedAt = "", time.Time{}
		a.Since, a.Called = now, now
		a.First = a.Sequence + 1
	}
	return a
}

// clearing runs the off-delay.
func (a Alarm) clearing(now time.Time, v float64, back bool) Alarm {
	a.Peak = a.Limit.worse(a.Peak, v)
	if !back {
		a.Clearing = time.Time{}
		return a
	}
	switch {
	case a.Clearing.IsZero():
		a.Clearing = now
	case a.Last.Hole:
		if span := now.Sub(a.Last.At); span > 0 {
			a.Clearing = a.Clearing.Add(span)
		}
	}
	if a.Clearing.After(now) { // the clock was set back
		a.Clearing = now
	}
	if now.Sub(a.Clearing) >= a.Limit.OffDelay {
		a.True = false
		a.Unseen = !a.Acked && !a.hidden()
		a.Pending, a.Clearing = time.Time{}, time.Time{}
	}
	return a
}

func (a Alarm) hidden() bool { return a.Out || a.Hidden || !a.ShelvedUntil.IsZero() }

// settle computes the state from what it hangs on, and tells of the change.
func (a Alarm) settle(now time.Time, events []Event) (Alarm, []Event) {
	to := Normal
	switch {
	case a.Out:
		to = OutOfService
	case a.Hidden:
		to = Suppressed
	case !a.ShelvedUntil.IsZero():
		to = Shelved
	case a.True && a.Acked:
		to = Acknowledged
	case a.True:
		to = Active
	case a.Unseen:
		to = Returned
	}
	if to == a.State {
		return a, events
	}
	if a.hidden() && !a.True {
		a.Since = now
	}
	if to == Active {
		a.Called = now
	}
	e := a.event(now, to)
	a.State, a.Changed = to, now
	return a, append(events, e)
}

func (a Alarm) event(now time.Time, to State) Event {
	return Event{At: now, Key: a.Key, From: a.State, To: to, Began: a.Began,
		Value: a.Value, Limit: a.Limit.At, Peak: a.Peak}
}

// Tick lets time pass: shelving ends, and an alarm that is still true after the
// re-alarm time is called again. As in OPC UA Part 9 a call takes back the
// acknowledgement: somebody said an hour ago that they saw it, and it lasts. While
// its end is on the way, measured and without a hole, it is not called.
func (a Alarm) Tick(now time.Time) (Alarm, []Event) {
	var events []Event
	if !a.ShelvedUntil.IsZero() && !now.Before(a.ShelvedUntil) {
		a.ShelvedUntil = time.Time{}
		a, events = a.settle(now, events)
	}
	a, more := a.callAgain(now, a.Again(now))
	return a, append(events, more...)
}

// CallWithOthers calls an alarm again that lasts, as Tick does, but as soon as half of the
// time is over: others are called just now, and one message tells of all.
func (a Alarm) CallWithOthers(now time.Time) (Alarm, []Event) {
	return a.callAgain(now, a.Again(now)/2)
}

// callAgain calls an alarm that was quiet for so long; 0 is never.
func (a Alarm) callAgain(now time.Time, after time.Duration) (Alarm, []Event) {
	ending := !a.Clearing.IsZero() && !a.Last.Hole
	if after == 0 || !a.True || ending || a.hidden() || now.Sub(later(a.Called, a.AckedAt)) < after {
		return a, nil
	}
	return a.CallAgain(now)
}

// seldom is how long the wait of a warning grows to.
const seldom = 24 * time.Hour

// Again is how long after its last call an alarm that lasts is called again; zero is never.
// What was not mended yesterday is no news every few hours: for what is not critical, the
// re-alarm time grows to as long as the alarm had lasted at its last call, up to a day.
// While the value is within the limit and not back past the deadband, it grows in the same
// way for what is critical, and is a day for what is not.
func (a Alarm) Again(now time.Time) time.Duration {
	again := a.Limit.ReAlarm
	switch critical, within := a.Key.Priority == Critical, a.within(now); {
	case again == 0, critical && !within:
		return again
	case !critical && within:
		return max(again, seldom)
	}
	return max(again, min(a.Called.Sub(a.Since), seldom))
}

// within reports whether the value is within the limit, and was known a short time ago.
func (a Alarm) within(now time.Time) bool {
	return now.Sub(a.Last.At) <= maxHole && !math.IsNaN(a.Value) && !a.Limit.Beyond(a.Value)
}

// maxHole is how old a value may be that says that it is within the limit (our choice).
const maxHole = 10 * time.Minute

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// Next counts the alarm's messages: it gives the identity of the next one,
// "key/sequence".
func (a Alarm) Next() (Alarm, string) {
	a.Sequence++
	return a, fmt.Sprintf("%s/%d", a.Key, a.Sequence)
}

// Gone ends an alarm whose limit is no longer set. It goes on counting its messages,
// and stays out of service where a person put it so.
func (a Alarm) Gone(now time.Time) (Alarm, []Event) {
	x := New(a.Key, a.Limit)
	x.Sequence = a.Sequence
	if a.Out {
		x.Out, x.State, x.Since, x.Changed = true, a.State, a.Since, a.Changed
		return x, nil
	}
	if a.State == Normal {
		x.Changed, x.Called = a.Changed, a.Called
		return x, nil
	}
	x.Changed = now
	e := a.event(now, Normal)
	e.Gone = true
	return x, []Event{e}
}

// Notify reports whether the event deserves a message: an alarm raised, shown
// again while true, or called again; and its end, save that of a notice. What a
// person did themselves does not.
func (e Event) Notify() bool {
	switch {
	case e.ReAlarm, e.To == Active:
		return true
	case e.Key.Priority == Notice:
		return false
	case e.Gone:
		return e.From == Active || e.From == Acknowledged
	}
	return e.To == Returned || e.From == Acknowledged && e.To == Normal
}

// MarshalJSON writes a value that is not known as null.
func (a Alarm) MarshalJSON() ([]byte, error) {
	type plain Alarm
	return json.Marshal(struct {
		plain
		Value *float64 `json:"value"`
		Peak  *float64 `json:"peak"`
	}{plain(a), orNil(a.Value), orNil(a.Peak)})
}

// UnmarshalJSON reads what MarshalJSON wrote.
func (a *Alarm) UnmarshalJSON(b []byte) error {
	type plain Alarm
	var w struct {
		plain
		Value *float64 `json:"value"`
		Peak  *float64 `json:"peak"`
	}
	if err := json.Unmarshal(b, &w); err != nil {
		return fmt.Errorf("reading a stored alarm: %w", err)
	}
	*a = Alarm(w.plain)
	a.Value, a.Peak = orNaN(w.Value), orNaN(w.Peak)
	return nil
}

func orNil(v float64) *float64 {
	if math.IsNaN(v) {
		return nil
	}
	return &v
}

func orNaN(p *float64) float64 {
	if p == nil {
		return math.NaN()
	}
	return *p
}
