package station

import (
	"math"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/rules"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/zone"
)

// recallHumidity finds which probes gave a humidity before this start.
func (s *Station) recallHumidity() {
	from := s.started.Add(-s.off - rules.HumidityRemembered)
	for name, p := range s.probes {
		if s.plan.Thermometer(name) {
			continue
		}
		for x, err := range s.o.History.Range(name, from, s.started) {
			if err != nil {
				s.reportRead(err)
				continue
			}
			if p.MeasuresHumidity = x.Believed() && !math.IsNaN(x.Humidity); p.MeasuresHumidity {
				break
			}
		}
	}
}

// lackingDetail says what goes on, and why the rest does not.
func (s *Station) lackingDetail(k alert.Key) []string {
	p := s.probes[k.Probe]
	if p == nil || math.IsNaN(p.Celsius) {
		return nil
	}
	text := "Its temperature goes on: " + s.reader().Temperature(p.Celsius) + "."
	if p.HumidityError != nil {
		text += " Of its humidity: " + words.Cause(string(sensor.CauseOf(p.HumidityError))) + "."
	}
	if z := s.zoneOf(k.Zone); z != nil && z.plan.Humidity != nil {
		if _, who := z.extreme(s.now, zone.Humidity, true); who == nil {
			text += " No other probe here measures humidity, so too dry and too damp are not watched."
		}
	}
	return []string{text}
}
