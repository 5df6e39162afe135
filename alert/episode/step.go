package episode

import (
	"math"
	"slices"
	"time"

	"example.com/ootherm/alert"
)

// step is one step of a record.
type step struct {
	Record
	now    time.Time
	alarms []alert.Alarm
	look   Look
	told   []Told
}

// Step follows the alarms of a place as they stand, and the events that deserve a message. It
// gives the record as it is then, and what a person is told. Falls says which way a value
// goes that changes too fast.
func (r Record) Step(now time.Time, alarms []alert.Alarm, events []alert.Event, falls bool, look Look) (Record, []Told) {
	s := &step{Record: r, now: now, alarms: alarms, look: look}
	s.setFast(falls)
	for i := range s.Sides {
		s.follow(i)
	}
	for _, e := range events {
		s.take(e)
	}
	for i := range s.Sides {
		s.begin(i)
		s.foresee(i)
		s.end(i)
	}
	s.repeat()
	s.forget()
	return s.Record, s.told
}

// Adopt is the record of a place whose alarms stood before there were records: they were told
// of.
func Adopt(now time.Time, alarms []alert.Alarm, falls bool, look Look) Record {
	r, _ := Record{}.Step(now, alarms, nil, falls, look)
	for i := range r.Sides {
		r.Sides[i].Told = r.Sides[i].ID != ""
		r.Sides[i].Past = r.Sides[i].Told && slices.ContainsFunc(alarms, func(a alert.Alarm) bool { return a.True && passesSafe(a.Key) })
	}
	return r
}

// side is the index of the side that an alarm is on.
func (s *step) side(k alert.Key) int {
	switch k.Kind.Side() {
	case alert.TooWarm, alert.TooDamp:
		return 1
	case "":
		if k.Kind == alert.RateOfChange && s.Fast > 0 {
			return 1
		}
	}
	return 0
}

// setFast keeps which way a fast change went when its alarm was raised.
func (s *step) setFast(falls bool) {
	stands := slices.ContainsFunc(s.alarms, func(a alert.Alarm) bool { return a.True && a.Key.Kind == alert.RateOfChange })
	switch {
	case !stands:
		s.Fast = 0
	case s.Fast == 0 && falls:
		s.Fast = -1
	case s.Fast == 0:
		s.Fast = 1
	}
}

// name is a side as a situation is asked for.
func (s *step) name(i int) alert.Side {
	for _, a := range s.alarms {
		if side := a.Key.Kind.Side(); side != "" && s.side(a.Key) == i {
			return side
		}
	}
	return ""
}

// recurs reports whether the place comes and goes.
func (s *step) recurs() bool { return !s.Recurring.IsZero() }

func hidden(a alert.Alarm) bool { return a.Out || a.Hidden || !a.ShelvedUntil.IsZero() }

// passesSafe reports whether an alarm says that a safe limit is passed.
func passesSafe(k alert.Key) bool {
	return k.Priority == alert.Critical && (k.Kind == alert.TemperatureLow || k.Kind == alert.TemperatureHigh)
}

// urgency orders alarms: what is critical first, then bands, then what is on its way.
func urgency(k alert.Key) int {
	n := 0
	if k.Priority != alert.Critical {
		n = 4
	}
	switch k.Kind {
	case alert.DriftDown, alert.DriftUp:
		return n + 1
	case alert.RateOfChange:
		return n + 2
	}
	return n
}

// lead is the most urgent alarm that stands on a side; nil where none does. What a person or a
// wider alarm hides does not count, unless asked for.
func (s *step) lead(i int, withHidden bool) (lead *alert.Alarm) {
	for j := range s.alarms {
		a := &s.alarms[j]
		if a.True && (withHidden || !hidden(*a)) && s.side(a.Key) == i && (lead == nil || urgency(a.Key) < urgency(lead.Key)) {
			lead = a
		}
	}
	return lead
}

// follow counts the times of a side, and keeps how far its value went.
func (s *step) follow(i int) {
	e, lead := &s.Sides[i], s.lead(i, false)
	switch {
	case lead != nil && !e.Stands:
		s.rise(i, *lead)
	case lead == nil && s.lead(i, true) != nil: // hidden, and not over
		e.Quiet = time.Time{}
	case lead == nil && (e.Stands || e.ID != "" && e.Quiet.IsZero()):
		e.Quiet = s.now
	}
	if e.Stands = lead != nil; e.Stands {
		e.followDaily(s.now, s.standing(i), s.look(s.name(i)).Probe)
	}
	for _, a := range s.alarms {
		if a.True && e.ID != "" && !hidden(a) && s.side(a.Key) == i {
			s.endsBy(e, a.Key)
		}
	}
	if s.Times == 0 {
		return
	}
	v := s.look(s.name(i)).Value
	if math.IsNaN(v) {
		return
	}
	if !s.Known {
		s.Known, s.Lowest, s.Highest = true, v, v
	}
	s.Lowest, s.Highest = min(s.Lowest, v), max(s.Highest, v)
	if e.ID != "" && (!e.HasWorst || worse(i, v, e.Worst)) {
		e.HasWorst, e.Worst = true, v
	}
}

