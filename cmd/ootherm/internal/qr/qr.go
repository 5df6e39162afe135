// Package qr turns an address into a QR code (ISO/IEC 18004): which modules are
// dark, and the same for a terminal. It knows no image and no printer.
package qr

import (
	"errors"
	"fmt"
	"strings"

	"github.com/yeqown/go-qrcode/v2"
)

// Quiet is how many light modules a reader wants around a code (ISO/IEC 18004,
// quiet zone of a QR code: four; from memory).
const Quiet = 4

// Code is one QR code, without its quiet zone.
type Code struct{ rows [][]bool }

// Encode makes the smallest code that holds the text and still reads with 15 %
// of it spoilt (level M). The text is ASCII, as an address is once escaped: how a
// reader takes other bytes is its own guess.
func Encode(text string) (Code, error) {
	if text == "" {
		return Code{}, errors.New("there is no text")
	}
	for _, r := range text {
		if r < ' ' || r > '~' {
			return Code{}, fmt.Errorf("%q has %q, which is not printable ASCII: escape it", text, r)
		}
	}
	// In byte mode whatever the text: readers meet no other as often.
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

// modules takes a code out of the library.
type modules struct{ rows [][]bool }

var _ qrcode.Writer = (*modules)(nil)

func (m *modules) Write(x qrcode.Matrix) error { m.rows = x.Bitmap(); return nil }
func (m *modules) Close() error                { return nil }

// Side is how many modules the code is wide and high.
func (c Code) Side() int { return len(c.rows) }

// Dark says whether a module is dark; around the code all are light.
func (c Code) Dark(x, y int) bool {
	return y >= 0 && y < len(c.rows) && x >= 0 && x < len(c.rows[y]) && c.rows[y][x]
}

// Terminal is the code with its quiet zone for a terminal, two rows of modules a
// line, black on white whatever the terminal's own colours are, since many readers
// do not know a light code on a dark ground.
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
