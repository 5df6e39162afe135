package episode

import (
	"math"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/alert"
)

// All are our choice.
const (
	// DailyDays is the number of days with a message after which an episode at the same hour is
	// expected. After as many days in a row that are unlike those, the later days count.
	DailyDays = recurringTimes
	// dailySkipped is the longest time between two days that belong together: two in between may
	// have been without an episode.
	dailySkipped = 3
	// dailyHours is the number of hours of the day at which episodes are expected.
	dailyHours = 3
	// dailyEarly is how much earlier than on the other days an episode may begin, and dailyLate
	// how much longer it may last, and still be expected.
	dailyEarly, dailyLate = 2 * time.Hour, 2 * time.Hour
	// dailyLongest is the longest episode that is expected again on the next day.
	dailyLongest = 16 * time.Hour
	// nearLongest is the longest time after the begin of an episode in which the safe limit may
	// seem near and the episode still be expected: a window is open, or a thermostat was set
	// lower. nearLate is how much longer than on the other days it may seem near.
	nearLongest, nearLate = time.Hour, 10 * time.Minute
	// shortLasts is the longest episode that counts as short. A short one may begin shortHour
	// earlier or later and last shortLate longer.
	shortLasts, shortHour, shortLate = 2 * time.Hour, 40 * time.Minute, 30 * time.Minute
	// dailyAgain is the time after a message that came late in which an alarm that was raised
	// long before is not repeated.
	dailyAgain = 4 * time.Hour
	// dailyReminder is the time after which an expected episode is told of again.
	dailyReminder = 7 * day
	// dailyHole is how long a value may be missing in an expected episode.
	dailyHole = 10 * time.Minute
	// WorseHumidity is how much worse a humidity must be for another message, as WorseKelvin.
	WorseHumidity = 0.05
	// safeShare is how much worse a temperature may be, as a share of the distance between its
	// usual worst value and the safe limit.
	safeShare = 0.25
)

const day = 24 * time.Hour

// Daily is an episode that comes at about the same hour on several days and does not pass the
// safe limit: a night that is a little too cold, a window that is open every morning. A person
// hears of it on three days. Then it is expected, and they hear of it where it is unlike those
// days, and once a week.
type Daily struct {
	Days   int            `json:"days,omitempty"`   // that it came on
	Last   time.Time      `json:"last,omitzero"`    // when it began on the last of them
	Hour   time.Time      `json:"hour,omitzero"`    // when it began on the last that was told and like the others
	ToldAt time.Time      `json:"told_at,omitzero"` // when it began on the last that was told
	Limit  float64        `json:"limit,omitempty"`  // of the wanted band
	Told   [DailyDays]Day `json:"told,omitzero"`    // the days that say what is expected
	Next   [DailyDays]Day `json:"next,omitzero"`    // the last days in a row that were unlike those
	Unlike int            `json:"unlike,omitempty"` // how many of Next are set
}

// Day is an episode that is over.
type Day struct {
	Worst  float64       `json:"worst,omitempty"`
	Lasted time.Duration `json:"lasted,omitempty"`
	Near   time.Duration `json:"near,omitempty"`   // from its begin, until the safe limit did not seem near any more
	Stood  stood         `json:"stood,omitempty"`  // what stood in it
	Probes string        `json:"probes,omitempty"` // that were the worst, a line each
}

// Unlike is why an expected episode is told of.
type Unlike string

const (
	UnlikeWorse  Unlike = "worse"
	UnlikeLonger Unlike = "longer"
	UnlikeAlarm  Unlike = "alarm" // one stands that stood on none of the other days, or the safe limit is near
	UnlikeProbe  Unlike = "probe" // another one is the worst
	UnlikeHour   Unlike = "hour"  // it is short, and began too far from its hour
)

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

// after gives how many days after the last one a time is, and reports whether an episode that
// begins then belongs to them.
func (d *Daily) after(t time.Time) (days int, same bool) {
	if d.Days == 0 || t.Before(d.Last) {
		return 0, false
	}
	since, last := t.Sub(d.Hour)+dailyEarly, d.Last.Sub(d.Hour)+dailyEarly
	days = int(since/day) - int(last/day)
	return days, days <= dailySkipped && since%day <= dailyEarly+d.usual().Lasted+dailyLate
}

