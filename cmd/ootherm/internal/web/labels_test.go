package web

import (
	"bytes"
	"image"
	"image/png"
	"slices"
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/labels"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"
)

func labelled(t *testing.T, change func(*snapshot.Snapshot, *page.Options)) page.Options {
	t.Helper()
	d, _ := bookDesk(t, oneHatched)
	n := season()
	o := options(n)
	o.Writer, o.Book, o.LabelURL = d, d, o.URL
	change(n, &o)
	return o
}

// What the label of a box leads to is the page of that box, whatever its name.
func TestLabelOpensItsBox(t *testing.T) {
	const odd = `B/7 ä?#"<b>`
	o := labelled(t, func(n *snapshot.Snapshot, _ *page.Options) { n.Boxes[1].Box = odd })
	h := handler(t, o)
	for _, name := range []string{"B1", odd} {
		w := get(h, page.BoxHref(name)+"/label.png?dpi=300")
		if w.Code != 200 || w.Header().Get("Content-Type") != "image/png" {
			t.Fatalf("%s: status %d, %s", name, w.Code, w.Body)
		}
		img, err := png.Decode(w.Body)
		if err != nil {
			t.Fatal(err)
		}
		if p, ok := img.(*image.Paletted); !ok || len(p.Palette) != 2 || img.Bounds().Dx() != 591 {
			t.Errorf("%s: %T of %v, want two colours, 591 dots wide", name, img, img.Bounds())
		}
		bits, err := gozxing.NewBinaryBitmapFromImage(img)
		if err != nil {
			t.Fatal(err)
		}
		got, err := qrcode.NewQRCodeReader().Decode(bits, nil)
		if err != nil {
			t.Fatal(err)
		}
		path, ok := strings.CutPrefix(got.GetText(), "http://eggroom.local:8080/")
		if !ok || !slices.Equal(elementsOf(t, get(h, "/"+path)).find("h1").texts(), []string{"Box " + name}) {
			t.Errorf("%s: its code leads to %q, which is not its page", name, got.GetText())
		}
	}
	page := elementsOf(t, get(h, "/labels"))
	if page.has("b") || !page.has("img", "src=/b/B%2F7%20%C3%A4%3F%23%22%3Cb%3E/label.png?dpi=600") {
		t.Error("the page of labels does not escape a box's name")
	}
}

// On a label stands what lies in the box and nothing that moves.
func TestLabelSays(t *testing.T) {
	d, _ := bookDesk(t, oneHatched)
	o := options(season())
	o.Book = d
	s := labels.Pages{Site: &page.Site{Options: o}}
	for i, want := range []string{
		"112 g: 40 dry, 40 water|Sorrel S1 a b|laid 9-10 Apr", // masses of the book
		"Tansy T1 a 9-10 Apr|Sorrel S2 a b 9-10 Apr",          // without the egg that was lost
	} {
		if got := strings.Join(s.Of(o.Source.Now().Boxes[i], d.Book()).Lines, "|"); got != want {
			t.Errorf("box %d says %q, want %q", i+1, got, want)
		}
	}
}

func TestLabelsToPrint(t *testing.T) {
	o := labelled(t, func(n *snapshot.Snapshot, _ *page.Options) { n.Boxes[8].Box = strings.Repeat("ä", 60) })
	h := handler(t, o)
	one, sheet := elementsOf(t, get(h, "/labels?box=B1")), elementsOf(t, get(h, "/labels?sheet=a4"))
	if n := len(one.find("img")); n != 1 || !one.has("link", "href=/label.css") || !one.has("img", "src=/b/B1/label.png?dpi=600") {
		t.Errorf("%d labels of one box", n)
	}
	if n := len(sheet.find("img")); n != 8 || !sheet.has("link", "href=/label-sheet.css") {
		t.Errorf("%d labels on the sheet, want all 8 boxes whose address fits", n)
	}
	if n := len(sheet.find("ul", "class=labels")[0].inside.find("li")); n != 9 {
		t.Error("the box whose address does not fit is passed over in silence")
	}
	if css := get(h, "/label.css").Body; !bytes.Contains(css.Bytes(), []byte("size: 50mm 25mm")) {
		t.Error("the style sheet does not say how large a label is")
	}
	for path, want := range map[string]struct {
		status int
		words  string
	}{
		"/labels?box=B99":         {404, "No box &#34;B99&#34; is in use. In use: B1, B2"},
		"/b/B99/label.png":        {404, `No box "B99" is in use`},
		"/b/B1/label.png?dpi=72":  {400, "choose 203, 300 or 600"},
		"/b/B1/label.png?dpi=red": {400, "choose 203, 300 or 600"},
	} {
		if w := get(h, path); w.Code != want.status || !strings.Contains(w.Body.String(), want.words) {
			t.Errorf("%s: status %d, %s", path, w.Code, w.Body)
		}
	}
}

// Without an address of the breeder's own there is nothing a label could carry.
func TestLabelsNeedAnAddress(t *testing.T) {
	h := handler(t, labelled(t, func(_ *snapshot.Snapshot, o *page.Options) { o.LabelURL = "" }))
	if w := get(h, "/labels"); w.Code != 200 || elementsOf(t, w).has("img") {
		t.Errorf("the page does not say what to set:\n%s", w.Body)
	}
	if w := get(h, "/b/B1/label.png"); w.Code != 409 {
		t.Errorf("status %d: %s", w.Code, w.Body)
	}
}
