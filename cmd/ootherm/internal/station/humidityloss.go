package station

import (
	"math"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/sensor"
)

// remembered is how far back before the last reading a probe's humidity is looked for
// at a start, so that one that broke while the station was off is told (our choice).
const remembered = 24 * time.Hour

// lacking names the alarm of a probe that gives a temperature and, of what it
// measured, no humidity. Where no band asks for that it is to know, not to run.
func lacking(z *zone, probe string) alert.Key {
	k := alert.Key{Kind: alert.HumiditySilent, Priority: alert.Notice, Zone: z.plan.Name, Probe: probe}
	if z.plan.Humidity != nil {
		k.Priority = alert.Warning
	}
	return k
}

// lackingLimits adds the alarms of probes that may measure humidity.
func (s *Station) lackingLimits(want map[alert.Key]alert.Limit) {
	for _, z := range s.zones {
		for _, p := range z.eyes() {
			if s.plan.Thermometer(p.name) {
				continue
			}
			k, again := lacking(z, p.name), reAlarmWarning
			if k.Priority == alert.Notice {
				again = lateAgain
			}
			want[k] = alert.Condition(s.plan.SilentAfter(p.name), time.Minute, again)
		}
	}
}

// watchHumidity shows the alarms of lacking humidities how each probe that answers
// stands. One that does not is silent, and is told so.
func (s *Station) watchHumidity() {
	for _, z := range s.zones {
		for _, p := range z.eyes() {
			answers := !p.good.IsZero() && s.now.Sub(p.good) <= s.plan.Fresh()
			s.observe(lacking(z, p.name), alert.Truth(math.IsNaN(p.humidity) && (p.moist || p.lacking != nil)), answers, p.name)
		}
	}
}

// sense follows whether a probe measures humidity, and what became of it.
func (p *probe) sense(r sensor.Reading) {
	p.lacking = r.Lacking
	p.moist = p.moist || !math.IsNaN(r.Humidity) || r.Lacking != nil
}

// recallHumidity finds which probes gave a humidity before this start.
func (s *Station) recallHumidity() {
	from := s.started.Add(-s.off - remembered)
	for name, p := range s.probes {
		if s.plan.Thermometer(name) {
			continue
		}
		for x, err := range s.o.History.Range(name, from, s.started) {
			if err != nil {
				s.reportRead(err)
				continue
			}
			if p.moist = x.Believed() && !math.IsNaN(x.Humidity); p.moist {
				break
			}
		}
	}
}

// lackingDetail says what goes on, and why the rest does not.
func (s *Station) lackingDetail(k alert.Key) []string {
	p := s.probes[k.Probe]
	if p == nil || math.IsNaN(p.celsius) {
		return nil
	}
	text := "Its temperature goes on: " + s.reader().Temperature(p.celsius) + "."
	if p.lacking != nil {
		text += " Of its humidity: " + words.Cause(string(sensor.CauseOf(p.lacking))) + "."
	}
	if z := s.zoneOf(k.Zone); z != nil && z.plan.Humidity != nil {
		if _, who := z.worst(s.now, s.plan.Fresh(), humidity, true); who == nil {
			text += " No other probe here measures humidity, so too dry and too damp are not watched."
		}
	}
	return []string{text}
}