// worse reports whether a value is worse than another on a side.
func worse(i int, v, than float64) bool { return i == 1 && v > than || i == 0 && v < than }

// rise is one more time on a side.
func (s *step) rise(i int, lead alert.Alarm) {
	e := &s.Sides[i]
	if s.Times == 0 {
		s.Course = Course{Since: s.now}
	}
	s.Times++
	s.Rose[i], e.Quiet, e.Inside, e.Back = true, time.Time{}, time.Time{}, false
	if e.ID == "" && !(s.recurs() && s.Sides[1-i].ID != "") {
		began := lead.Began
		if began.IsZero() {
			began = lead.Since
		}
		*e = Side{ID: alert.NewThread(lead.Key, lead.Key.Zone, began).ID, Began: began, Expectation: Expectation{Limit: s.wanted(i)}}
	}
	if s.Times < recurringTimes || s.recurs() {
		return
	}
	s.Recurring = s.now
	if other := &s.Sides[1-i]; other.ID != "" { // from now on they are one
		e.ID, e.Began = other.ID, other.Began
		other.ID = ""
	}
	s.tell(ComesAndGoes, i, s.event(lead))
}

// take follows one event that deserves a message.
func (s *step) take(x alert.Event) {
	i := s.side(x.Key)
	e := &s.Sides[i]
	raised := !x.ReAlarm && (x.From == alert.Normal || x.From == alert.Returned)
	switch {
	case x.Gone:
		s.told = append(s.told, Told{Event: x, Thread: Thread{e.ID, e.Began}})
		if s.lead(i, true) == nil {
			*e = Side{}
		}
	case x.To != alert.Active:
		if passesSafe(x.Key) && !s.recurs() && e.Told && s.lead(i, false) != nil {
			s.tell(Holds, i, x)
		}
	case s.recurs():
		if passesSafe(x.Key) && (!e.Past || worse(i, x.Value, e.ToldAt+map[bool]float64{true: WorseKelvin, false: -WorseKelvin}[i == 1])) {
			s.tell(ComesAndGoes, i, x)
		}
	case s.isEarly(i, x), !raised && x.Key.Kind.IsDrift() && e.Told && s.known(i, x):
	case !raised:
		s.tell(Again, i, x)
	case x.Key.Priority != alert.Critical: // begin tells of it
	case passesSafe(x.Key):
		s.tell(Passed, i, x)
	case x.Key.Kind.IsDrift():
		if !e.Urgent && !s.look(s.name(i)).Returning && !s.watched(i, x.At) && !s.today(i).expected() {
			s.tell(WillPass, i, x)
		}
	case !e.Told:
		s.tell(Began, i, x)
	}
}

// known reports whether an alarm of what is on its way, which is called again, is no news: the
// safe limit is passed, is not foretold, is not soon, or it was told that it is.
func (s *step) known(i int, x alert.Event) bool {
	e, at := &s.Sides[i], s.look(s.name(i)).SafeAt
	soon := at.Sub(s.now) <= UrgentTime || x.Key.Priority != alert.Critical
	return e.Past || at.IsZero() || !soon || e.Urgent && x.From == alert.Suppressed
}

// begin tells that an episode began. What has not passed the safe limit waits while its value
// is on its way back.
func (s *step) begin(i int) {
	e := &s.Sides[i]
	lead := s.lead(i, false)
	if e.ID == "" || e.Told || lead == nil {
		return
	}
	if s.today(i).expected() {
		e.Expected = true
		s.endsBy(e, lead.Key)
		return
	}
	waits := lead.Key.Priority != alert.Critical || lead.Key.Kind.IsDrift()
	if waits && (s.now.Sub(lead.Since) < returnTime && s.look(s.name(i)).Returning || s.watched(i, lead.Since)) {
		return
	}
	if at := s.look(s.name(i)).SafeAt; lead.Key.Kind.IsDrift() && lead.Key.Priority == alert.Critical && at.Sub(s.now) > UrgentTime {
		lead = s.warning(i, lead) // it was foretold for sooner, hours ago
	}
	s.tell(Began, i, s.event(*lead))
}

// warning is what stands on a side and is not critical; another alarm where nothing does.
func (s *step) warning(i int, other *alert.Alarm) *alert.Alarm {
	for j := range s.alarms {
		if a := &s.alarms[j]; a.True && !hidden(*a) && s.side(a.Key) == i && isWanted(a.Key) {
			return a
		}
	}
	return other
}

