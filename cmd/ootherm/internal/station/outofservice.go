package station

import (
	"fmt"
	"strings"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// switchedOff reminds of what a person put out of service in a zone and left so; with
// no zone, of what is the station's own.
func switchedOff(zone string) alert.Key {
	return alert.Key{Kind: alert.SwitchedOff, Priority: alert.Notice, Zone: zone}
}

// When a person is reminded, all our choice: a day's work is done after half a day, and
// a room that is empty for a season is no news each morning.
const (
	offTold       = 12 * time.Hour
	offAgain      = 24 * time.Hour     // while eggs wait there
	offAgainEmpty = 7 * 24 * time.Hour // where none do
)

// out is what is out of service in a zone; with no zone, of the station itself.
type out struct {
	zone  string
	since time.Time // of the first
	keys  []alert.Key
	whole bool // nothing of the zone is left
}

// outOf is what is out of service in a zone.
func (s *Station) outOf(zone string) out { return s.outOfService[zone] }

// reckonOff finds what is out of service, after whatever may change that: each step
// asks for it.
func (s *Station) reckonOff() {
	s.outOfService = map[string]out{}
	for _, zone := range s.places() {
		s.outOfService[zone] = out{zone: zone, whole: zone != ""}
	}
	for _, k := range s.keys() {
		if k.Kind == alert.SwitchedOff || k.Kind == alert.AllWell {
			continue
		}
		x, o := s.alarms.byKey[k], s.outOfService[s.zoneNamed(k)]
		if x.Out {
			if len(o.keys) == 0 || x.Changed.Before(o.since) {
				o.since = x.Changed
			}
			o.keys = append(o.keys, k)
		} else {
			o.whole = false
		}
		s.outOfService[s.zoneNamed(k)] = o
	}
}

// outs are the zones in which something is out of service, and the station itself if
// something of it is.
func (s *Station) outs() (all []out) {
	for _, name := range s.places() {
		if o := s.outOf(name); len(o.keys) > 0 {
			all = append(all, o)
		}
	}
	return all
}

// places are the zones, and an empty name for the station itself.
func (s *Station) places() []string {
	names := []string{""}
	for _, z := range s.zones {
		names = append(names, z.plan.Name)
	}
	return names
}

// offLimits adds the reminders of what is switched off.
func (s *Station) offLimits(want map[alert.Key]alert.Limit) {
	for _, zone := range s.places() {
		l := alert.Limit{High: true, At: offTold.Seconds(), ReAlarm: offAgainEmpty}
		for _, g := range s.groups() {
			if g.waiting && (zone == "" || g.zone == zone) {
				l.ReAlarm = offAgain
			}
		}
		want[switchedOff(zone)] = l
	}
}

// watchOff shows the reminders how long something has been switched off.
func (s *Station) watchOff() {
	for _, zone := range s.places() {
		spent := time.Duration(0)
		if o := s.outOf(zone); len(o.keys) > 0 {
			spent = s.now.Sub(o.since)
		}
		s.observe(switchedOff(zone), spent.Seconds(), true, "")
	}
}

// backInService follows a person who switched alarms on: a whole zone's that are not in
// force just now too, and the reminder has been seen.
func (s *Station) backInService(keys []alert.Key, a Action) {
	done := map[string]bool{a.Zone: a.Zone != ""}
	for _, k := range keys {
		done[s.zoneNamed(k)] = true
	}
	for k, x := range s.alarms.stored {
		if a.Zone != "" && s.zoneNamed(k) == a.Zone && x.Out {
			s.alarms.stored[k], _ = x.InService(s.now)
			s.alarms.acted[k], s.alarms.dirty[k] = true, true
		}
	}
	s.reckonOff()
	for zone := range done {
		k := switchedOff(zone)
		x, ok := s.alarms.byKey[k]
		if !ok || len(s.outOf(zone).keys) > 0 {
			continue
		}
		x, events := x.Acknowledge(s.now, a.Who)
		s.alarms.byKey[k], s.alarms.acted[k], s.alarms.dirty[k] = x, true, true
		s.tell(k, events)
	}
	if !s.o.Visit {
		s.watchOff()
	}
}

// namedOff is how many alarms that are switched off are named.
const namedOff = 4

// offText says about what nobody is called.
func (s *Station) offText(o out) string {
	what := o.zone
	if !o.whole {
		var names []string
		for _, k := range o.keys[:min(len(o.keys), namedOff)] {
			names = append(names, s.place(k)+" "+words.Alarm(string(k.Kind)).Wrong)
		}
		if more := len(o.keys) - len(names); more > 0 {
			names = append(names, fmt.Sprintf("%d more", more))
		}
		what = strings.Join(names, ", ")
	}
	return fmt.Sprintf("Since %s nobody is called about %s.", s.reader().When(o.since, s.now), what)
}

// offHeadline says in short what is switched off; empty where nothing is.
func offHeadline(outs []out) string {
	var whole, partly []string
	for _, o := range outs {
		switch {
		case o.whole:
			whole = append(whole, o.zone)
		case o.zone == "":
			partly = append(partly, "the station")
		default:
			partly = append(partly, o.zone)
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
