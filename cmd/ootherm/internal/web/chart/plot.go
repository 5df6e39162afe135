package chart

import (
	"html/template"
	"math"
)

// Plot is panels of values over one axis of time, or of another value.
type Plot struct {
	Label   string // what it shows, for those who hear the page; empty: it is decoration
	X       Scale
	Panels  []Panel
	Ticks   []Tick
	Now     float64 // a line through all panels; NaN: none
	NowText string
}

// Panel is one frame of a plot. Its values run from Low at its lower edge to High at its
// upper one.
type Panel struct {
	Low, High float64
	Height    float64 // CSS pixels
	Items     []Item
	Labels    []Label // at the right, the most important first
	Name      string  // at the left, over what is drawn
}

// Label is a text at the right of a panel, at the height of a value.
type Label struct {
	At   float64
	Text string
}

// Item is something that a panel shows.
type Item interface{ draw(l *layers, f field) }

// Sizes in CSS pixels.
const (
	panelGap    = 16.0 // the labels of two panels do not touch
	axisHeight  = 24.0
	nowHeight   = 22.0 // above the first panel, for the word at the line
	labelApart  = 17.0 // two labels at the right
	labelCentre = 5.0  // from the middle of a text to its base line
)

// layers are the parts of a panel's drawing, from the back.
type layers struct{ ground, curves, marks canvas }

// field places the values of a panel.
type field struct {
	x     Scale
	y     Scale   // the upper edge is 0
	top   float64 // CSS pixels
	h     float64
	items []Item // of the panel
}

// along is a place along the drawing, as an attribute of a mark has it.
func (f field) along(x float64) string { return percent(f.x.Share(x)) }

// inside reports whether a place along the drawing is in it.
func (f field) inside(x float64) bool {
	s := f.x.Share(x)
	return s >= 0 && s <= 1
}

// down is a place down the drawing in CSS pixels, within the panel.
func (f field) down(y float64) float64 {
	return f.top + f.h*min(1, max(0, f.y.Share(y)))
}

// HTML is the drawing.
func (p Plot) HTML() template.HTML {
	top := 0.0
	if !math.IsNaN(p.Now) && p.NowText != "" {
		top = nowHeight
	}
	height := top
	for i, n := range p.Panels {
		height += n.Height
		if i > 0 {
			height += panelGap
		}
	}
	foot := height
	if len(p.Ticks) > 0 {
		height += axisHeight
	}
	var c canvas
	attrs := []string{"class", "chart", "width", "100%", "height", pixels(height)}
	if p.Label != "" {
		attrs = append(attrs, "role", "img", "aria-label", p.Label)
	} else {
		attrs = append(attrs, "aria-hidden", "true")
	}
	c.open("svg", attrs...)
	at := top
	for _, n := range p.Panels {
		n.draw(&c, p.X, at, false)
		at += n.Height + panelGap
	}
	p.axis(&c, foot)
	if s := p.X.Share(p.Now); s >= 0 && s <= 1 {
		c.empty("line", "class", "now", "x1", percent(s), "x2", percent(s), "y1", pixels(max(0, top-4)), "y2", pixels(foot))
		if p.NowText != "" {
			c.word("text", p.NowText, "class", "now-word", "x", percent(s), "y", "14", "text-anchor", anchor(s))
		}
	}
	c.close("svg")
	return c.html()
}

// draw draws a panel whose upper edge is at top; alone, it is all of its drawing.
func (n Panel) draw(c *canvas, x Scale, top float64, alone bool) {
	f := field{x: x, y: Scale{n.High, n.Low}, top: top, h: n.Height, items: n.Items}
	var l layers
	for _, i := range n.Items {
		i.draw(&l, f)
	}
	c.raw(l.ground.html())
	if !l.curves.isEmpty() {
		attrs := []string{"viewBox", "0 0 1000 " + pixels(n.Height*10), "preserveAspectRatio", "none"}
		if !alone {
			attrs = append(attrs, "height", pixels(n.Height))
		}
		if top > 0 {
			attrs = append(attrs, "y", pixels(top))
		}
		c.open("svg", attrs...)
		c.raw(l.curves.html())
		c.close("svg")
	}
	c.raw(l.marks.html())
	n.labels(c, f)
	if n.Name != "" {
		c.word("text", n.Name, "x", "0", "y", pixels(top+n.Height/2+labelCentre))
	}
}

// labels writes the labels that have room, the most important first.
func (n Panel) labels(c *canvas, f field) {
	var taken []float64
	for _, l := range n.Labels {
		y := f.y.Share(l.At)
		if !(y >= -0.001 && y <= 1.001) {
			continue
		}
		at := f.down(l.At)
		free := true
		for _, t := range taken {
			free = free && math.Abs(t-at) >= labelApart
		}
		if free {
			taken = append(taken, at)
			c.word("text", l.Text, "x", "100%", "dx", "7", "y", pixels(at+labelCentre))
		}
	}
}

// axis draws the ticks under the panels. A text near an end stays in the drawing.
func (p Plot) axis(c *canvas, foot float64) {
	if len(p.Ticks) == 0 {
		return
	}
	c.empty("line", "class", "axis", "x1", "0", "x2", "100%", "y1", pixels(foot), "y2", pixels(foot))
	for _, t := range p.Ticks {
		s := p.X.Share(t.At)
		if !(s >= 0 && s <= 1) {
			continue
		}
		c.empty("line", "class", "axis", "x1", percent(s), "x2", percent(s), "y1", pixels(foot), "y2", pixels(foot+5))
		c.word("text", t.Text, "x", percent(s), "y", pixels(foot+20), "text-anchor", anchor(s))
	}
}

// anchor keeps a text at a share of the width inside the drawing.
func anchor(share float64) string {
	const edge = 0.06 // half of a text of 40 px on a phone
	switch {
	case share < edge:
		return "start"
	case share > 1-edge:
		return "end"
	}
	return "middle"
}
