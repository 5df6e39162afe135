// Package label draws the label of an egg box, 50 x 25 mm, black on white without
// grey, as a label printer wants it: the box's name large, a QR code that opens
// its page, and a few lines of what lies in it. Nothing on it moves: no day on
// which anything is due.
package label

import (
	"fmt"
	"image"
	"image/color"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"

	"example.com/ootherm/cmd/ootherm/internal/qr"
)

// Label is what one label says.
type Label struct {
	Box     string   // its name
	Address string   // of its page, in the code
	Lines   []string // below the name; what does not fit is counted, not squeezed in
}

// Resolutions are the dots per inch a label can be drawn for: what label printers
// have (common practice), the usual one first. Its 203 are 8 dots a millimetre.
func Resolutions() []int { return []int{203, 300, 600} }

// Choices are the resolutions for a person: "203, 300 or 600".
func Choices() string {
	all := Resolutions()
	var text []string
	for _, dpi := range all[:len(all)-1] {
		text = append(text, strconv.Itoa(dpi))
	}
	return strings.Join(text, ", ") + " or " + strconv.Itoa(all[len(all)-1])
}

// dotsPerMetre is how fine a resolution is.
func dotsPerMetre(dpi int) float64 {
	if dpi == 203 {
		return 8000
	}
	return float64(dpi) / 0.0254
}

// Of the label and what is on it, in millimetres. Where the printed letters stand
// and how large they are is our choice.
const (
	wide, high = 50.0, 25.0
	edge       = 1.2 // a printer's paper does not lie still to a tenth
	topEm      = 2.4
	nameTop    = 4.0
	nameRoom   = 9.6
	nameMost   = 9.0 // em of the name, at most
	nameOne    = 4.0 // smaller than this it may take several lines
	nameLeast  = 1.6
	lineEm     = 2.1
	lineLeast  = 1.75 // a line that is a little too long is written smaller
	lineStep   = 2.45
	// A module smaller than this is not read for certain off a thermal print
	// (common practice: 0.25 mm for a reader at hand, more for a phone).
	moduleLeast = 0.37
)

// laidSide goes on every label: eggs are kept as they were laid, since turning
// kills (common practice).
const laidSide = "↑ TOP ↑"

// Draw draws the label for a printer of so many dots per inch.
func (l Label) Draw(dpi int) (*image.Paletted, error) {
	if !slices.Contains(Resolutions(), dpi) {
		return nil, fmt.Errorf("%d dots per inch: choose %s", dpi, Choices())
	}
	code, err := qr.Encode(l.Address)
	if err != nil {
		return nil, fmt.Errorf("the address of box %s: %w", l.Box, err)
	}
	c := &canvas{perMM: dotsPerMetre(dpi) / 1000}
	if c.font, err = opentype.Parse(gobold.TTF); err != nil {
		return nil, fmt.Errorf("the font: %w", err)
	}
	w, h := c.dots(wide), c.dots(high)
	c.img = image.NewPaletted(image.Rect(0, 0, w, h), color.Palette{color.White, color.Black})
	side := code.Side() + 2*qr.Quiet
	module := h / side
	if float64(module) < moduleLeast*c.perMM {
		return nil, fmt.Errorf("the address of box %s has %d characters, too many to be read off a label: give the box a shorter name, or set a shorter url under [station]", l.Box, len(l.Address))
	}
	c.code(code, module, (h-module*side)/2)

	left, right := module*side+c.dots(0.3), w-c.dots(edge)
	if err := c.text(laidSide, topEm, left, c.dots(edge)); err != nil {
		return nil, err
	}
	if err := c.name(l.Box, left, right-left); err != nil {
		return nil, err
	}
	if err := c.lines(l.Lines, left, right-left); err != nil {
		return nil, err
	}
	return c.img, nil
}

