package alert

import (
	"slices"
	"strings"
	"time"
)

// Side is the side of a zone's bands that an episode is on.
type Side string

// Sides.
const (
	TooCold Side = "too-cold"
	TooWarm Side = "too-warm"
	TooDry  Side = "too-dry"
	TooDamp Side = "too-damp"
)

// Side is the side that an alarm of the kind is on; empty where it is on none.
func (k Kind) Side() Side {
	switch k {
	case TemperatureLow, DriftDown:
		return TooCold
	case TemperatureHigh, DriftUp:
		return TooWarm
	case HumidityLow:
		return TooDry
	case HumidityHigh:
		return TooDamp
	}
	return ""
}

// Kind is the alarm of the bands on a side, empty for none.
func (s Side) Kind() Kind {
	switch s {
	case TooCold:
		return TemperatureLow
	case TooWarm:
		return TemperatureHigh
	case TooDry:
		return HumidityLow
	case TooDamp:
		return HumidityHigh
	}
	return ""
}

// Thread ties together the messages of one episode, for senders that group them: one
// occurrence on one side of a zone's bands, or of an alarm that has no side.
type Thread struct {
	ID       string    `json:"id"`               // the same in every message of the episode, and in no other
	Alarm    string    `json:"alarm"`            // the key of the alarm that the message tells of
	Zone     string    `json:"zone,omitempty"`   // empty: it is in no zone
	Side     Side      `json:"side,omitempty"`   // empty: the alarm has no side
	Began    time.Time `json:"began"`            // when the episode began
	Subject  string    `json:"subject"`          // the same in every message of the episode, as "ROOM too cold"
	Priority Priority  `json:"priority"`         // of the episode, as this message tells it
	Over     bool      `json:"over"`             // this message tells of the episode's end
	SafeAt   time.Time `json:"safe_at,omitzero"` // when a safe limit is passed, as things go; zero: not foretold, or passed
}

// NewThread is the thread of an episode that an alarm began at a time. The alarms of one
// side of a zone share their episode, and so its identity:
// "egg room/too-cold/20260402T180700Z". That of an alarm without a side begins with the
// alarm's key. Subject and end are for the caller to set.
func NewThread(k Key, zone string, began time.Time) Thread {
	t := Thread{Alarm: k.String(), Zone: zone, Side: k.Kind.Side(), Began: began, Priority: k.Priority}
	about := t.Alarm
	if t.Side != "" {
		about = escape(zone) + "/" + string(t.Side)
	}
	t.ID = about + "/" + began.UTC().Format("20060102T150405Z")
	return t
}

// Episode is the identity of the episode that the message belongs to; empty for none.
func (m Message) Episode() string {
	if len(m.Threads) == 0 {
		return ""
	}
	return m.Threads[0].ID
}

// PassesSafeBefore reports whether a safe limit is foretold to be passed before a time.
func (m Message) PassesSafeBefore(t time.Time) bool {
	return slices.ContainsFunc(m.Threads, func(x Thread) bool { return !x.SafeAt.IsZero() && x.SafeAt.Before(t) })
}

// ThreadsOf are the threads of several messages, in their order. A thread that is in
// several is as the newest of them tells it.
func ThreadsOf(parts []Message) (all []Thread) {
	told := map[string]time.Time{}
	for _, m := range parts {
		for _, t := range m.Threads {
			i := slices.IndexFunc(all, func(x Thread) bool { return x.ID == t.ID })
			switch {
			case i < 0:
				all = append(all, t)
			case !m.At.Before(told[t.ID]):
				all[i] = t
			default:
				continue
			}
			told[t.ID] = m.At
		}
	}
	return all
}

// Stemmed is the message's subject with the stem of its thread, for senders that group by
// subject too. A subject that has the stem in it is as it was: its first words are the key
// fact and stay first.
func (m Message) Stemmed() string {
	if len(m.Threads) == 0 || m.Threads[0].Subject == "" || strings.Contains(m.Subject, m.Threads[0].Subject) {
		return m.Subject
	}
	return m.Subject + " [" + m.Threads[0].Subject + "]"
}
