package episode

import (
	"math"
	"time"

	"example.com/ootherm/alert"
)

// All are our choice.
const (
	// DailyDays is the number of days after which an episode at the same hour is expected.
	DailyDays = recurringTimes
	// dailySkipped is the longest time between two days that belong together: two in between may
	// have been without an episode.
	dailySkipped = 3
	// dailyEarly is how much earlier, and dailyLate how much longer than on the days that were
	// told of, an episode is expected.
	dailyEarly, dailyLate = 4 * time.Hour, 2 * time.Hour
	// dailyUrgentLate is how much longer an episode is expected that may pass the safe limit
	// soon, as while a window is open every morning.
	dailyUrgentLate = 30 * time.Minute
	// dailyTurn is how much later than on the days that were told of such an episode turns.
	dailyTurn = 10 * time.Minute
	// dailyLongest is the longest episode of a day that is expected on the next.
	dailyLongest = 12 * time.Hour
	// dailyAgain is the time after a message that came late in which an alarm that was raised
	// long before is not repeated.
	dailyAgain = 4 * time.Hour
	// dailyReminder is the time after which an expected episode is told of again.
	dailyReminder = 7 * 24 * time.Hour
	// WorseHumidity is how much worse a humidity must be for another message, as WorseKelvin.
	WorseHumidity = 0.05
)

const day = 24 * time.Hour

// Daily is an episode that comes at about the same hour on several days and does not pass the
// safe limit: a night that is a little too cold, a window that is open every morning. A person
// hears of it until it is expected: from then on where it is worse, lasts longer, has an alarm
// that it had on none of those days, and once a week.
type Daily struct {
	Days    int           `json:"days,omitempty"` // that it came on
	Began   time.Time     `json:"began,omitzero"` // on the last of them
	Worst   float64       `json:"worst,omitempty"`
	Longest time.Duration `json:"longest,omitempty"`
	Turn    time.Duration `json:"turn,omitempty"`   // the longest time until the worst
	Stood   stood         `json:"stood,omitempty"`  // these four of the days that a person was told of
	ToldAt  time.Time     `json:"told_at,omitzero"` // when the last of those was over
}

// stood is a set of what stood in an episode.
type stood uint8

const (
	stoodBand   stood = 1 << iota // the wanted band was left
	stoodDrift                    // it would be left within hours, or the safe one
	stoodUrgent                   // the safe one would be left within two hours
	stoodRate                     // the value changed too fast
	stoodSafe                     // the safe limit was passed
)

// stoodOf is what an alarm adds to the set.
func stoodOf(k alert.Key) stood {
	switch critical := k.Priority == alert.Critical; {
	case k.Kind.IsDrift() && critical:
		return stoodUrgent
	case k.Kind.IsDrift():
		return stoodDrift
	case k.Kind == alert.RateOfChange:
		return stoodRate
	case critical:
		return stoodSafe
	}
	return stoodBand
}

// standing is what stands on a side, also where it is hidden.
func (s *step) standing(i int) (set stood) {
	for _, a := range s.alarms {
		if a.True && s.side(a.Key) == i {
			set |= stoodOf(a.Key)
		}
	}
	if at := s.look(s.name(i)).SafeAt; set != 0 && !at.IsZero() && at.Sub(s.now) <= UrgentTime {
		set |= stoodUrgent
	}
	return set
}

// after gives how many days after the last one a time is, and reports whether an episode is
// possible then that belongs to them.
func (d Daily) after(t time.Time) (days int, same bool) {
	since := t.Sub(d.Began) + dailyEarly
	if d.Days == 0 || since < 0 {
		return 0, false
	}
	return int(since / day), since/day <= dailySkipped && since%day <= dailyEarly+d.Longest+dailyLate
}

// worseBy is how much worse the value of an alarm must be for another message.
func worseBy(k alert.Key) float64 {
	if k.Kind.Unit() == alert.Ratio {
		return WorseHumidity
	}
	return WorseKelvin
}

// expected reports whether nothing stands on a side but what comes every day at this hour.
func (s *step) expected(i int) bool {
	d, e, lead := &s.Daily[i], &s.Sides[i], s.lead(i, false)
	if lead == nil || d.Days < DailyDays || !e.Expected && s.reminds(i) || s.recurs() {
		return false
	}
	_, usual := d.after(s.now)
	here, lasts := s.look(s.name(i)), s.now.Sub(e.Began)
	if d.Stood&stoodUrgent == 0 {
		usual = usual && lasts <= d.Longest+dailyEarly+dailyLate
	} else {
		usual = usual && lasts <= d.Longest+dailyUrgentLate && (lasts <= d.Turn+dailyTurn || here.Returning)
	}
	within := isWanted(lead.Key) && !lead.Limit.Beyond(here.Value)
	limit := d.Worst - worseBy(lead.Key)
	if i == 1 {
		limit = d.Worst + worseBy(lead.Key)
	}
	return (usual || within) && s.standing(i)&^d.Stood == 0 &&
		!math.IsNaN(here.Value) && !worse(i, here.Value, limit)
}

// isEarly reports whether an alarm is repeated for which a person need not hear of a side: what
// it tells of is expected, or was told a short time ago.
func (s *step) isEarly(i int, x alert.Event) bool {
	e := &s.Sides[i]
	return x.ReAlarm && (e.Expected || isWanted(x.Key) && s.now.Sub(e.Late) < dailyAgain)
}

// isWanted reports whether an alarm says that a wanted band is left.
func isWanted(k alert.Key) bool {
	return k.Priority != alert.Critical && k.Kind.Side() != "" && !k.Kind.IsDrift()
}

// keepDaily keeps the episode of a side that is over now.
func (s *step) keepDaily(i int) {
	d, e := &s.Daily[i], &s.Sides[i]
	lasted := e.Quiet.Sub(e.Began)
	if e.Past || e.Stood&stoodSafe != 0 || s.recurs() || !e.HasWorst || lasted > dailyLongest {
		return
	}
	switch days, same := d.after(e.Began); {
	case !same && days < dailySkipped && d.Days >= DailyDays: // it comes at another hour, beside those
		return
	case !same:
		*d = Daily{Days: 1, Began: e.Began, Worst: e.Worst}
	case days > 0:
		d.Days, d.Began = d.Days+1, e.Began
	}
	if !e.Told {
		return
	}
	if d.ToldAt = s.now; worse(i, e.Worst, d.Worst) {
		d.Worst = e.Worst
	}
	d.Stood |= e.Stood
	d.Turn = max(d.Turn, e.WorstAt.Sub(e.Began))
	d.Longest = max(d.Longest, min(dailyLongest, e.Quiet.Sub(d.Began)))
}

// days is the number of days on which an episode came that belong together, this one included.
// It is unlike the others where it was expected and is told before the time of a reminder.
func (s *step) days(i int) (n int, unlike bool) {
	d, e := s.Daily[i], &s.Sides[i]
	days, same := d.after(e.Began)
	if !same {
		return 1, false
	}
	return d.Days + min(days, 1), e.Expected || d.Days >= DailyDays && !s.reminds(i)
}

// reminds reports whether an expected episode is told of again.
func (s *step) reminds(i int) bool { return s.now.Sub(s.Daily[i].ToldAt) >= dailyReminder }
