package chart

import "html/template"

// Interval is an estimate with its interval on a scale, and a reference beside it.
type Interval struct {
	X                Scale
	Low, Value, High float64
	Reference        float64 // a dotted line; NaN: none
	StandsOut        bool    // its dot has a ring
}

// HTML is its drawing, of one line's height. What it says stands beside it in words.
func (i Interval) HTML() template.HTML {
	const height, middle = 24.0, 12.0
	var c canvas
	c.open("svg", "class", "chart", "width", "100%", "height", pixels(height), "aria-hidden", "true")
	c.empty("line", "class", "hair", "x2", "100%", "y1", pixels(middle), "y2", pixels(middle))
	if s := i.X.Share(i.Reference); s >= 0 && s <= 1 {
		c.empty("line", "class", "reference", "x1", percent(s), "x2", percent(s), "y1", "0", "y2", pixels(height))
	}
	low, high := max(0, i.X.Share(i.Low)), min(1, i.X.Share(i.High))
	if low <= high {
		c.empty("line", "class", "interval", "x1", percent(low), "x2", percent(high), "y1", pixels(middle), "y2", pixels(middle))
	}
	if s := i.X.Share(i.Value); s >= 0 && s <= 1 {
		c.empty("circle", "class", "estimate", "cx", percent(s), "cy", pixels(middle), "r", "6")
		if i.StandsOut {
			c.empty("circle", "class", "ring", "cx", percent(s), "cy", pixels(middle), "r", "10")
		}
	}
	c.close("svg")
	return c.html()
}
