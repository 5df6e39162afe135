package qr_test

import (
	"image"
	"image/color"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"

	"example.com/ootherm/cmd/ootherm/internal/qr"
)

// read decodes a picture of modules with an independent reader.
func read(t *testing.T, wide, high int, dark func(x, y int) bool) string {
	t.Helper()
	const px = 3
	m := image.NewGray(image.Rect(0, 0, wide*px, high*px))
	for y := range high * px {
		for x := range wide * px {
			v := uint8(255)
			if dark(x/px, y/px) {
				v = 0
			}
			m.SetGray(x, y, color.Gray{Y: v})
		}
	}
	bits, err := gozxing.NewBinaryBitmapFromImage(m)
	if err != nil {
		t.Fatal(err)
	}
	got, err := qrcode.NewQRCodeReader().Decode(bits, nil)
	if err != nil {
		t.Fatal(err)
	}
	return got.GetText()
}

// An independent reader reads codes of many sizes.
func TestIndependentReaderReadsCodes(t *testing.T) {
	texts := []string{"1", "0123456789", "HTTP://EGGROOM.LOCAL/B/B1", "http://eggroom.local:8080/b/B1", "http://192.168.0.17:8080/b/B%2F1%20left%3F%23%C3%A4"}
	r := rand.New(rand.NewPCG(1, 2))
	for n := 3; n < 400; n += 13 { // 15 sizes, half of them with version information
		b := make([]byte, n)
		for i := range b {
			b[i] = byte(' ' + r.IntN('~'-' '+1))
		}
		texts = append(texts, string(b))
	}
	for _, text := range texts {
		c, err := qr.Encode(text)
		if err != nil {
			t.Fatal(err)
		}
		side := c.Side() + 2*qr.Quiet
		got := read(t, side, side, func(x, y int) bool { return c.Dark(x-qr.Quiet, y-qr.Quiet) })
		if got != text {
			t.Errorf("%d modules of %q are read as %q", c.Side(), text, got)
		}
	}
}

// An independent reader reads the terminal's characters, and the quiet zone is there.
func TestTerminal(t *testing.T) {
	const text = "http://eggroom.local:8080"
	c, err := qr.Encode(text)
	if err != nil {
		t.Fatal(err)
	}
	var rows [][]bool
	for _, line := range strings.Split(strings.TrimSuffix(c.Terminal(), "\n"), "\n") {
		body, black := strings.CutPrefix(line, "\x1b[38;5;16;48;5;231m")
		body, plain := strings.CutSuffix(body, "\x1b[0m")
		if !black || !plain {
			t.Fatalf("a line does not set or reset its colours: %q", line)
		}
		var up, down []bool
		for _, r := range body {
			if !strings.ContainsRune(" ▀▄█", r) {
				t.Fatalf("%q is no half block", r)
			}
			up, down = append(up, r == '▀' || r == '█'), append(down, r == '▄' || r == '█')
		}
		rows = append(rows, up, down)
	}
	side := c.Side() + 2*qr.Quiet
	if len(rows) < side || len(rows[0]) != side {
		t.Fatalf("%d x %d modules, want %d with the quiet zone", len(rows[0]), len(rows), side)
	}
	for i := range qr.Quiet {
		for j := range side {
			if rows[i][j] || rows[side-1-i][j] || rows[j][i] || rows[j][side-1-i] {
				t.Fatalf("the quiet zone is not light at %d, %d", i, j)
			}
		}
	}
	if got := read(t, len(rows[0]), len(rows), func(x, y int) bool { return rows[y][x] }); got != text {
		t.Errorf("the terminal shows %q, want %q", got, text)
	}
}

func TestNotEncoded(t *testing.T) {
	for text, words := range map[string]string{
		"":                          "no text",
		"http://x/b/é":              "escape it",
		"a\nb":                      "escape it",
		strings.Repeat("a", 10_000): "10000 characters",
	} {
		if c, err := qr.Encode(text); err == nil || c.Side() != 0 || !strings.Contains(err.Error(), words) {
			t.Errorf("%.20q: %d modules, error %v", text, c.Side(), err)
		}
	}
}
