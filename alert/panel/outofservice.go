package panel

import (
	"time"

	"example.com/ootherm/alert"
)

// OutOfService is what is out of service in a zone; without a zone, of the station itself.
type OutOfService struct {
	Zone  string
	Since time.Time   // when the first of them was put out of service
	Keys  []alert.Key // in the order of their texts
	Whole bool        // nothing of the zone is left in service
}

// Reminder is the alarm that reminds a person of what is out of service in a zone; without a
// zone, of the station itself.
func Reminder(zone string) alert.Key {
	return alert.Key{Kind: alert.SwitchedOff, Priority: alert.Notice, Zone: zone}
}

// OutOfService is what is out of service in a zone; of an empty name, of the station itself.
func (p *Panel) OutOfService(zone string) OutOfService {
	if p.outOfService.none { // the usual case, at each step
		return OutOfService{Zone: zone}
	}
	return p.outOfService.byZone[zone]
}

// outOfService is what is out of service, by zone.
type outOfService struct {
	byZone map[string]OutOfService
	none   bool // nothing is out of service
}

// update must be called after an alarm is put out of service or back, and after limits change.
func (o *outOfService) update(r *register, places Places) {
	o.byZone, o.none = r.outOfService(places), true
	for _, x := range o.byZone {
		o.none = o.none && len(x.Keys) == 0
	}
}

// AllOutOfService are the places where something is out of service: the station itself first,
// then the zones in their order.
func (p *Panel) AllOutOfService() (all []OutOfService) {
	for _, zone := range p.places.parts() {
		if o := p.outOfService.byZone[zone]; len(o.Keys) > 0 {
			all = append(all, o)
		}
	}
	return all
}

// backInService follows a person who put alarms back in service: of a whole zone also those
// that have no limit just now; and the reminder has been seen.
func (p *Panel) backInService(keys []alert.Key, a Action) {
	done := map[string]bool{a.Zone: a.Zone != ""}
	for _, k := range keys {
		done[p.Zone(k)] = true
	}
	for _, k := range p.entries.kept() {
		if e := p.entries.find(k); a.Zone != "" && p.Zone(k) == a.Zone && e.Out {
			e.Alarm, _ = e.InService(p.now)
			p.unwritten.act(e)
		}
	}
	p.outOfService.update(&p.entries, p.places)
	for zone := range done {
		e := p.entries.watched(Reminder(zone))
		if e == nil || len(p.OutOfService(zone).Keys) > 0 {
			continue
		}
		p.unwritten.act(e)
		x, events := e.Acknowledge(p.now, a.Who)
		p.set(e, x, events)
	}
}
