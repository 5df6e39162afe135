package station

import (
	"fmt"
	"strings"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/rules"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/sensor/zone"
)

// headline is an event's key fact, for the subject.
func (s *Station) headline(e alert.Event, said words.AlarmText) string {
	r := s.reader()
	value, limit := s.figures(e, said)
	wrong, more := said.Wrong, ""
	switch e.Key.Kind {
	case alert.DriftUp, alert.DriftDown:
		coming, _, ok := s.rules.Coming(e.Key)
		if !ok {
			break
		}
		return words.Headline(said.Shape, s.place(e.Key), wrong+": "+value+" "+r.Clock(coming.At))
	case alert.RateOfChange:
		shape, way := words.Warm, "rising fast: "
		if z := s.zoneOf(e.Key.Zone); z != nil && z.trend.PerHour() < 0 {
			shape, way = words.Cold, "falling fast: "
		}
		return words.Headline(shape, s.place(e.Key), way+value)
	case alert.SingleEvent:
		return words.Headline(said.Shape, s.place(e.Key), "out of bounds for "+value)
	case alert.Cumulative:
		return words.Headline(said.Shape, s.place(e.Key), "out of bounds "+value+" in all")
	case alert.BusSilent:
		return words.Headline(said.Shape, s.place(e.Key), fmt.Sprintf("all %d probes silent", len(s.view.BusProbes(e.Key.Part))))
	case alert.ProbeSilent: // what went before a start counts
		value = words.Span(e.At.Sub(e.Began))
	case alert.SwitchedOff:
		if !s.panel.OutOfService(e.Key.Zone).Whole {
			wrong = "partly off for work"
		}
	case alert.StorageFailing:
		if e.Key == rules.StorageFull {
			return words.Headline(said.Shape, s.place(e.Key), fmt.Sprintf("card nearly full: %d MB left", s.view.Health.Free>>20))
		}
	case alert.Drying:
		return words.Headline(said.Shape, s.place(e.Key), dryHeadline(s.care().medium[e.Key.Box]))
	case alert.StationRestarted:
		return words.Headline(said.Shape, s.place(e.Key), "was off for "+words.Span(s.off))
	case alert.TemperatureHigh, alert.TemperatureLow, alert.HumidityHigh, alert.HumidityLow:
		more = " (limit " + limit + ")"
	}
	if value != "" {
		wrong += ": " + value
	}
	return words.Headline(said.Shape, s.place(e.Key), wrong) + more
}

// detail is what only this kind of alarm has to say.
func (s *Station) detail(e alert.Event) []string {
	r := s.reader()
	switch k := e.Key; k.Kind {
	case alert.DriftUp, alert.DriftDown:
		coming, probe, ok := s.rules.Coming(k)
		if !ok {
			return nil
		}
		return []string{r.Coming(*comingOf(coming), e.At) + "; now " + r.Temperature(s.probes[probe].Celsius) + "."}
	case alert.SingleEvent, alert.Cumulative:
		return []string{sentence(s.exposure(k))}
	case alert.Drying:
		return dryDetail(r, s.care().medium[k.Box], e.At)
	case alert.StationRestarted:
		began := s.started.Add(-s.off)
		return []string{
			fmt.Sprintf("Nothing was measured from %s.", r.Between(began, s.started, e.At)),
			"What the eggs felt meanwhile is taken from the readings on either side; their windows allow for it.",
		}
	case alert.ClockUnverified:
		return []string{"Readings and alarms go on; they are dated anew once the time is known."}
	case alert.SenderFailing:
		if x := s.troubles()[k.Part]; x.Err != "" {
			return []string{fmt.Sprintf("Nothing got through since %s: %s", r.When(x.Since, e.At), x.Err)}
		}
	case alert.HistoryDamaged:
		return s.damageDetail(e.At)
	case alert.CopyFailing:
		return []string{s.copyTrouble() + "."}
	case alert.ProbesDisagree:
		var all []string
		if z := s.zoneOf(k.Zone); z != nil {
			for _, p := range z.probes {
				if p.Fresh(s.now) {
					all = append(all, p.Name+" "+r.Temperature(p.Celsius))
				}
			}
		}
		return []string{strings.Join(all, ", ") + "."}
	case alert.BusSilent:
		var names []string
		for _, p := range s.view.BusProbes(k.Part) {
			names = append(names, p.Name)
		}
		return []string{"Silent: " + strings.Join(names, ", ") + "; all of " + k.Part + "."}
	case alert.HumiditySilent:
		return s.lackingDetail(k)
	case alert.RateOfChange:
		return s.fast(k)
	case alert.SwitchedOff:
		return []string{s.offText(s.panel.OutOfService(k.Zone))}
	case alert.WindowOpening, alert.Late:
		g, w := s.groupOf(k), s.windowAlarm(k)
		if g == nil || w == nil {
			return nil
		}
		return []string{fmt.Sprintf("%s (%s), %s left: %s.", g.Clutch, strings.Join(g.Dams, " or "), words.Count(g.Left(), "egg", "eggs"), r.Window(*w))}
	}
	return nil
}

