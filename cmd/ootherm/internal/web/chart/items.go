package chart

import (
	"math"
	"slices"
	"strconv"
	"strings"
)

// Style is what a part of a drawing stands for. The style sheet gives it its look.
type Style string

// The styles.
const (
	Wanted      Style = "wanted"      // the range that is wanted
	Unsafe      Style = "unsafe"      // past a safe limit
	Need        Style = "need"        // what is needed
	SafeLimit   Style = "limit"       // a limit
	SetPoint    Style = "set"         // what a thermostat is set to
	Temperature Style = "temperature" // a measured line
	Humidity    Style = "humidity"
	Between     Style = "between" // from the least to the most
	Coming      Style = "coming"  // if it goes on
	Cast        Style = "cast"    // from a curve to the axis
	FirstBar    Style = "wedge"   // of two bars side by side
	SecondBar   Style = "second"
)

// Point is a value at a place.
type Point struct{ X, Y float64 }

// Range is a least and a most value at a place.
type Range struct{ X, Low, High float64 }

// Band is a tinted range of values over the whole width. An end that is NaN or infinite is
// the edge of the panel.
type Band struct {
	Style     Style
	Low, High float64
}

func (b Band) draw(l *layers, f field) {
	top, foot := f.top, f.top+f.h
	if s := f.y.Share(b.High); !math.IsNaN(s) {
		top = f.down(b.High)
	}
	if s := f.y.Share(b.Low); !math.IsNaN(s) {
		foot = f.down(b.Low)
	}
	if foot-top < 0.05 {
		return
	}
	attrs := []string{"class", string(b.Style), "width", "100%", "y", pixels(top), "height", pixels(foot - top)}
	if b.Style == Unsafe {
		attrs = append(attrs, "fill", "url(#stripes)")
	}
	l.ground.empty("rect", attrs...)
}

// Limit is a value as a line over the whole width, with a word over it at its left. Where the
// panel has no room above, the word is under it, at the end that no line crosses.
type Limit struct {
	Style Style
	At    float64
	Word  string
}

func (m Limit) draw(l *layers, f field) {
	if s := f.y.Share(m.At); !(s >= 0 && s <= 1) {
		return
	}
	y := f.down(m.At)
	l.ground.empty("line", "class", string(m.Style), "x2", "100%", "y1", pixels(y), "y2", pixels(y))
	if m.Word != "" {
		switch at := y - 5; {
		case at >= f.top+12:
			l.marks.word("text", m.Word, "x", "2", "y", pixels(at))
		case f.crossed(0, wordWide, y, y+20) && !f.crossed(1-wordWide, 1, y, y+20):
			l.marks.word("text", m.Word, "x", "100%", "dx", "-2", "y", pixels(y+16), "text-anchor", "end")
		default:
			l.marks.word("text", m.Word, "x", "2", "y", pixels(y+16))
		}
	}
}

// wordWide is the share of the width that the word of a limit takes on a phone: 80 of 300 px.
const wordWide = 0.27

// crossed reports whether a line of the panel has a point in a part of it: shares of the width,
// CSS pixels down.
func (f field) crossed(from, to, top, foot float64) bool {
	for _, i := range f.items {
		n, ok := i.(Line)
		if ok && slices.ContainsFunc(n.Points, func(p Point) bool {
			s, y := f.x.Share(p.X), f.down(p.Y)
			return s >= from && s <= to && y >= top && y <= foot
		}) {
			return true
		}
	}
	return false
}

// Line is values joined by a line. A value that is no number leaves a gap; one alone is a
// short stroke.
type Line struct {
	Style  Style
	Points []Point
}

// stroke is half the length of the stroke for a lone value, in thousandths of the width.
const stroke = 4

func (n Line) draw(l *layers, f field) {
	var d path
	for _, run := range runs(n.Points, func(p Point) bool { return finite(p.X) && finite(p.Y) }) {
		if len(run) == 1 {
			x, y := f.curve(run[0].X, run[0].Y)
			d.move(x-stroke, y)
			d.to(x+stroke, y)
			continue
		}
		for i, p := range run {
			x, y := f.curve(p.X, p.Y)
			if i == 0 {
				d.move(x, y)
			} else {
				d.to(x, y)
			}
		}
	}
	d.draw(&l.curves, n.Style)
}

