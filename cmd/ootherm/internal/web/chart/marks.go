package chart

import (
	"html/template"
	"math"
	"strconv"
	"time"
)

// Symbol is a shape that stands for something.
type Symbol string

// The symbols.
const (
	Waiting Symbol = "waiting" // an egg
	Hatched Symbol = "hatched" // a broken shell
	Pipped  Symbol = "pipped"  // a cracked egg
	Lost    Symbol = "lost"    // a cross
	Laid    Symbol = "laid"    // a dot
	Cold    Symbol = "cold"    // an alarm: it points down
	Warm    Symbol = "warm"    // an alarm: it points up
	Other   Symbol = "other"   // another alarm
	Water   Symbol = "water"   // water
	Look    Symbol = "laybox"  // an open box
)

// shapes are the outlines of the symbols, round 0 0, in CSS pixels.
var shapes = []struct {
	symbol      Symbol
	class, path string
}{
	{Waiting, "s-egg", "M0-7.5C3.6-7.5 6-1.5 6 1.8A6 5.8 0 0 1-6 1.8C-6-1.5-3.6-7.5 0-7.5Z"},
	{Hatched, "s-shell", "M-6 .5-3-2.5-1 .8 1.5-2.4 3.4.6 6-1.4V1.8A6 5.8 0 0 1-6 1.8Z"},
	{Lost, "s-cross", "M-5-5 5 5M5-5-5 5"},
	{Laid, "s-dot", "M-3 0A3 3 0 0 1 3 0A3 3 0 0 1-3 0Z"},
	{Cold, "s-cold", "M-7-5H7L0 7Z"},
	{Warm, "s-warm", "M-7 5H7L0-7Z"},
	{Other, "s-other", "M0-7 6 0 0 7-6 0Z"},
	{Water, "s-drop", "M0-8C3.5-3 6 0 6 3A6 5.6 0 0 1-6 3C-6 0-3.5-3 0-8Z"},
	{Look, "s-cross", "M-8-5V5H8V-5"},
}

// Symbols define the shapes and the stripes. A page with a drawing has them once, before it.
func Symbols() template.HTML {
	var c canvas
	c.open("svg", "class", "symbols", "width", "0", "height", "0", "aria-hidden", "true", "focusable", "false")
	c.open("defs")
	for _, s := range shapes {
		c.open("g", "id", "s-"+string(s.symbol))
		c.empty("path", "class", s.class, "d", s.path)
		c.close("g")
	}
	c.open("g", "id", "s-"+string(Pipped))
	c.empty("path", "class", "s-egg", "d", shapes[0].path)
	c.empty("path", "class", "s-crack", "d", "M-4-1-1.5 1 .5-2 3 .5")
	c.close("g")
	c.open("pattern", "id", "stripes", "width", "7", "height", "7", "patternUnits", "userSpaceOnUse", "patternTransform", "rotate(45)")
	c.empty("line", "class", "stripe", "y2", "7")
	c.close("pattern")
	c.close("defs")
	c.close("svg")
	return c.html()
}

// Icon is symbols side by side, for a line of text. What they say stands beside them in words.
func Icon(all ...Symbol) template.HTML {
	const wide = 18
	var c canvas
	c.open("svg", "class", "icon", "viewBox", "-9 -9 "+strconv.Itoa(wide*len(all))+" 18", "aria-hidden", "true")
	for i, s := range all {
		if i == 0 {
			c.empty("use", "href", "#s-"+string(s))
		} else {
			c.empty("use", "href", "#s-"+string(s), "x", strconv.Itoa(wide*i))
		}
	}
	c.close("svg")
	return c.html()
}

// Mark is a symbol at a place. Its height is that of a value, or the middle of the panel
// where Y is NaN. Title is read out under a pointer.
type Mark struct {
	Symbol Symbol
	X, Y   float64
	Title  string
}

func (m Mark) draw(l *layers, f field) {
	if !f.inside(m.X) {
		return
	}
	y := f.top + f.h/2
	if finite(m.Y) {
		y = f.down(m.Y)
	}
	attrs := []string{"href", "#s-" + string(m.Symbol), "x", f.along(m.X), "y", pixels(y)}
	if m.Title == "" {
		l.marks.empty("use", attrs...)
		return
	}
	l.marks.open("use", attrs...)
	l.marks.word("title", m.Title)
	l.marks.close("use")
}

// TimeLine is the axis that the rows of a time line share.
type TimeLine struct {
	X      Scale
	Now    float64
	Months []Tick
}

// rowHeight is the height of a row's drawing in CSS pixels.
const rowHeight = 26.0

// NewTimeLine is a time line of a span, with the months as they begin at a place.
func NewTimeLine(from, now, to time.Time, place *time.Location) TimeLine {
	const phone = 0.11 // three letters and a gap on a phone
	x := Span(from, to)
	months := Months(from, to, place, func(t time.Time) string { return t.Format("Jan") })
	return TimeLine{x, Seconds(now), Thin(months, x, phone)}
}

// Head is the names of the months, and the word at the line of today.
func (t TimeLine) Head(today string) template.HTML {
	var c canvas
	c.open("svg", "class", "chart", "width", "100%", "height", "26", "aria-hidden", "true")
	now := t.X.Share(t.Now)
	for _, m := range t.Months {
		s := t.X.Share(m.At)
		attrs := []string{"x", percent(s), "dx", "4", "y", "18"}
		switch { // neither over the edge nor under the word of today, which stands before its line
		case s >= 0.9 || s > now-0.17 && s < now:
			continue
		case s > now-0.27 && s < now: // a phone has no room for both
			attrs = append(attrs, "class", "desk")
		}
		c.word("text", m.Text, attrs...)
	}
	if now >= 0 && now <= 1 {
		c.empty("line", "class", "now", "x1", percent(now), "x2", percent(now), "y1", "16", "y2", "26")
		end, dx := "end", "-6"
		if now < 0.2 {
			end, dx = "start", "6"
		}
		c.word("text", today, "class", "now-word", "x", percent(now), "dx", dx, "y", "18", "text-anchor", end)
	}
	c.close("svg")
	return c.html()
}

// Grid is the lines of the months and of today, behind all rows.
func (t TimeLine) Grid() template.HTML {
	var c canvas
	c.open("svg", "class", "grid", "width", "100%", "height", "100%", "aria-hidden", "true")
	for _, m := range t.Months {
		s := percent(t.X.Share(m.At))
		c.empty("line", "class", "hair", "x1", s, "x2", s, "y1", "0", "y2", "100%")
	}
	if s := t.X.Share(t.Now); s >= 0 && s <= 1 {
		c.empty("line", "class", "now", "x1", percent(s), "x2", percent(s), "y1", "0", "y2", "100%")
	}
	c.close("svg")
	return c.html()
}

// Row is the drawing of one row.
func (t TimeLine) Row(items ...Item) template.HTML {
	var c canvas
	c.open("svg", "class", "row", "aria-hidden", "true") // its size is in the style sheet
	Panel{Low: 0, High: 1, Height: rowHeight, Items: items}.draw(&c, t.X, 0, true)
	c.close("svg")
	return c.html()
}

// Begun is the mark at the day on which a row begins: a dot, or an arrow at the left edge
// where that was before.
type Begun struct{ At float64 }

func (b Begun) draw(l *layers, f field) {
	switch s := f.x.Share(b.At); {
	case math.IsNaN(s):
	case s < 0:
		l.marks.word("text", "‹", "x", "0", "y", pixels(f.top+f.h/2+labelCentre))
	default:
		Mark{Symbol: Laid, X: b.At, Y: math.NaN()}.draw(l, f)
	}
}