// off is how far from the hour of the other days a time is, at most half a day.
func (d *Daily) off(t time.Time) time.Duration {
	since := t.Sub(d.Hour) % day
	return min(since, day-since)
}

// usual is what is expected: of each figure the middle one of the days in Told, so that one bad
// day among them does not count. Of two days it is the larger figure.
func (d *Daily) usual() Day {
	known := d.Told[:min(d.Days, DailyDays)]
	middle := func(value func(Day) float64) float64 {
		var all []float64
		for _, x := range known {
			all = append(all, value(x))
		}
		slices.Sort(all)
		return all[len(all)/2]
	}
	var u Day
	if len(known) == 0 {
		return u
	}
	u.Worst = middle(func(x Day) float64 { return x.Worst })
	u.Lasted = time.Duration(middle(func(x Day) float64 { return float64(x.Lasted) }))
	u.Near = time.Duration(middle(func(x Day) float64 { return float64(x.Near) }))
	a, b, c := d.Told[0], d.Told[1], d.Told[2]
	u.Stood, u.Probes = a.Stood&b.Stood|a.Stood&c.Stood|b.Stood&c.Stood, a.Probes+b.Probes+c.Probes
	if u.Near > nearLongest {
		u.Stood &^= stoodUrgent
	}
	return u
}

// today is the episode of a side as one of several days.
type today struct {
	*step
	i int
	e *Side
}

func (s *step) today(i int) today { return today{s, i, &s.Sides[i]} }

// known is what is known of the hour at which the episode began, the nearest one; nil where
// nothing is.
func (t today) known() (known *Daily) {
	for j := range t.Daily[t.i] {
		d := &t.Daily[t.i][j]
		if _, same := d.after(t.e.Began); same && d.Limit == t.e.Limit && (known == nil || d.off(t.e.Began) < known.off(t.e.Began)) {
			known = d
		}
	}
	return known
}

// wanted is the limit of the wanted band on a side; 0 where there is none.
func (s *step) wanted(i int) float64 {
	for _, a := range s.alarms {
		if isWanted(a.Key) && s.side(a.Key) == i {
			return a.Limit.At
		}
	}
	return 0
}

// isWanted reports whether an alarm says that a wanted band is left.
func isWanted(k alert.Key) bool {
	return k.Priority != alert.Critical && k.Kind.Side() != "" && !k.Kind.IsDrift()
}

// worst is the worst value that is expected.
func (t today) worst(usual Day) float64 {
	by := WorseKelvin
	for _, a := range t.alarms {
		switch {
		case t.side(a.Key) != t.i:
		case passesSafe(a.Key):
			by = min(by, safeShare*math.Abs(a.Limit.At-usual.Worst))
		case a.Key.Kind.Unit() == alert.Ratio:
			by = WorseHumidity
		}
	}
	if t.i == 1 {
		return usual.Worst + by
	}
	return usual.Worst - by
}

// expected reports whether the episode is as it is every day at this hour. It sets why it is not.
func (t today) expected() bool {
	d, e, lead := t.known(), t.e, t.lead(t.i, false)
	if d == nil || lead == nil || d.Days < DailyDays || !e.Expected && d.reminds(t.now) || t.recurs() {
		return false
	}
	here := t.look(t.name(t.i))
	if lead.Last.Hole || math.IsNaN(here.Value) { // the zone's other probes do not replace it
		if e.Missing.IsZero() {
			e.Missing = t.now
		}
		return e.Expected && t.now.Sub(e.Missing) <= dailyHole
	}
	e.Missing = time.Time{}
	usual, lasts, stands, late := d.usual(), t.now.Sub(e.Began), t.standing(t.i), dailyLate
	if lasts > usual.Near+nearLate || d.off(e.Began) > shortHour {
		usual.Stood &^= stoodUrgent
	}
	short := usual.Lasted <= shortLasts
	if short {
		late = shortLate
	}
	within := isWanted(lead.Key) && !lead.Limit.Beyond(here.Value) && lasts <= dailyLongest
	switch {
	case worse(t.i, here.Value, t.worst(usual)):
		e.Unlike = UnlikeWorse
	case stands&^usual.Stood != 0:
		e.Unlike = UnlikeAlarm
	case here.Probe != "" && !hasProbe(usual.Probes, here.Probe):
		e.Unlike = UnlikeProbe
	case short && d.off(e.Began) > shortHour:
		e.Unlike = UnlikeHour
	case lasts > usual.Lasted+late && !within:
		e.Unlike = UnlikeLonger
	default:
		e.Unlike = ""
		return true
	}
	return false
}

