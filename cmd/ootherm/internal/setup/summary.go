package setup

import (
	"cmp"
	"fmt"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/words"
)

// showAnswers lists all answers in short, before the last question.
func (w *wizard) showAnswers(t *dialog) {
	r := words.Reader{Units: w.units}
	t.Say("Your answers:")
	unit := "celsius"
	if w.units == words.Fahrenheit {
		unit = "fahrenheit"
	}
	t.Say("  station    %s, in %s, data in %s", w.station, unit, w.data)
	for _, p := range w.places {
		t.Say("  place      %s", p.summary(r))
	}
	var ways []string
	for _, s := range w.senders {
		ways = append(ways, s.name+" ("+s.kind+")")
	}
	t.Say("  alarms by  %s", cmp.Or(strings.Join(ways, ", "), "the page alone"))
	t.Say("  heartbeat  %s", cmp.Or(w.heartbeat, "none"))
	t.Say("  page       %s", cmp.Or(w.url, "on this machine alone"))
	if w.eggs.dam != "" {
		t.Say("  first eggs %s", w.eggs.text())
	}
}

// summary gives a place in one line.
func (p place) summary(r words.Reader) string {
	parts := []string{p.name, "a " + p.kind}
	if p.kind == "incubator" {
		parts[1] = "an incubator"
	}
	parts = append(parts, "eggs of "+p.species.Name)
	if p.setPoint != "" {
		parts = append(parts, "held at "+r.Temperature(p.setPointCelsius))
	} else {
		parts = append(parts, "no temperature given")
	}
	if x, ok := p.wanted(); ok {
		parts = append(parts, "warns outside "+limitsText(x, r))
	} else {
		parts = append(parts, "no warning limits")
	}
	if len(p.probes) == 0 {
		return strings.Join(append(parts, "no probe yet"), ", ")
	}
	return fmt.Sprintf("%s; probes: %s", strings.Join(parts, ", "), strings.Join(p.probes, ", "))
}
