package notice

import "example.com/ootherm/alert"

// learningSentence says why an alarm of a temperature comes without an early warning, where its
// zone has learned too little for one.
func learningSentence(c *composer, e alert.Event) string {
	z := c.zone(e.Key.Zone)
	if z == nil || z.LearningUntil.IsZero() || e.Key.Kind != alert.TemperatureLow && e.Key.Kind != alert.TemperatureHigh {
		return ""
	}
	return "No early warning came: the station learns this zone until " + c.r.When(z.LearningUntil, e.At) + "."
}