// Spread is the space from the least to the most, as Between, or as a fan of what may come.
// A range that is no number leaves a gap.
type Spread struct {
	Style  Style
	Ranges []Range
}

// Fan is a spread that opens from a point.
func Fan(from Point, to ...Range) Spread {
	return Spread{Coming, append([]Range{{from.X, from.Y, from.Y}}, to...)}
}

func (s Spread) draw(l *layers, f field) {
	var d path
	for _, run := range runs(s.Ranges, func(r Range) bool { return finite(r.X) && finite(r.Low) && finite(r.High) }) {
		if len(run) == 1 {
			continue // it has no width
		}
		for i, r := range run {
			x, y := f.curve(r.X, r.High)
			if i == 0 {
				d.move(x, y)
			} else {
				d.to(x, y)
			}
		}
		for i := len(run) - 1; i >= 0; i-- {
			d.to(f.curve(run[i].X, run[i].Low))
		}
		d.shut()
	}
	style := s.Style
	if style == Coming {
		style = "fan"
	}
	d.draw(&l.curves, style)
}

// Drop is a line from a value down to the lower edge.
type Drop struct {
	Style Style
	X, Y  float64
}

func (d Drop) draw(l *layers, f field) {
	if !f.inside(d.X) || !finite(d.Y) {
		return
	}
	l.marks.empty("line", "class", string(d.Style), "x1", f.along(d.X), "x2", f.along(d.X), "y1", pixels(f.down(d.Y)), "y2", pixels(f.top+f.h))
}

// Grid is hair lines at ticks, from the upper to the lower edge.
type Grid struct{ Ticks []Tick }

func (g Grid) draw(l *layers, f field) {
	for _, t := range g.Ticks {
		if f.inside(t.At) {
			l.ground.empty("line", "class", "hair", "x1", f.along(t.At), "x2", f.along(t.At), "y1", pixels(f.top), "y2", pixels(f.top+f.h))
		}
	}
}

// Word is a text beside a point.
type Word struct {
	X, Y float64
	Text string
}

func (w Word) draw(l *layers, f field) {
	if !f.inside(w.X) || !finite(w.Y) {
		return
	}
	end, dx := "start", "6"
	if f.x.Share(w.X) > 0.5 {
		end, dx = "end", "-6"
	}
	y := max(f.top+14, f.down(w.Y)-6)
	l.marks.word("text", w.Text, "class", "value", "x", f.along(w.X), "dx", dx, "y", pixels(y), "text-anchor", end)
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// runs are the stretches of a list in which all are good.
func runs[T any](all []T, good func(T) bool) (out [][]T) {
	begin := -1
	for i, x := range all {
		switch {
		case good(x) && begin < 0:
			begin = i
		case !good(x) && begin >= 0:
			out, begin = append(out, all[begin:i]), -1
		}
	}
	if begin >= 0 {
		out = append(out, all[begin:])
	}
	return out
}

// curve is a place in the inner drawing: thousandths of the width, tenths of a pixel down. A
// value outside the panel lies a little outside it, where it is cut off.
func (f field) curve(x, y float64) (int, int) {
	const far = 3000
	share := f.y.Share(y)
	return int(math.Round(1000 * min(far, max(-far, f.x.Share(x))))), int(math.Round(10 * f.h * min(1.2, max(-0.2, share))))
}

// path is the data of a path: a place, then steps from the last one.
type path struct {
	b    strings.Builder
	x, y int
	step bool
}

func (p *path) move(x, y int) {
	p.b.WriteString("M" + strconv.Itoa(x))
	p.number(y)
	p.x, p.y, p.step = x, y, false
}

func (p *path) to(x, y int) {
	if !p.step {
		p.b.WriteByte('l')
		p.b.WriteString(strconv.Itoa(x - p.x))
	} else {
		p.number(x - p.x)
	}
	p.number(y - p.y)
	p.x, p.y, p.step = x, y, true
}

// number writes a number after another one.
func (p *path) number(v int) {
	if v >= 0 {
		p.b.WriteByte(' ')
	}
	p.b.WriteString(strconv.Itoa(v))
}

func (p *path) shut() { p.b.WriteByte('z') }

func (p *path) draw(c *canvas, style Style) {
	if p.b.Len() > 0 {
		c.empty("path", "class", string(style), "d", p.b.String())
	}
}
