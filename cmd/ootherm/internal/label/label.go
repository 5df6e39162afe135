// Package label draws the label of an egg box for a label printer, 50 x 25 mm, black on
// white without grey. It has the box's name, a QR code that opens the box's page, and a few
// lines on its content. It must not show anything that changes, such as a due date.
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

// Label is the content of one label.
type Label struct {
	Box     string   // its name
	Address string   // of its page, for the QR code
	Lines   []string // below the name; the label counts the lines that do not fit
}

// Resolutions returns the dots per inch of common label printers (common practice), the
// most common first. 203 dots per inch are 8 dots per millimetre.
func Resolutions() []int { return []int{203, 300, 600} }

// ResolutionList returns the resolutions for people: "203, 300 or 600".
func ResolutionList() string {
	all := Resolutions()
	var text []string
	for _, dpi := range all[:len(all)-1] {
		text = append(text, strconv.Itoa(dpi))
	}
	return strings.Join(text, ", ") + " or " + strconv.Itoa(all[len(all)-1])
}

// dotsPerMetre converts a resolution from dots per inch.
func dotsPerMetre(dpi int) float64 {
	if dpi == 203 {
		return 8000
	}
	return float64(dpi) / 0.0254
}

// Measures of the label in millimetres. The places and sizes of the letters are our choice.
const (
	labelWidth, labelHeight = 50.0, 25.0

	margin        = 1.2 // a printer's paper moves by more than a tenth
	topSize       = 2.4
	nameTop       = 4.0
	nameHeight    = 9.6
	nameMaxSize   = 9.0
	nameWrapSize  = 4.0 // a name in smaller letters may take several lines
	nameMinSize   = 1.6
	lineSize      = 2.1
	lineMinSize   = 1.75 // of a line that is slightly too long
	lineStep      = 2.45
	minModuleSize = 0.37 // common practice: 0.25 mm for a hand reader, more for a phone
)

// topMark is on every label. Eggs must stay as they were laid, because turning kills them
// (common practice).
const topMark = "↑ TOP ↑"

// Draw draws the label for a printer's dots per inch. It returns an error for a resolution
// that is not in [Resolutions] and for an address that is too long to be read.
func (l Label) Draw(dpi int) (*image.Paletted, error) {
	if !slices.Contains(Resolutions(), dpi) {
		return nil, fmt.Errorf("%d dots per inch: choose %s", dpi, ResolutionList())
	}
	code, err := qr.Encode(l.Address)
	if err != nil {
		return nil, fmt.Errorf("the address of box %s: %w", l.Box, err)
	}
	c := &canvas{perMM: dotsPerMetre(dpi) / 1000}
	if c.font, err = opentype.Parse(gobold.TTF); err != nil {
		return nil, fmt.Errorf("the font: %w", err)
	}
	w, h := c.dots(labelWidth), c.dots(labelHeight)
	c.img = image.NewPaletted(image.Rect(0, 0, w, h), color.Palette{color.White, color.Black})
	side := code.Side() + 2*qr.Quiet
	module := h / side
	if float64(module) < minModuleSize*c.perMM {
		return nil, fmt.Errorf("the address of box %s has %d characters, too many to be read off a label: give the box a shorter name, or set a shorter url under [station]", l.Box, len(l.Address))
	}
	c.code(code, module, (h-module*side)/2)

	left, right := module*side+c.dots(0.3), w-c.dots(margin)
	if err := c.text(topMark, topSize, left, c.dots(margin)); err != nil {
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

// lines writes the lines that fit and the number of the others.
func (c *canvas) lines(all []string, left, width int) error {
	top := nameTop + nameHeight + 0.3
	room := int((labelHeight - margin - top) / lineStep)
	if len(all) > room {
		all = append(slices.Clone(all[:room-1]), fmt.Sprintf("and %d more", len(all)-room+1))
	}
	for i, line := range all {
		em, top := lineSize, c.dots(top+float64(i)*lineStep)
		face, err := c.face(em)
		for err == nil && em-0.1 >= lineMinSize && fittingBytes(line, face, width) < len(line) {
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

// PNG writes the label as a PNG with one bit per dot and its physical size.
func (l Label) PNG(w io.Writer, dpi int) error {
	img, err := l.Draw(dpi)
	if err != nil {
		return err
	}
	return encode(w, img, dotsPerMetre(dpi))
}

// canvas is a label while it is drawn.
type canvas struct {
	img   *image.Paletted
	perMM float64 // dots
	font  *opentype.Font
}

// dots converts millimetres to dots.
func (c *canvas) dots(mm float64) int { return int(math.Round(mm * c.perMM)) }

// face returns the font at a size in millimetres.
func (c *canvas) face(em float64) (font.Face, error) {
	f, err := opentype.NewFace(c.font, &opentype.FaceOptions{Size: em * c.perMM, DPI: 72, Hinting: font.HintingFull})
	if err != nil {
		return nil, fmt.Errorf("the font at %g mm: %w", em, err)
	}
	return f, nil
}

// code draws the QR code.
func (c *canvas) code(code qr.Code, module, top int) {
	for y := range code.Side() * module {
		for x := range code.Side() * module {
			if code.Dark(x/module, y/module) {
				c.img.SetColorIndex(x+qr.Quiet*module, y+top+qr.Quiet*module, 1)
			}
		}
	}
}

// name writes the box's name as large as possible. It uses one line if the letters are
// then large enough to read from a step away.
func (c *canvas) name(s string, left, width int) error {
	for em := nameMaxSize; em >= nameMinSize; em -= 0.2 {
		face, err := c.face(em)
		if err != nil {
			return err
		}
		maxLines := 1
		if em < nameWrapSize {
			maxLines = int(nameHeight / em)
		}
		lines := wrap(s, face, width)
		last := em-0.2 < nameMinSize
		if len(lines) > maxLines && !last {
			continue
		}
		if len(lines) > maxLines { // cut the name: the QR code still identifies the box
			lines = lines[:maxLines]
			lines[maxLines-1] = cut(lines[maxLines-1]+"…", face, width)
		}
		for i, line := range lines {
			top := nameTop + (nameHeight-em*float64(len(lines)))/2 + em*float64(i)
			if err := c.text(line, em, left, c.dots(top)); err != nil {
				return err
			}
		}
		return nil
	}
	return nil
}

// text writes one line. It makes each grey dot of the font black or white.
func (c *canvas) text(s string, em float64, left, top int) error {
	face, err := c.face(em)
	if err != nil {
		return err
	}
	grey := image.NewAlpha(c.img.Bounds())
	d := font.Drawer{Dst: grey, Src: image.Opaque, Face: face, Dot: fixed.P(left, top+int(math.Round(0.78*em*c.perMM)))}
	d.DrawString(s)
	for i, a := range grey.Pix { // both images have one byte per dot
		if a >= 128 {
			c.img.Pix[i] = 1
		}
	}
	return nil
}

// wrap breaks a text into lines that fit. It breaks anywhere, because a name has no words.
func wrap(s string, face font.Face, width int) []string {
	var lines []string
	for s != "" {
		n := fittingBytes(s, face, width)
		lines, s = append(lines, s[:n]), s[n:]
	}
	return lines
}

// cut shortens a text to what fits and ends it with an ellipsis.
func cut(s string, face font.Face, width int) string {
	if fittingBytes(s, face, width) == len(s) {
		return s
	}
	return s[:fittingBytes(s, face, width-font.MeasureString(face, "…").Ceil())] + "…"
}

// fittingBytes returns the number of bytes of a text that fit, at least one character.
func fittingBytes(s string, face font.Face, width int) int {
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
