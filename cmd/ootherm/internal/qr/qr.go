// Package qr encodes an address as a QR code (ISO/IEC 18004). It gives the code's modules,
// and the same as text for a terminal. It must not know images or printers.
package qr

import (
	"errors"
	"fmt"
	"strings"

	"github.com/yeqown/go-qrcode/v2"
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
	// Always use byte mode: it is the mode that readers know best.
	c, err := qrcode.NewWith(text, qrcode.WithEncodingMode(qrcode.EncModeByte), qrcode.WithErrorCorrectionLevel(qrcode.ErrorCorrectionMedium))
	if err != nil {
		return Code{}, fmt.Errorf("%d characters: %w", len(text), err)
	}
	var m modules
	if err := c.Save(&m); err != nil {
		return Code{}, err
	}
	return Code(m), nil
}

// modules receives a code from the library.
type modules struct{ rows [][]bool }

var _ qrcode.Writer = (*modules)(nil)

func (m *modules) Write(x qrcode.Matrix) error { m.rows = x.Bitmap(); return nil }
func (m *modules) Close() error                { return nil }

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
