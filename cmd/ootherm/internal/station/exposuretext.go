package station

import (
	"cmp"
	"fmt"
	"strings"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// exposure says which limit a box's eggs were beyond, for how long, which eggs they
// are, and how far along.
func (s *Station) exposure(k alert.Key) string {
	x, ok := s.rules.Exceeded(k)
	if !ok {
		return ""
	}
	r := s.reader()
	end, how := "below", "in all"
	if x.High {
		end = "above"
	}
	if k.Kind == alert.SingleEvent {
		how = "at a stretch"
	}
	text := fmt.Sprintf("at or %s %s for %s %s", end, r.Temperature(x.Celsius), words.Span(x.For), how)
	var eggs []string
	for _, g := range s.groups() {
		if g.Box != k.Box || !g.Waiting {
			continue
		}
		one := g.Clutch
		if len(g.Dams) > 0 {
			one += " (" + strings.Join(g.Dams, " or ") + ")"
		}
		one += ", " + words.Count(g.Left(), "egg", "eggs")
		if w, ok := s.hatch(g); ok {
			one += ", " + r.Developed(w.Window.Developed)
		}
		eggs = append(eggs, one)
	}
	at := cmp.Or(k.Box, k.Zone)
	if len(eggs) > 0 {
		at += " with " + strings.Join(eggs, "; ")
	}
	return at + ": " + text + "."
}
