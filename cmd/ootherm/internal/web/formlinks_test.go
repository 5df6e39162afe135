package web

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/thermal/book"
)

// emptyDesk is a station whose book is empty.
func emptyDesk(t *testing.T) (*desk, http.Handler) {
	t.Helper()
	d, n := &desk{}, season()
	n.Boxes, n.Dams, n.Unplaced = nil, nil, nil
	o := options(n)
	o.Writer, o.Book, o.Profiles = d, d, []string{"crested gecko", "gargoyle gecko"}
	return d, handler(t, o)
}

// leads tests that a page has links to all the addresses.
func leads(t *testing.T, w *httptest.ResponseRecorder, all ...string) {
	t.Helper()
	links := elementsOf(t, w).links()
	for _, href := range all {
		if links[href] == "" {
			t.Errorf("the page does not lead to %s: %v", href, links)
		}
	}
}

// From an empty book, each form that lacks something leads to the form that adds it and
// comes back with it filled in, until eggs are noted.
func TestEmptyFormsLeadOn(t *testing.T) {
	d, h := emptyDesk(t)
	leads(t, get(h, "/"), "/note/dam", "/note/box")
	found := "/note/found"
	for _, c := range []struct {
		kind string
		set  url.Values
	}{
		{"dam", url.Values{"name": {"Olive"}, "profile": {"crested gecko"}}},
		{"box", url.Values{"newbox": {"B 1"}, "zone": {"room"}}},
	} {
		leads(t, get(h, found), "/note/"+c.kind+"?then=found")
		f := filled(t, h, "/note/"+c.kind+"?then=found")
		for k, v := range c.set {
			f[k] = v
		}
		w := post(h, "/note/"+c.kind, form, f.Encode())
		if w.Code != http.StatusSeeOther {
			t.Fatalf("%s: status %d: %s", c.kind, w.Code, w.Body)
		}
		if found = w.Header().Get("Location"); !strings.HasPrefix(found, "/note/found?noted&") {
			t.Fatalf("%s leads to %s", c.kind, found)
		}
		if !elementsOf(t, get(h, found)).has("p", "class=done") {
			t.Errorf("%s does not say that it was noted", found)
		}
	}
	f := filled(t, h, found)
	f.Set("dam", "Olive")
	if f.Get("box") != "B 1" {
		t.Errorf("the new box is not filled in: %v", f)
	}
	if w := post(h, "/note/found", form, f.Encode()); w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/note?noted" {
		t.Errorf("status %d, to %s: %s", w.Code, w.Header().Get("Location"), w.Body)
	}
	if c := d.b.Clutches(); len(c) != 1 || c[0].Profile != "crested gecko" || c[0].Eggs[0].Box != "B 1" {
		t.Errorf("clutches %+v", c)
	}
	leads(t, get(h, "/"), "/note/found")
}

// A form leads to a form of the book and nowhere else.
func TestThenIsAForm(t *testing.T) {
	_, h := emptyDesk(t)
	for _, to := range []string{"//elsewhere.example", "../act", "fond", ""} {
		f := filled(t, h, "/note/dam?"+url.Values{"then": {to}}.Encode())
		f.Set("name", "Olive"+strings.TrimLeft(to, "./"))
		f.Set("profile", "crested gecko")
		f.Set("then", to)
		if w := post(h, "/note/dam", form, f.Encode()); w.Header().Get("Location") != "/note?noted" {
			t.Errorf("%q leads to %q", to, w.Header().Get("Location"))
		}
	}
}

// A new dam has a kind: the form chooses none of several beforehand, and is refused without.
func TestADamHasAKind(t *testing.T) {
	d, h := emptyDesk(t)
	f := filled(t, h, "/note/dam")
	f.Set("name", "Olive")
	w := post(h, "/note/dam", form, f.Encode())
	if w.Code != http.StatusUnprocessableEntity || d.b.Len() > 0 {
		t.Fatalf("status %d, %d entries", w.Code, d.b.Len())
	}
	page := elementsOf(t, w)
	if page.sent().Get("name") != "Olive" || page.sent().Has("profile") || !page.has("input", "value=gargoyle gecko", "required") || !page.has("div", "role=alert") {
		t.Errorf("the form that came back: %s", w.Body)
	}
}

// Where a window would stand is what it lacks, and a link to the form or the topic that
// mends it. Who may not write in the book sees no link to a form.
func TestWhatAWindowLacks(t *testing.T) {
	n := season()
	c := &n.Boxes[5].Clutches[0]
	c.Dam, c.Profile, c.Missing = ptr("Olive"), nil, []string{snapshot.MissingKind, snapshot.MissingReading}
	d := &desk{}
	o := options(n)
	o.Writer, o.Book = d, d
	const form, topic = "/note/amended?whose=Olive", "/help/no-window"
	missing := func(o page.Options, page string) (all elements) {
		for _, p := range elementsOf(t, get(handler(t, o), page)).find("p", "class=missing") {
			all = append(all, p.inside...)
		}
		return all
	}
	for _, page := range []string{"/", "/c/Y2", "/b/B6"} {
		if links := missing(o, page).links(); links[form] == "" || links[topic] == "" {
			t.Errorf("%s: what is missing leads to %v", page, links)
		}
	}
	if links := missing(options(n), "/c/Y2").links(); links[form] != "" || links[topic] == "" {
		t.Errorf("without a book, what is missing leads to %v", links)
	}
}

// A dam's kind and name are corrected by a form, and the correction can be undone.
func TestADamIsCorrected(t *testing.T) {
	d, h := bookDesk(t, twoEggs, `{"key":"t","at":"2026-04-01T08:00:00Z","entry":"dam","dam":"Tansy"}`)
	f := filled(t, h, "/note/amended?whose=Tansy")
	if f.Get("whose") != "Tansy" || f.Get("profile") != "" {
		t.Errorf("opened with %v", f)
	}
	f.Set("profile", "crested gecko")
	f.Set("called", "Tansie")
	if w := post(h, "/note/amended", form, f.Encode()); w.Code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", w.Code, w.Body)
	}
	if x, _ := d.b.Dam("Tansy"); x.Profile != "crested gecko" || x.Name != "Tansie" {
		t.Errorf("she is %+v", x)
	}
	if w := post(h, "/note", form, undoOf(t, h, f.Get("key")).Encode()); w.Code != http.StatusSeeOther {
		t.Errorf("undo: status %d: %s", w.Code, w.Body)
	}
	if x, _ := d.b.Dam("Tansy"); x.Profile != "" || x.Name != "Tansy" {
		t.Errorf("undone, she is %+v", x)
	}
	f = filled(t, h, "/note/clutch-amended")
	f.Set("laying", "S1")
	f.Set("profile", "crested gecko")
	if w := post(h, "/note/clutch-amended", form, f.Encode()); w.Code != http.StatusSeeOther {
		t.Errorf("a clutch: status %d: %s", w.Code, w.Body)
	}
	var last book.Entry
	for e := range d.b.Arrived() {
		last = e
	}
	if last.Kind != book.KindAmended || last.Clutch != "S1" {
		t.Errorf("the last entry is %+v", last)
	}
}
