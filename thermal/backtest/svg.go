package backtest

import (
	"bufio"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strings"
)

// The sizes of the drawing, in pixels.
const (
	panelSize = 300.0
	margin    = 46.0
	panelGap  = 24.0
)

// WriteSVG draws predicted against actual days, a panel for each protocol, on
// logarithmic axes. A point on the diagonal was predicted exactly; an open one lay
// outside its 80 % interval. A point's title describes its row.
func WriteSVG(w io.Writer, r Result) error {
	b := bufio.NewWriter(w)
	width := margin + 3*(panelSize+panelGap)
	height := margin*2 + panelSize
	fmt.Fprintf(b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %.0f %.0f" font-family="sans-serif" font-size="12" role="img">`+"\n", width, height)
	fmt.Fprint(b, "<title>Days to hatch, predicted against actual</title>\n", `<rect width="100%" height="100%" fill="#fff"/>`, "\n")
	axis := axisOf(r.Rows)
	for i, name := range Protocols() {
		fmt.Fprintf(b, `<g transform="translate(%.0f %.0f)">`+"\n", margin+float64(i)*(panelSize+panelGap), margin)
		fmt.Fprintf(b, `<rect width="%g" height="%g" fill="none" stroke="#888"/>`+"\n", panelSize, panelSize)
		fmt.Fprintf(b, `<path d="M0 %g L%g 0" stroke="#888" stroke-dasharray="4 3"/>`+"\n", panelSize, panelSize)
		axis.writeTicks(b, i == 0)
		s := r.Protocols[name]
		fmt.Fprintf(b, `<text x="0" y="-24" font-weight="bold">%s</text>`, protocolTitle(name))
		fmt.Fprintf(b, `<text x="0" y="-8">%d rows, median error %.1f %%, %.0f %% inside</text>`+"\n", s.N, 100*s.MedianAPE, 100*s.Within80)
		fmt.Fprintf(b, `<text x="%g" y="%.0f" text-anchor="middle">actual days</text>`+"\n", panelSize/2, panelSize+34)
		for _, p := range r.Rows {
			if p.Protocol == name {
				axis.writePoint(b, p)
			}
		}
		fmt.Fprintln(b, "</g>")
	}
	fmt.Fprintf(b, `<text transform="translate(12 %.0f) rotate(-90)" text-anchor="middle">predicted days</text>`+"\n</svg>\n", margin+panelSize/2)
	if err := b.Flush(); err != nil {
		return fmt.Errorf("drawing: %w", err)
	}
	return nil
}

// axis is the range of days on both axes of a panel.
type axis struct{ low, high float64 }

func axisOf(rows []Prediction) axis {
	var a axis
	for _, p := range rows {
		for _, v := range [...]float64{p.Predicted, p.Actual} {
			if v > 0 && (a.low == 0 || v < a.low) {
				a.low = v
			}
			a.high = math.Max(a.high, v)
		}
	}
	if a.low == 0 {
		a = axis{10, 100}
	}
	return axis{a.low / 1.1, a.high * 1.1}
}

// at is the place of a duration on the axis, in pixels.
func (a axis) at(days float64) float64 {
	return panelSize * math.Log(days/a.low) / math.Log(a.high/a.low)
}

// writeTicks draws the ticks of both axes. Only the first panel has figures on its
// vertical axis.
func (a axis) writeTicks(w io.Writer, first bool) {
	for _, days := range [...]float64{10, 20, 30, 50, 100, 200, 300, 500} {
		if days <= a.low || days >= a.high {
			continue
		}
		x := a.at(days)
		fmt.Fprintf(w, `<path d="M%.1f %g v4 M0 %.1f h-4" stroke="#888"/>`, x, panelSize, panelSize-x)
		fmt.Fprintf(w, `<text x="%.1f" y="%.0f" text-anchor="middle">%g</text>`, x, panelSize+17, days)
		if first {
			fmt.Fprintf(w, `<text x="-7" y="%.1f" text-anchor="end">%g</text>`, panelSize-x+4, days)
		}
		fmt.Fprintln(w)
	}
}

func (a axis) writePoint(w io.Writer, p Prediction) {
	if !(p.Predicted > 0) || !(p.Actual > 0) {
		return
	}
	fill := "#1b6ca8"
	if p.Actual < p.Low80 || p.Actual > p.High80 {
		fill = "none"
	}
	fmt.Fprintf(w, `<circle cx="%.1f" cy="%.1f" r="2.5" fill="%s" fill-opacity="0.5" stroke="#1b6ca8"><title>%s, %.1f C: %.1f days, predicted %.1f (%.1f to %.1f)</title></circle>`+"\n",
		a.at(p.Actual), panelSize-a.at(p.Predicted), fill, escapeXML(p.Species), p.Celsius, p.Actual, p.Predicted, p.Low80, p.High80)
}

// protocolTitle is the title of a protocol's panel.
func protocolTitle(protocol string) string {
	switch protocol {
	case KnowingFamily:
		return "knowing its family"
	case KnowingOne:
		return "and one row, the nearest temperature"
	default:
		return "and all its other temperatures"
	}
}

// escapeXML is text fit for a drawing; characters that XML cannot hold are replaced.
func escapeXML(s string) string {
	var b strings.Builder
	if err := xml.EscapeText(&b, []byte(s)); err != nil {
		return "" // a strings.Builder takes everything
	}
	return b.String()
}