// reminds reports whether an expected episode is told of again.
func (d *Daily) reminds(now time.Time) bool { return now.Sub(d.ToldAt) >= dailyReminder-dailyEarly }

// isEarly reports whether an alarm is repeated for which a person need not hear of a side: what
// it tells of is expected, or was told a short time ago.
func (s *step) isEarly(i int, x alert.Event) bool {
	e := &s.Sides[i]
	return x.ReAlarm && (e.Expected || isWanted(x.Key) && s.now.Sub(e.Late) < dailyAgain)
}

// followDaily keeps what an episode has to do with those of other days, while something stands.
func (e *Side) followDaily(now time.Time, standing stood, probe string) {
	e.Stood |= standing
	if standing&stoodUrgent != 0 {
		e.Near = now.Sub(e.Began)
	}
	if probe != "" && !hasProbe(e.Probes, probe) {
		e.Probes += probe + "\n"
	}
}

// hasProbe reports whether a probe is among some, a line each.
func hasProbe(probes, probe string) bool { return strings.Contains("\n"+probes, "\n"+probe+"\n") }

// keep keeps the episode, which is over now.
func (t today) keep() {
	d, e := t.known(), t.e
	now := Day{Worst: e.Worst, Lasted: e.Quiet.Sub(e.Began), Near: e.Near, Stood: e.Stood, Probes: e.Probes}
	if e.Past || e.Stood&stoodSafe != 0 { // the safe limit was passed: nothing is expected any more
		t.Daily[t.i] = [dailyHours]Daily{}
		return
	}
	if t.recurs() || !e.HasWorst || now.Lasted > dailyLongest {
		return
	}
	if d != nil {
		if days, _ := d.after(e.Began); days == 0 { // it had one today
			d = nil
		}
	}
	if d == nil {
		if d = t.free(); d != nil && e.Told {
			*d = Daily{Days: 1, Last: e.Began, Hour: e.Began, ToldAt: e.Began, Limit: e.Limit, Told: [DailyDays]Day{now}}
		}
		return
	}
	d.Last = e.Began
	if e.Told {
		d.ToldAt = e.Began
	}
	switch {
	case d.Days < DailyDays:
		d.Told[d.Days], d.Hour = now, e.Began
	case e.Unlike == "":
		d.Unlike = 0
		if e.Told {
			d.Hour = e.Began
		}
	default:
		d.Next[d.Unlike] = now
		if d.Unlike++; d.Unlike == DailyDays {
			d.Told, d.Hour, d.Unlike = d.Next, e.Began, 0
		}
	}
	d.Days++
}

// free is where what comes at another hour can be kept: instead of what did not come lately,
// or came on the fewest days and is not expected yet. Nil: nowhere.
func (t today) free() (free *Daily) {
	for j := range t.Daily[t.i] {
		d := &t.Daily[t.i][j]
		switch since := t.e.Began.Sub(d.Last); {
		case d.Days == 0 || since < 0 || since > (dailySkipped+1)*day:
			return d
		case d.Days < DailyDays && (free == nil || d.Days < free.Days || d.Days == free.Days && d.Last.Before(free.Last)):
			free = d
		}
	}
	return free
}

// days is the number of days on which an episode came that belong together, this one included.
func (t today) days() int {
	d := t.known()
	if d == nil {
		return 1
	}
	days, _ := d.after(t.e.Began)
	return d.Days + min(days, 1)
}
