package web

import (
	"fmt"
	"math"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// whyBar is the width of a window as one bar of days, by its causes.
type whyBar struct {
	Parts  []whyPart
	Text   string // the same in words
	Remedy string // what narrows it most; empty: nothing does by half a day
}

// whyPart is one cause's piece of the bar, in hundredths of the bar.
type whyPart struct{ X, Wide, Tint string }

// minWhyDays is the least part that is named: what is less is no day.
const minWhyDays = 0.5

// why is the bar of a clutch; nil where its window has no width.
func why(c snapshot.Clutch) *whyBar {
	if c.Why == nil || c.Window == nil || !(c.Why.Days >= minWhyDays) {
		return nil
	}
	v := &whyBar{}
	var texts []string
	x := 0.0
	for i, p := range c.Why.Parts {
		wide := 100 * p.Days / c.Why.Days
		v.Parts = append(v.Parts, whyPart{X: fmt.Sprintf("%.1f", x), Wide: fmt.Sprintf("%.1f", wide), Tint: fmt.Sprintf("%.2f", math.Pow(0.7, float64(i)))})
		x += wide
		if p.Days >= minWhyDays {
			texts = append(texts, fmt.Sprintf("%s %.0f", words.WidthCause(p.Cause), p.Days))
		}
	}
	v.Text = words.Count(int(math.Round(c.Why.Days)), "day", "days") + " wide: " + strings.Join(texts, ", ")
	if r := c.Why.Remedy; r != nil {
		v.Remedy = words.Capital(words.Remedy(*r))
	}
	return v
}
