package hindcast

import (
	"bufio"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strings"
)

// A panel of the drawing, in pixels; a share of the axis is a logarithm.
const (
	panel  = 300.0
	margin = 46.0
	gapX   = 24.0
)

// WriteSVG draws predicted against actual days, a panel for each protocol, on
// logarithmic axes: a point on the diagonal was foretold exactly, an open one lay
// outside its 80 % interval. A point's title tells its row.
func WriteSVG(w io.Writer, r Result) error {
	low, high := 0.0, 0.0
	for _, p := range r.Rows {
		for _, v := range [...]float64{p.Predicted, p.Actual} {
			if v > 0 && (low == 0 || v < low) {
				low = v
			}
			high = math.Max(high, v)
		}
	}
	if low == 0 {
		low, high = 10, 100
	}
	low, high = low/1.1, high*1.1
	at := func(days float64) float64 { return panel * math.Log(days/low) / math.Log(high/low) }
	b := bufio.NewWriter(w)
	width := margin + 3*(panel+gapX)
	height := margin*2 + panel
	fmt.Fprintf(b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %.0f %.0f" font-family="sans-serif" font-size="12" role="img">`+"\n", width, height)
	fmt.Fprint(b, "<title>Days to hatch, predicted against actual</title>\n", `<rect width="100%" height="100%" fill="#fff"/>`, "\n")
	for i, name := range Protocols() {
		fmt.Fprintf(b, `<g transform="translate(%.0f %.0f)">`+"\n", margin+float64(i)*(panel+gapX), margin)
		fmt.Fprintf(b, `<rect width="%g" height="%g" fill="none" stroke="#888"/>`+"\n", panel, panel)
		fmt.Fprintf(b, `<path d="M0 %g L%g 0" stroke="#888" stroke-dasharray="4 3"/>`+"\n", panel, panel)
		for _, days := range [...]float64{10, 20, 30, 50, 100, 200, 300, 500} {
			if days <= low || days >= high {
				continue
			}
			x := at(days)
			fmt.Fprintf(b, `<path d="M%.1f %g v4 M0 %.1f h-4" stroke="#888"/>`, x, panel, panel-x)
			fmt.Fprintf(b, `<text x="%.1f" y="%.0f" text-anchor="middle">%g</text>`, x, panel+17, days)
			if i == 0 {
				fmt.Fprintf(b, `<text x="-7" y="%.1f" text-anchor="end">%g</text>`, panel-x+4, days)
			}
			fmt.Fprintln(b)
		}
		s := r.Protocols[name]
		fmt.Fprintf(b, `<text x="0" y="-24" font-weight="bold">%s</text>`, knowing(name))
		fmt.Fprintf(b, `<text x="0" y="-8">%d rows, median error %.1f %%, %.0f %% inside</text>`+"\n", s.N, 100*s.MedianAPE, 100*s.Within80)
		fmt.Fprintf(b, `<text x="%g" y="%.0f" text-anchor="middle">actual days</text>`+"\n", panel/2, panel+34)
		for _, p := range r.Rows {
			if p.Protocol != name || !(p.Predicted > 0) || !(p.Actual > 0) {
				continue
			}
			fill := "#1b6ca8"
			if p.Actual < p.Low80 || p.Actual > p.High80 {
				fill = "none"
			}
			fmt.Fprintf(b, `<circle cx="%.1f" cy="%.1f" r="2.5" fill="%s" fill-opacity="0.5" stroke="#1b6ca8"><title>%s, %.1f C: %.1f days, predicted %.1f (%.1f to %.1f)</title></circle>`+"\n",
				at(p.Actual), panel-at(p.Predicted), fill, escape(p.Species), p.Celsius, p.Actual, p.Predicted, p.Low80, p.High80)
		}
		fmt.Fprintln(b, "</g>")
	}
	fmt.Fprintf(b, `<text transform="translate(12 %.0f) rotate(-90)" text-anchor="middle">predicted days</text>`+"\n</svg>\n", margin+panel/2)
	if err := b.Flush(); err != nil {
		return fmt.Errorf("hindcast: drawing: %w", err)
	}
	return nil
}

// knowing is a protocol in words.
func knowing(protocol string) string {
	switch protocol {
	case KnowingFamily:
		return "knowing its family"
	case KnowingOne:
		return "and one row, the nearest temperature"
	default:
		return "and all its other temperatures"
	}
}

// escape is text fit for a drawing; characters that XML cannot hold are replaced.
func escape(s string) string {
	var b strings.Builder
	if err := xml.EscapeText(&b, []byte(s)); err != nil {
		return "" // a strings.Builder takes everything
	}
	return b.String()
}