// silentSince names the last reading of a probe, or of all of a bus, that is silent.
func (s *Station) silentSince(e alert.Event) string {
	probes := s.view.BusProbes(e.Key.Part)
	if p := s.view.Probes[e.Key.Probe]; p != nil {
		probes = []*rules.Probe{p}
	}
	when, span := s.reader().When(e.Began, e.At), words.Span(e.At.Sub(e.Began))
	for _, p := range probes {
		if !p.Good.IsZero() || !p.Before.IsZero() {
			return fmt.Sprintf("Last reading %s (%s ago).", when, span)
		}
	}
	return fmt.Sprintf("No reading since %s (%s).", when, span)
}

// fast says where a fast change has got to, and when it leaves the band, or the safe
// one once it has left that.
func (s *Station) fast(k alert.Key) []string {
	z := s.zoneOf(k.Zone)
	if z == nil {
		return nil
	}
	high := z.trend.PerHour() > 0
	v, who := z.extreme(s.now, zone.Celsius, high)
	if who == nil {
		return nil
	}
	text := "Now " + s.reader().Temperature(v)
	active := s.view.Zone(k.Zone)
	for _, b := range [...]*rules.Band{active.Wanted, active.Safe} {
		if !b.Has(high) {
			continue
		}
		if p, ok := z.trend.Extrapolate(s.now, v, b.Limit(high, 0)); ok {
			text += "; " + s.reader().Coming(*comingOf(p), s.now)
			break
		}
	}
	return []string{text + "."}
}

// help is what to do about a critical temperature from afar.
func (s *Station) help(k alert.Key) string {
	z := s.zoneOf(k.Zone)
	if z == nil || k.Priority != alert.Critical || k.Kind != alert.TemperatureLow && k.Kind != alert.TemperatureHigh {
		return ""
	}
	to := "a warmer room"
	if k.Kind == alert.TemperatureHigh {
		to = "a cooler room"
	}
	if b := s.view.Zone(k.Zone).Wanted; b != nil {
		to = "a room at " + s.reader().Band(b.Low, b.High)
	}
	return "Cannot get there: ask whoever has a key to carry the boxes, level and unturned, to " + to + "."
}

// comingOf is a projection as it is published.
func comingOf(p alert.Projection) *snapshot.Coming {
	c := &snapshot.Coming{Limit: p.Limit, About: p.At, Earliest: p.Earliest}
	if !p.Latest.IsZero() {
		c.Latest = &p.Latest
	}
	return c
}

// beyond is when the safe limit will be passed by a zone that has left its wanted
// band, where the trend says so; nil otherwise.
func (s *Station) beyond(k alert.Key) *snapshot.Coming {
	if k.Priority != alert.Warning || k.Kind != alert.TemperatureLow && k.Kind != alert.TemperatureHigh {
		return nil
	}
	safe, z := k, s.zoneOf(k.Zone)
	safe.Priority = alert.Critical
	x, ok := s.panel.Alarm(safe)
	if !ok || z == nil || x.True || !s.panel.Stands(k) {
		return nil
	}
	v, who := z.extreme(s.now, zone.Celsius, k.Kind == alert.TemperatureHigh)
	if who == nil {
		return nil
	}
	p, ok := z.trend.Extrapolate(s.now, v, x.Limit)
	if !ok {
		return nil
	}
	return comingOf(p)
}

// troubles are what the senders' last attempts came to.
func (s *Station) troubles() map[string]Undelivered {
	if s.o.Troubles == nil {
		return nil
	}
	return s.o.Troubles()
}

// next says when the next message comes: by time, or because it gets worse.
func (s *Station) next(e alert.Event) string {
	if rules.IsDrift(e.Key.Kind) {
		return "Next message if it passes " + s.reader().Temperature(e.Limit) + "."
	}
	a, _ := s.panel.Alarm(e.Key)
	again := a.Again()
	if again == 0 {
		return ""
	}
	worse := ""
	k := e.Key
	k.Priority = alert.Critical
	if x, ok := s.panel.Alarm(k); ok && e.Key.Priority == alert.Warning && k.Kind.Unit() == alert.Celsius && !x.True {
		worse = "if it passes " + s.reader().Temperature(x.Limit.At) + ", or "
	}
	return fmt.Sprintf("Next message %sin %s if it lasts.", worse, words.Span(again))
}
