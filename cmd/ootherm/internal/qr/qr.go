// Package qr encodes an address as a QR code (ISO/IEC 18004). It gives the code's modules,
// and the same as text for a terminal. It must not know images or printers.
package qr

import (
	"errors"
	"fmt"
	"image/color"
	"strings"

	"github.com/boombuler/barcode/qr"
)

// Quiet is the width of the quiet zone around a code, in light modules (ISO/IEC 18004,
// quiet zone of a QR code: four; from memory).
const Quiet = 4

// Code is one QR code, without its quiet zone.
type Code struct{ rows [][]bool }

// Encode makes the smallest code that holds the text and can be read with 15 % of it
// damaged (level M). The text must be printable ASCII, as an escaped address is, because
// readers differ in other characters.
func Encode(text string) (Code, error) {
	if text == "" {
		return Code{}, errors.New("there is no text")
	}
	for _, r := range text {
		if r < ' ' || r > '~' {
			return Code{}, fmt.Errorf("%q has %q, which is not printable ASCII: escape it", text, r)
		}
	}
	// Always use byte mode, which the library calls Unicode: readers know it best.
	c, err := qr.Encode(text, qr.M, qr.Unicode)
	if err != nil {
		return Code{}, fmt.Errorf("%d characters: %w", len(text), err)
	}
	rows := make([][]bool, c.Bounds().Dy())
	for y := range rows {
		rows[y] = make([]bool, c.Bounds().Dx())
		for x := range rows[y] {
			rows[y][x] = color.GrayModel.Convert(c.At(x, y)).(color.Gray).Y < 128
		}
	}
	return Code{rows}, nil
}

// Side returns the width and height of the code in modules.
func (c Code) Side() int { return len(c.rows) }

// Dark reports whether a module is dark. All modules around the code are light.
func (c Code) Dark(x, y int) bool {
	return y >= 0 && y < len(c.rows) && x >= 0 && x < len(c.rows[y]) && c.rows[y][x]
}

// Terminal returns the code with its quiet zone as text for a terminal, two rows of modules
// per line. It sets black on white, because many readers cannot read a light code on a dark
// ground.
func (c Code) Terminal() string {
	const black, plain = "\x1b[38;5;16;48;5;231m", "\x1b[0m"
	var b strings.Builder
	for y := -Quiet; y < c.Side()+Quiet; y += 2 {
		b.WriteString(black)
		for x := -Quiet; x < c.Side()+Quiet; x++ {
			switch up, down := c.Dark(x, y), c.Dark(x, y+1); {
			case up && down:
				b.WriteRune('█')
			case up:
				b.WriteRune('▀')
			case down:
				b.WriteRune('▄')
			default:
				b.WriteByte(' ')
			}
		}
		b.WriteString(plain + "\n")
	}
	return b.String()
}