// watched reports whether an alarm that was raised a short while ago waits, since a door may be
// open, which lets warm air out, or a probe may have been moved. What grows too warm fast is a
// heater that is stuck on, or the sun.
func (s *step) watched(i int, raised time.Time) bool {
	if s.Sides[i].Told || s.now.Sub(raised) >= s.scaled(doorTime) {
		return false
	}
	here := s.look(s.name(i))
	return i == 0 && here.Fast || here.MayJump
}

// foresee tells, once in an episode, that the safe limit is passed soon, as soon as that is
// foretold for some minutes: a swing turns within them.
func (s *step) foresee(i int) {
	e, lead := &s.Sides[i], s.lead(i, false)
	if !e.Told || e.Urgent || e.Past || lead == nil || s.recurs() {
		return
	}
	here := s.look(s.name(i))
	switch {
	case here.SafeAt.IsZero() || here.Returning || here.SafeAt.Sub(s.now) > UrgentTime:
		e.Soon = time.Time{}
	case e.Soon.IsZero():
		e.Soon = s.now
	case s.now.Sub(e.Soon) >= foreseeTime:
		s.tell(WillPass, i, s.event(*lead))
	}
}

// end tells that an episode holds or is over, once nothing stands for long enough.
func (s *step) end(i int) {
	e := &s.Sides[i]
	if e.ID == "" || s.lead(i, true) != nil {
		return
	}
	if !e.Told { // it was back before it was told, or expected
		if e.Expected {
			s.today(i).keep()
		}
		*e = Side{Quiet: e.Quiet}
		return
	}
	here, side := s.look(s.name(i)), s.name(i)
	e.Back = e.Back || here.Back
	if !here.Inside {
		e.Inside = time.Time{}
	} else if e.Inside.IsZero() {
		e.Inside = s.now
	}
	back := e.Back || !e.Inside.IsZero() && s.now.Sub(e.Inside) >= insideEnd
	quiet, enough := s.now.Sub(e.Quiet), s.scaled(minQuiet)
	if e.Past || side == "" {
		enough = s.scaled(minQuietCritical)
	}
	switch {
	case s.recurs() && !(s.quietFor(i) && s.quietFor(1-i)), quiet < enough:
	case back:
		x := s.event(s.alarm(e.Alarm))
		x.At, x.From, x.To, x.Began = e.Quiet, alert.Active, alert.Normal, e.Began
		if e.HasWorst {
			x.Peak = e.Worst
		}
		s.today(i).keep()
		s.tell(Over, i, x)
		*e = Side{Quiet: e.Quiet}
		s.Recurring, s.Repeats = time.Time{}, 0
	case !e.Held && !s.recurs():
		s.tell(Holds, i, s.event(s.alarm(e.Alarm)))
		e.Held = true
	}
}

// quietFor reports whether nothing stood on a side for hours.
func (s *step) quietFor(i int) bool {
	e := &s.Sides[i]
	return s.lead(i, true) == nil && (e.Quiet.IsZero() || s.now.Sub(e.Quiet) >= s.scaled(quietEnd))
}

// stoodLately reports whether something stood on a side within the last hour.
func (s *step) stoodLately(i int) bool {
	return s.Sides[i].Stands || s.Rose[i] && s.now.Sub(s.Sides[i].Quiet) <= minQuiet
}

// scaled is a time of quiet, as it is for the usual off-delay; with a shorter one of the bands
// it is shorter.
func (s *step) scaled(d time.Duration) time.Duration {
	longest, banded := time.Duration(0), false
	for _, a := range s.alarms {
		if a.Key.Kind.Side() != "" && !a.Key.Kind.IsDrift() {
			longest, banded = max(longest, a.Limit.OffDelay), true
		}
	}
	if !banded || longest >= usualOffDelay {
		return d
	}
	return time.Duration(float64(d) * float64(longest) / float64(usualOffDelay))
}

// repeat tells again that something comes and goes, where it did so lately.
func (s *step) repeat() {
	if !s.recurs() {
		return
	}
	after := repeats[len(repeats)-1] * time.Duration(s.Repeats-len(repeats)+2)
	if s.Repeats < len(repeats) {
		after = repeats[s.Repeats]
	}
	if s.now.Sub(s.Recurring) < after || !s.stoodLately(0) && !s.stoodLately(1) {
		return
	}
	s.Repeats++
	for i := range s.Sides {
		if e := &s.Sides[i]; e.ID != "" {
			if x := s.alarm(e.Alarm); !hidden(x) {
				s.tell(ComesAndGoes, i, s.event(x))
			}
			return
		}
	}
}

// forget stops counting times once nothing has stood for long.
func (s *step) forget() {
	if s.Times > 0 && !s.recurs() && s.quietFor(0) && s.quietFor(1) {
		s.Course, s.Rose = Course{}, [2]bool{}
		for i := range s.Sides {
			if s.Sides[i].ID == "" {
				s.Sides[i] = Side{}
			}
		}
	}
}
