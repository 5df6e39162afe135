package web

import (
	"encoding/xml"
	"errors"
	"io"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
)

// element is an element of a page.
type element struct {
	name   string
	attrs  map[string]string
	text   string   // in it, with single spaces
	inside elements // in it, in the order of the page
}

// elements are elements in the order of a page.
type elements []*element

// elementsOf parses a page. An attribute without a value has its name as the value.
func elementsOf(t testing.TB, w *httptest.ResponseRecorder) elements {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(w.Body.String()))
	d.Strict, d.AutoClose, d.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	var all elements
	var open, first []int // the indices of the open elements, and of their texts
	var texts []string
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) && len(open) == 0 {
			return all
		}
		if err != nil {
			t.Fatalf("%v in\n%s", err, w.Body)
		}
		switch x := token.(type) {
		case xml.StartElement:
			e := &element{name: x.Name.Local, attrs: map[string]string{}}
			for _, a := range x.Attr {
				e.attrs[a.Name.Local] = a.Value
			}
			open, first = append(open, len(all)), append(first, len(texts))
			all = append(all, e)
		case xml.CharData:
			texts = append(texts, string(x))
		case xml.EndElement:
			last := len(open) - 1
			e := all[open[last]]
			e.inside = all[open[last]+1:]
			e.text = strings.Join(strings.Fields(strings.Join(texts[first[last]:], "")), " ")
			open, first = open[:last], first[:last]
		}
	}
}

// find gives the elements of a name, of any if it is empty, that have all the attributes,
// each given as name or as name=value.
func (all elements) find(name string, attrs ...string) (found elements) {
	for _, e := range all {
		if (name == "" || e.name == name) && e.hasAll(attrs) {
			found = append(found, e)
		}
	}
	return found
}

func (e *element) hasAll(attrs []string) bool {
	for _, a := range attrs {
		name, want, valued := strings.Cut(a, "=")
		if got, ok := e.attrs[name]; !ok || valued && got != want {
			return false
		}
	}
	return true
}

// has reports whether find finds an element.
func (all elements) has(name string, attrs ...string) bool { return len(all.find(name, attrs...)) > 0 }

// texts are the texts of the elements.
func (all elements) texts() (texts []string) {
	for _, e := range all {
		texts = append(texts, e.text)
	}
	return texts
}

// links are the texts of the links by their addresses.
func (all elements) links() map[string]string {
	links := map[string]string{}
	for _, a := range all.find("a", "href") {
		links[a.attrs["href"]] = a.text
	}
	return links
}

// sent is what a browser sends of these fields when they were not touched.
func (all elements) sent() url.Values {
	v := url.Values{}
	for _, e := range all.find("input") {
		kind := e.attrs["type"]
		if _, checked := e.attrs["checked"]; checked || kind != "radio" && kind != "checkbox" {
			v.Add(e.attrs["name"], e.attrs["value"])
		}
	}
	for _, e := range all.find("textarea") {
		v.Add(e.attrs["name"], e.text)
	}
	return v
}

// The parser of pages finds elements, attributes and texts, and takes no escaped markup for
// an element.
func TestElementsOfAPage(t *testing.T) {
	w := httptest.NewRecorder()
	w.WriteString(`<!doctype html><p class="x">a&nbsp;<b>&lt;i&gt;</b> <input name="n" value="&#34;1" required><input type="radio" name="r" value="1"><input type="radio" name="r" value="2" checked></p><a href="/?a&amp;b">c</a>`)
	all := elementsOf(t, w)
	p := all.find("p", "class=x")
	if len(p) != 1 || p[0].text != "a <i>" || len(p[0].inside) != 4 || all.has("i") || !all.has("input", "required") || all.has("input", "name=r", "required") {
		t.Errorf("%+v", p)
	}
	if v := all.sent().Encode(); v != "n=%221&r=2" {
		t.Errorf("sent %s", v)
	}
	if all.links()["/?a&b"] != "c" {
		t.Errorf("links %v", all.links())
	}
}
