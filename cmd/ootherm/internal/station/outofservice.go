package station

import (
	"fmt"
	"strings"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// When a person is reminded, all our choice: a day's work is done after half a day, and
// a room that is empty for a season is no news each morning.
const (
	offTold       = 12 * time.Hour
	offAgain      = 24 * time.Hour     // while eggs wait there
	offAgainEmpty = 7 * 24 * time.Hour // where none do
)

// parts are an empty name for the station itself, and the zones.
func (s *Station) parts() []string {
	names := []string{""}
	for _, z := range s.zones {
		names = append(names, z.plan.Name)
	}
	return names
}

// offLimits adds the reminders of what is switched off.
func (s *Station) offLimits(want map[alert.Key]alert.Limit) {
	for _, zone := range s.parts() {
		l := alert.Limit{High: true, At: offTold.Seconds(), ReAlarm: offAgainEmpty}
		for _, g := range s.groups() {
			if g.waiting && (zone == "" || g.zone == zone) {
				l.ReAlarm = offAgain
			}
		}
		want[panel.Reminder(zone)] = l
	}
}

// watchOff shows the reminders how long something has been switched off.
func (s *Station) watchOff() {
	for _, zone := range s.parts() {
		spent := time.Duration(0)
		if o := s.panel.OutOfService(zone); len(o.Keys) > 0 {
			spent = s.now.Sub(o.Since)
		}
		s.observe(panel.Reminder(zone), spent.Seconds(), true, "")
	}
}

// namedOff is how many alarms that are switched off are named.
const namedOff = 4

// offText says about what nobody is called.
func (s *Station) offText(o panel.OutOfService) string {
	what := o.Zone
	if !o.Whole {
		var names []string
		for _, k := range o.Keys[:min(len(o.Keys), namedOff)] {
			names = append(names, s.place(k)+" "+words.Alarm(string(k.Kind)).Wrong)
		}
		if more := len(o.Keys) - len(names); more > 0 {
			names = append(names, fmt.Sprintf("%d more", more))
		}
		what = strings.Join(names, ", ")
	}
	return fmt.Sprintf("Since %s nobody is called about %s.", s.reader().When(o.Since, s.now), what)
}

// offHeadline says in short what is switched off; empty where nothing is.
func offHeadline(outs []panel.OutOfService) string {
	var whole, partly []string
	for _, o := range outs {
		switch {
		case o.Whole:
			whole = append(whole, o.Zone)
		case o.Zone == "":
			partly = append(partly, "the station")
		default:
			partly = append(partly, o.Zone)
		}
	}
	switch {
	case len(whole) == 1:
		return "switched off: " + whole[0]
	case len(whole) > 1:
		return fmt.Sprintf("switched off: %d zones", len(whole))
	case len(partly) == 1:
		return "partly off: " + partly[0]
	case len(partly) > 1:
		return fmt.Sprintf("partly off: %d places", len(partly))
	}
	return ""
}
