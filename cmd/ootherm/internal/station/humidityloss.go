package station

import (
	"math"

	"example.com/ootherm/alert/rules"
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
