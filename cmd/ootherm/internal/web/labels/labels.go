// Package labels shows the labels of boxes, as pictures and as a page to print. It must not draw
// them itself.
package labels

import (
	"bytes"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/label"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
)

// noAddress says what labels need, on the page and to the command.
const noAddress = `Labels carry the address that a phone opens, and none is set: write one like url = "http://eggroom.local:8080" under [station] in the configuration and restart the station. It is printed, so choose a name or a number that will stay.`

// Pages makes labels of boxes.
type Pages struct{ *page.Site }

// labelOf is a box's label: what lies in it that does not move. The days its eggs
// are due do, so they are not on it.
func (s Pages) Of(x snapshot.Box, b *book.Book) label.Label {
	l := label.Label{Box: x.Box, Address: strings.TrimSuffix(s.LabelURL, "/") + page.BoxHref(x.Box)}
	if y, ok := b.Box(x.Box); ok && y.TotalG != nil {
		masses := fmt.Sprintf("%g g", *y.TotalG)
		if y.DryG != nil && y.WaterG != nil {
			masses += fmt.Sprintf(": %g dry, %g water", *y.DryG, *y.WaterG)
		}
		l.Lines = append(l.Lines, masses)
	}
	var lying []snapshot.Clutch
	for _, c := range x.Clutches {
		if len(page.Waiting(c)) > 0 {
			lying = append(lying, c)
		}
	}
	for _, c := range lying {
		who := strings.TrimSpace(words.OrEmpty(c.Dam) + " " + c.Clutch)
		for _, e := range c.Eggs {
			if slot := words.OrEmpty(e.Slot); slot != "" && (e.Fate == "waiting" || e.Fate == "pipped") {
				who += " " + slot
			}
		}
		laid := s.Reader.ShortDays(c.Laid.Earliest, c.Laid.Latest)
		if len(lying) == 1 {
			l.Lines = append(l.Lines, who, "laid "+laid)
		} else {
			l.Lines = append(l.Lines, who+" "+laid)
		}
	}
	return l
}

// picture is one label as a picture for a label printer.
func (s Pages) ServePicture(w http.ResponseWriter, r *http.Request) {
	n, b := s.Source.Now(), s.Book.Book()
	if n == nil || b == nil {
		http.Error(w, "The station is still opening its files; ask again in a minute.", http.StatusServiceUnavailable)
		return
	}
	if s.LabelURL == "" {
		http.Error(w, noAddress, http.StatusConflict)
		return
	}
	dpi := label.Resolutions()[0]
	if q := r.URL.Query().Get("dpi"); q != "" {
		var err error
		if dpi, err = strconv.Atoi(q); err != nil || !slices.Contains(label.Resolutions(), dpi) {
			http.Error(w, fmt.Sprintf("dpi is %q; choose %s", q, label.ResolutionList()), http.StatusBadRequest)
			return
		}
	}
	name := r.PathValue("box")
	i := slices.IndexFunc(n.Boxes, func(x snapshot.Box) bool { return x.Box == name })
	if i < 0 {
		http.Error(w, noSuchBox(n, name), http.StatusNotFound)
		return
	}
	var picture bytes.Buffer
	if err := s.Of(n.Boxes[i], b).PNG(&picture, dpi); err != nil {
		http.Error(w, words.Capital(err.Error()), http.StatusUnprocessableEntity)
		return
	}
	w.Header().Set("Content-Type", "image/png")
	_, _ = w.Write(picture.Bytes()) // a client that went away needs no answer
}

func noSuchBox(n *snapshot.Snapshot, name string) string {
	var names []string
	for _, x := range n.Boxes {
		names = append(names, x.Box)
	}
	if len(names) == 0 {
		return fmt.Sprintf("No box %q is in use, nor any other.", name)
	}
	return fmt.Sprintf("No box %q is in use. In use: %s.", name, strings.Join(names, ", "))
}

type labelView struct {
	Box, Src, Words string
	Fault           string
}

type labelsPage struct {
	page.Frame
	Fault  string
	Sheet  bool // many on a sheet of paper, instead of one a page
	One    string
	Many   string
	Labels []labelView
}

// page is a page to print: a label a page for a label printer, or a sheet of
// them to cut.
func (s Pages) ServePage(w http.ResponseWriter, r *http.Request) {
	n, b := s.Open(w, r)
	if b == nil {
		return
	}
	q := r.URL.Query()
	v := labelsPage{Frame: s.Frame(n, "Labels").In("more"), Sheet: q.Get("sheet") == "a4"}
	v.Style = "label"
	if v.Sheet {
		v.Style = "label-sheet"
	}
	wanted := q["box"]
	v.One = "/labels?" + url.Values{"box": wanted}.Encode()
	v.Many = "/labels?" + url.Values{"box": wanted, "sheet": {"a4"}}.Encode()
	if s.LabelURL == "" {
		v.Fault = noAddress
		s.Render(w, http.StatusOK, "labels", v)
		return
	}
	for _, name := range wanted {
		if !slices.ContainsFunc(n.Boxes, func(x snapshot.Box) bool { return x.Box == name }) {
			s.Message(w, r, http.StatusNotFound, "No such box", noSuchBox(n, name))
			return
		}
	}
	for _, x := range n.Boxes {
		if len(wanted) > 0 && !slices.Contains(wanted, x.Box) {
			continue
		}
		l := s.Of(x, b)
		one := labelView{Box: x.Box, Src: page.BoxHref(x.Box) + "/label.png?dpi=600", Words: strings.Join(append([]string{"Label of box " + x.Box}, l.Lines...), ", ")}
		if _, err := l.Draw(label.Resolutions()[0]); err != nil {
			one.Fault = words.Capital(err.Error()) + "."
		}
		v.Labels = append(v.Labels, one)
	}
	s.Render(w, http.StatusOK, "labels", v)
}
