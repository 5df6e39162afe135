// Package chart draws figures as SVG: plots of values over time, and rows of a time line. It
// owns scales, axes, shapes, the table that goes with a figure and the style sheet of them
// all. It must not know what a value means, in which unit it is or where it comes from: its
// callers hand it numbers, times and words.
//
// # Decisions
//
//   - Places along a figure are percentages, places down it are CSS pixels. Curves lie in an
//     inner drawing that stretches, so one drawing serves every width and no text stretches.
//   - Colours are the custom properties of the page, through classes. A drawing has no inline
//     style, which the page's content security policy forbids.
//   - What a pointer reads out is the nearest row of the figure's table, so everybody gets the
//     same figures.
package chart

import (
	"html/template"
	"math"
	"strconv"
	"strings"
)

// Figure is a plot with its caption and its table.
type Figure struct {
	Plot    Plot
	Caption string
	Table   Table
}

// HTML is the figure as an element.
func (f Figure) HTML() template.HTML {
	var c canvas
	c.open("figure", "class", "plot")
	c.raw(f.Plot.HTML())
	if f.Caption != "" {
		c.open("figcaption")
		c.text(f.Caption)
		c.close("figcaption")
	}
	c.raw(f.Table.HTML())
	c.close("figure")
	return c.html()
}

// canvas collects markup. It escapes every text and every attribute.
type canvas struct{ b strings.Builder }

// open begins an element; attrs are names, each with its value after it.
func (c *canvas) open(name string, attrs ...string) { c.tag(name, ">", attrs) }

// empty is an element without content.
func (c *canvas) empty(name string, attrs ...string) { c.tag(name, "/>", attrs) }

func (c *canvas) tag(name, end string, attrs []string) {
	c.b.WriteString("<" + name)
	for i := 0; i+1 < len(attrs); i += 2 {
		c.b.WriteString(" " + attrs[i] + `="`)
		template.HTMLEscape(&c.b, []byte(attrs[i+1]))
		c.b.WriteByte('"')
	}
	c.b.WriteString(end)
}

func (c *canvas) close(name string)   { c.b.WriteString("</" + name + ">") }
func (c *canvas) text(s string)       { template.HTMLEscape(&c.b, []byte(s)) }
func (c *canvas) raw(h template.HTML) { c.b.WriteString(string(h)) }
func (c *canvas) html() template.HTML { return template.HTML(c.b.String()) }
func (c *canvas) isEmpty() bool       { return c.b.Len() == 0 }

// word is an element that has a text alone. Texts of a drawing have a space between them, for
// a browser that shows their words alone.
func (c *canvas) word(name, text string, attrs ...string) {
	c.open(name, attrs...)
	c.text(text)
	c.close(name)
	if name == "text" {
		c.b.WriteByte(' ')
	}
}

// percent is a share of the width of a drawing, as an attribute has it.
func percent(share float64) string { return trimmed(100*share, 1) + "%" }

// pixels is a length in CSS pixels, as an attribute has it.
func pixels(v float64) string { return trimmed(v, 1) }

// trimmed is a number without needless digits.
func trimmed(v float64, decimals int) string {
	p := math.Pow10(decimals)
	return strconv.FormatFloat(math.Round(v*p)/p+0, 'f', -1, 64)
}
