package label_test

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/png"
	"net/url"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"

	"example.com/ootherm/cmd/ootherm/internal/label"
)

func draw(t *testing.T, l label.Label, dpi int) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := l.PNG(&b, dpi); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// read decodes a PNG and its QR code with an independent reader.
func read(t *testing.T, file []byte) (image.Image, string) {
	t.Helper()
	img, err := png.Decode(bytes.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	bits, err := gozxing.NewBinaryBitmapFromImage(img)
	if err != nil {
		t.Fatal(err)
	}
	got, err := qrcode.NewQRCodeReader().Decode(bits, nil)
	if err != nil {
		t.Fatal(err)
	}
	return img, got.GetText()
}

// ofBox returns the label of a box.
func ofBox(name string, lines ...string) label.Label {
	return label.Label{Box: name, Address: "http://eggroom.local:8080/b/" + url.PathEscape(name), Lines: lines}
}

// For every name and resolution the QR code holds the box's address, and the picture is
// 50 x 25 mm with one bit per dot.
func TestCodeCanBeRead(t *testing.T) {
	size := map[int]image.Point{203: {400, 200}, 300: {591, 295}, 600: {1181, 591}}
	lines := []string{"40 g dry, 40 g water, 112 g in all", "Sorrel S1: a b", "laid 1-2 April", "Tansy T1: c", "laid 3 April"}
	for _, name := range []string{"B1", "shelf-2-left-12", "Box 7/a? #ä%", "Ящик 3", strings.Repeat("0123456789", 6)} {
		for _, dpi := range label.Resolutions() {
			l := ofBox(name, lines...)
			file := draw(t, l, dpi)
			img, got := read(t, file)
			if got != l.Address {
				t.Errorf("%s at %d: the code says %q", name, dpi, got)
			}
			if img.Bounds().Size() != size[dpi] {
				t.Errorf("%s at %d: %v dots, want %v", name, dpi, img.Bounds().Size(), size[dpi])
			}
			if depth := file[24]; depth != 1 {
				t.Errorf("%s at %d: %d bits per dot, want 1", name, dpi, depth)
			}
			i := bytes.Index(file, []byte("pHYs"))
			if i < 0 {
				t.Fatalf("%s at %d: the picture has no physical size", name, dpi)
			}
			perMetre := float64(binary.BigEndian.Uint32(file[i+4:]))
			if mm := 1000 * float64(size[dpi].X) / perMetre; mm < 49.9 || mm > 50.1 {
				t.Errorf("%s at %d: %.2f mm wide", name, dpi, mm)
			}
		}
	}
}

// ink returns the bounds of the dots in a rectangle that are not white.
func ink(img image.Image, from image.Rectangle) image.Rectangle {
	var r image.Rectangle
	for y := from.Min.Y; y < from.Max.Y; y++ {
		for x := from.Min.X; x < from.Max.X; x++ {
			if v, _, _, _ := img.At(x, y).RGBA(); v == 0 {
				r = r.Union(image.Rect(x, y, x+1, y+1))
			}
		}
	}
	return r
}

// A short name is large. A long name stays on the label.
func TestNameFits(t *testing.T) {
	for name, least := range map[string]int{"B1": 45, "shelf-12": 25, "rack 3, shelf 2, box 14": 15, strings.Repeat("W", 100): 40} {
		img, err := ofBox(name).Draw(203)
		if err != nil {
			t.Fatal(err)
		}
		got := ink(img, image.Rect(190, 32, 400, 110)) // 4 to 13.8 mm down
		if got.Dy() < least {
			t.Errorf("%.10q is %d dots high, want %d", name, got.Dy(), least)
		}
		if got.Max.X > 400-9 {
			t.Errorf("%.10q reaches dot %d, in the margin that a printer may miss", name, got.Max.X)
		}
	}
}

// The label counts the lines that do not fit.
func TestLinesThatDoNotFit(t *testing.T) {
	four, err := ofBox("B1", "1", "2", "3", "and 2 more").Draw(203)
	if err != nil {
		t.Fatal(err)
	}
	five, err := ofBox("B1", "1", "2", "3", "4", "5").Draw(203)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(four.Pix, five.Pix) {
		t.Error("of five lines the label does not show three and how many more there are")
	}
	long, err := ofBox("B1", strings.Repeat("Sorrel ", 30)).Draw(203)
	if err != nil {
		t.Fatal(err)
	}
	if got := ink(long, image.Rect(190, 110, 400, 200)); got.Max.X > 400-9 || got.Dx() < 150 {
		t.Errorf("a long line covers %v", got)
	}
}

// These labels cannot be drawn.
func TestNoLabel(t *testing.T) {
	for what, c := range map[string]struct {
		l     label.Label
		dpi   int
		words string
	}{
		"a resolution no printer has": {ofBox("B1"), 72, "choose 203, 300 or 600"},
		"an address too long":         {ofBox(strings.Repeat("ä", 100)), 203, "too many to be read off a label"},
		"an address not escaped":      {label.Label{Box: "ä", Address: "http://x/b/ä"}, 203, "escape it"},
	} {
		if img, err := c.l.Draw(c.dpi); err == nil || img != nil || !strings.Contains(err.Error(), c.words) {
			t.Errorf("%s: %v, error %v", what, img != nil, err)
		}
	}
}