// lines writes what there is room for, and how many more there are.
func (c *canvas) lines(all []string, left, width int) error {
	top := nameTop + nameRoom + 0.3
	room := int((high - edge - top) / lineStep)
	if len(all) > room {
		all = append(slices.Clone(all[:room-1]), fmt.Sprintf("and %d more", len(all)-room+1))
	}
	for i, line := range all {
		em, top := lineEm, c.dots(top+float64(i)*lineStep)
		face, err := c.face(em)
		for err == nil && em-0.1 >= lineLeast && fit(line, face, width) < len(line) {
			em -= 0.1
			face, err = c.face(em)
		}
		if err == nil {
			err = c.text(cut(line, face, width), em, left, top)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// PNG writes the label as a PNG of one bit a dot that knows its size.
func (l Label) PNG(w io.Writer, dpi int) error {
	img, err := l.Draw(dpi)
	if err != nil {
		return err
	}
	return encode(w, img, dotsPerMetre(dpi))
}

// canvas is a label being drawn.
type canvas struct {
	img   *image.Paletted
	perMM float64 // dots
	font  *opentype.Font
}

func (c *canvas) dots(mm float64) int { return int(math.Round(mm * c.perMM)) }

func (c *canvas) face(em float64) (font.Face, error) {
	f, err := opentype.NewFace(c.font, &opentype.FaceOptions{Size: em * c.perMM, DPI: 72, Hinting: font.HintingFull})
	if err != nil {
		return nil, fmt.Errorf("the font at %g mm: %w", em, err)
	}
	return f, nil
}

func (c *canvas) code(code qr.Code, module, top int) {
	for y := range code.Side() * module {
		for x := range code.Side() * module {
			if code.Dark(x/module, y/module) {
				c.img.SetColorIndex(x+qr.Quiet*module, y+top+qr.Quiet*module, 1)
			}
		}
	}
}

// name writes the box's name as large as it goes, on one line if that is large
// enough to be read from a step away.
func (c *canvas) name(s string, left, width int) error {
	for em := nameMost; em >= nameLeast; em -= 0.2 {
		face, err := c.face(em)
		if err != nil {
			return err
		}
		most := 1
		if em < nameOne {
			most = int(nameRoom / em)
		}
		lines := wrap(s, face, width)
		last := em-0.2 < nameLeast
		if len(lines) > most && !last {
			continue
		}
		if len(lines) > most { // the code still leads to it
			lines = lines[:most]
			lines[most-1] = cut(lines[most-1]+"…", face, width)
		}
		for i, line := range lines {
			top := nameTop + (nameRoom-em*float64(len(lines)))/2 + em*float64(i)
			if err := c.text(line, em, left, c.dots(top)); err != nil {
				return err
			}
		}
		return nil
	}
	return nil
}

// text writes one line. Each dot is black or white: the font's grey is halved.
func (c *canvas) text(s string, em float64, left, top int) error {
	face, err := c.face(em)
	if err != nil {
		return err
	}
	grey := image.NewAlpha(c.img.Bounds())
	d := font.Drawer{Dst: grey, Src: image.Opaque, Face: face, Dot: fixed.P(left, top+int(math.Round(0.78*em*c.perMM)))}
	d.DrawString(s)
	for i, a := range grey.Pix { // both images have a byte a dot
		if a >= 128 {
			c.img.Pix[i] = 1
		}
	}
	return nil
}

// wrap breaks a text into lines that fit, anywhere: a name has no words.
func wrap(s string, face font.Face, width int) []string {
	var lines []string
	for s != "" {
		n := fit(s, face, width)
		lines, s = append(lines, s[:n]), s[n:]
	}
	return lines
}

// cut shortens a text to what fits, and shows that it did.
func cut(s string, face font.Face, width int) string {
	if fit(s, face, width) == len(s) {
		return s
	}
	return s[:fit(s, face, width-font.MeasureString(face, "…").Ceil())] + "…"
}

// fit is how many bytes of a text fit, at least one character.
func fit(s string, face font.Face, width int) int {
	n := 0
	for i, r := range s {
		next := i + utf8.RuneLen(r)
		if n > 0 && font.MeasureString(face, s[:next]).Ceil() > width {
			return n
		}
		n = next
	}
	return n
}
