package chart

import (
	"fmt"
	"math"
	"strings"
)

// Window is a span of days in which something is expected: an egg. Its blunt end is From, its
// pointed end To, its yolk the likelier half, and a line stands at Likely. Every egg has the
// same area, so that the surer is the taller. Without a likely day (NaN) it has no yolk.
type Window struct{ From, Likely, To float64 }

// An egg's half height in CSS pixels is eggArea over its days, between the two ends. Our
// choice: two weeks are 8 px, four weeks 4 px.
const (
	eggArea            = 112.0
	minEggHalf, maxEgg = 3.5, 11.0
)

const day = 24 * 60 * 60

// half is the half height of an egg in CSS pixels.
func (w Window) half() float64 {
	return min(maxEgg, max(minEggHalf, eggArea*day/max(1, w.To-w.From)))
}

// quartiles are the ends of the likelier half. The days to either side are taken for half of
// a normal distribution (two-piece normal, our assumption): From is its 10 % point and To its
// 95 % point, 1.2816 and 1.6449 standard deviations away, and the quartiles are 0.6745 away
// (tables of the normal distribution).
func (w Window) quartiles() (low, high float64) {
	return w.Likely - 0.6745/1.2816*(w.Likely-w.From), w.Likely + 0.6745/1.6449*(w.To-w.Likely)
}

func (w Window) draw(l *layers, f field) {
	if !finite(w.From) || !finite(w.To) || w.To < w.From {
		return
	}
	half := min(w.half(), f.h/2-1)
	middle, known := w.Likely, finite(w.Likely)
	if !known {
		middle = w.From + 0.4*(w.To-w.From)
	}
	f.egg(&l.curves, "egg", w.From, middle, w.To, half)
	if !known {
		return
	}
	low, high := w.quartiles()
	f.egg(&l.curves, "yolk", low, w.Likely, high, 0.62*half)
	if f.inside(w.Likely) {
		x, _ := f.curve(w.Likely, 0)
		reach := 10 * (half + 1.5)
		l.curves.empty("path", "class", "likely", "d", fmt.Sprintf("M%d %.0fv%.0f", x, 5*f.h-reach, 2*reach))
	}
}

// egg draws the outline of an egg round the middle of a panel: blunt at from, widest in the
// middle, pointed at to.
func (f field) egg(c *canvas, class string, from, middle, to, half float64) {
	x := func(v float64) float64 { return 1000 * min(3, max(-3, f.x.Share(v))) }
	left, mid, right := x(from), x(middle), x(to)
	y := 10 * f.h / 2
	h := 10 * half
	const round = 0.5523 // the control point of a quarter of a circle by one cubic curve
	const blunt, sharp = 0.80, 0.28
	whole := func(v float64) string { return trimmed(v, 0) }
	step := func(x1, y1, x2, y2 float64) string {
		return whole(x1) + " " + whole(y1) + " " + whole(x2) + " " + whole(y2)
	}
	a, b := math.Round(mid)-math.Round(left), math.Round(right)-math.Round(mid)
	h = math.Round(h)
	d := "M" + whole(left) + " " + whole(y) +
		"c0 " + whole(-blunt*h) + " " + step((1-round)*a, -h, a, -h) +
		"c" + whole(round*b) + " 0 " + step(b, (1-sharp)*h, b, h) +
		"s" + step(-(1-round)*b, h, -b, h) +
		"c" + whole(-round*a) + " 0 " + step(-a, (blunt-1)*h, -a, -h) + "z"
	c.empty("path", "class", class, "d", strings.ReplaceAll(d, " -", "-")) // a sign parts numbers too (SVG 2 section 9.3.9)
}

// Wedge grows from nothing at its first point: its height is the share done, 0 to 1, of a
// full egg's. A stretch in which nothing is known is left open: its points are NaN.
type Wedge struct{ Done []Point }

// wedgeHalf is half the height of a wedge that is done, in CSS pixels.
const wedgeHalf = 5.0

func (w Wedge) draw(l *layers, f field) {
	var d path
	y := 10 * f.h / 2
	for _, run := range runs(w.Done, func(p Point) bool { return finite(p.X) && finite(p.Y) }) {
		if len(run) == 1 {
			continue
		}
		at := func(p Point, side float64) (int, int) {
			x, _ := f.curve(p.X, 0)
			return x, int(math.Round(y + side*10*(0.5+(wedgeHalf-0.5)*min(1, max(0, p.Y)))))
		}
		for i, p := range run {
			x, y := at(p, -1)
			if i == 0 {
				d.move(x, y)
			} else {
				d.to(x, y)
			}
		}
		for i := len(run) - 1; i >= 0; i-- {
			d.to(at(run[i], 1))
		}
		d.shut()
	}
	d.draw(&l.curves, "wedge")
}

// Wait is a dotted line along the middle: nothing to do from one time to another.
type Wait struct{ From, To float64 }

func (w Wait) draw(l *layers, f field) {
	a, b := max(0, f.x.Share(w.From)), min(1, f.x.Share(w.To))
	if !(a < b) {
		return
	}
	l.curves.empty("path", "class", "wait", "d", fmt.Sprintf("M%.0f %.0fH%.0f", 1000*a, 5*f.h, 1000*b))
}

// Late is stripes along the middle, from the end of a window on.
type Late struct{ From, To float64 }

func (s Late) draw(l *layers, f field) {
	a, b := max(0, f.x.Share(s.From)), min(1, f.x.Share(s.To))
	if !(a < b) {
		return
	}
	l.ground.empty("rect", "class", "late", "fill", "url(#stripes)", "x", percent(a), "width", percent(b-a), "y", pixels(f.top+f.h/2-wedgeHalf), "height", pixels(2*wedgeHalf))
}

// LayBox is an open box from the first day to look to the last one, with a line at the
// likely day.
type LayBox struct{ From, Likely, To float64 }

func (b LayBox) draw(l *layers, f field) {
	if !finite(b.From) || !finite(b.To) || b.To < b.From {
		return
	}
	y := f.top + f.h/2
	left, _ := f.curve(b.From, 0)
	right, _ := f.curve(b.To, 0)
	var d path
	mid := int(math.Round(10 * f.h / 2))
	d.move(left, mid-60)
	d.to(left, mid+60)
	d.to(right, mid+60)
	d.to(right, mid-60)
	d.draw(&l.curves, "laybox")
	if f.inside(b.Likely) {
		l.marks.empty("line", "class", "laylikely", "x1", f.along(b.Likely), "x2", f.along(b.Likely), "y1", pixels(y-2), "y2", pixels(y+6))
	}
}
