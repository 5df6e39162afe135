package notice

import (
	"cmp"
	"fmt"
	"strings"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

func exposureDetail(c *composer, e alert.Event) []string {
	return []string{words.Capital(exposureLine(c, e.Key))}
}

// exposureLine is the text of an exposure alarm; empty where nothing is known of it.
func exposureLine(c *composer, k alert.Key) string {
	x := c.Alarms[k].Exceeded
	if x == nil {
		return ""
	}
	return Exposure(k, *x, c.Clutches, c.r)
}

// Exposure says which limit the eggs of an exposure alarm were beyond, for how long, which
// eggs they are, and how far along.
func Exposure(k alert.Key, x Exceeded, clutches []Clutch, r words.Reader) string {
	end, how := "below", "in all"
	if x.High {
		end = "above"
	}
	if k.Kind == alert.SingleEvent {
		how = "at a stretch"
	}
	var eggs []string
	for _, g := range clutches {
		if g.Box != k.Box || !g.Waiting {
			continue
		}
		one := g.Name
		if len(g.Dams) > 0 {
			one += " (" + strings.Join(g.Dams, " or ") + ")"
		}
		one += ", " + words.Count(g.Left, "egg", "eggs")
		if g.Developed != nil {
			one += ", " + r.Developed(*g.Developed)
		}
		eggs = append(eggs, one)
	}
	at := cmp.Or(k.Box, k.Zone)
	if len(eggs) > 0 {
		at += " with " + strings.Join(eggs, "; ")
	}
	return fmt.Sprintf("%s: at or %s %s for %s %s.", at, end, r.Temperature(x.Celsius), words.Span(x.For), how)
}
