package episode

import (
	"math"

	"example.com/ootherm/alert"
)

// endsBy has the end of an episode told in the words of an alarm, where that says more than the
// one before: a band that was left says more than what was on its way.
func (s *step) endsBy(e *Side, k alert.Key) {
	weight := func(k alert.Key) int {
		n := urgency(k)
		if !k.Kind.IsDrift() && k.Kind != alert.RateOfChange {
			n -= 4
		}
		return n
	}
	if e.Alarm == "" || weight(k) < weight(s.alarm(e.Alarm).Key) {
		e.Alarm = k.String()
	}
}

// alarm is the alarm of a key's text, or another of the place where that is gone.
func (s *step) alarm(key string) alert.Alarm {
	for _, a := range s.alarms {
		if a.Key.String() == key {
			return a
		}
	}
	if len(s.alarms) > 0 {
		return s.alarms[0]
	}
	return alert.Alarm{}
}

// event is an alarm as it stands, as an event of now.
func (s *step) event(a alert.Alarm) alert.Event {
	x := alert.Event{At: s.now, Key: a.Key, From: alert.Normal, To: alert.Active, Began: a.Began, Value: a.Value, Limit: a.Limit.At, Peak: a.Peak}
	if a.Key.Kind.Unit() == alert.Celsius || a.Key.Kind.Unit() == alert.Ratio {
		if v := s.look(s.name(s.side(a.Key))).Value; !math.IsNaN(v) && a.Key.Kind.Side() != "" && !a.Key.Kind.IsDrift() {
			x.Value = v
		}
	}
	return x
}

// tell adds what a person is told.
func (s *step) tell(stage Stage, i int, x alert.Event) {
	e := &s.Sides[i]
	if passesSafe(x.Key) && x.To == alert.Active {
		if !e.Past || worse(i, x.Value, e.ToldAt) {
			e.ToldAt = x.Value
		}
		e.Past = true
	}
	if other := &s.Sides[1-i]; e.ID == "" && s.recurs() && other.ID != "" {
		e = other // both sides come and go as one
	}
	if e.ID == "" { // an event of an alarm that did not stand when the step began
		e.ID, e.Began = alert.NewThread(x.Key, x.Key.Zone, x.Began).ID, x.Began
	}
	days, unlike := 0, Unlike("")
	if !e.Told && (stage == Began || stage == WillPass) {
		days, unlike = s.today(i).days(), e.Unlike
	}
	if e.Expected {
		e.Late = s.now
	}
	e.Told, e.Held, e.Expected = true, false, false
	s.endsBy(e, x.Key)
	t := Told{Event: x, Stage: stage, Thread: Thread{e.ID, e.Began}, Course: s.Course, Swings: s.Rose[0] && s.Rose[1], Days: days, Unlike: unlike}
	if stage != Over && !passesSafe(x.Key) {
		t.SafeAt = s.look(s.name(i)).SafeAt
		e.Urgent = e.Urgent || !t.SafeAt.IsZero() && t.SafeAt.Sub(s.now) <= UrgentTime || stage == WillPass
	}
	s.told = append(s.told, t)
}
