package notes

import (
	"net/url"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/forms"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/thermal/book"
)

// Inline is a form within a page about a thing.
type Inline struct {
	View
	About string // the thing; forms about one thing open one at a time
	Draft string // under this name what was typed is kept
	ID    string // what the identifiers of its fields begin with
}

// Inlines makes the forms within a page.
type Inlines struct {
	Pages
	desk forms.Desk
	back string
}

// InlinesFor makes forms whose answer leads back to a page.
func (s Pages) InlinesFor(n *snapshot.Snapshot, b *book.Book, back string) Inlines {
	return Inlines{s, s.Desk(n, b, s.Clock()), back}
}

// Of is a form about a thing. What is given is answered already, and hidden. The title is the
// form's own where it is empty.
func (i Inlines) Of(kind, title, about string, given url.Values) Inline {
	f, _ := forms.Of(kind)
	name := kind
	if title != "" {
		name += " " + title
	} else {
		title = f.Title
	}
	f.Title = title
	v := Inline{View: View{Form: f, Key: NewKey(), Fresh: true, Hidden: map[string]string{"back": i.back}}, About: about, Draft: name + " " + about}
	v.ID = IDOf(v.Draft)
	_, v.Offset = i.desk.At.In(i.Place()).Zone()
	sent := i.desk.Opened(f)
	for k := range given {
		v.Hidden[k] = given.Get(k)
	}
	for k := range sent {
		if forms.Pinned(k) {
			v.Hidden[k] = sent.Get(k)
		}
	}
	for _, x := range f.Fields {
		if given.Has(x.Name) {
			continue
		}
		field := FieldOf(i.desk, x, sent)
		field.ID = v.ID + "-" + x.Name
		v.Fields = append(v.Fields, field)
	}
	v.By(ByStation, i.desk.At, i.Local(i.desk.At), i.Local(i.desk.At))
	return v
}

// IDOf is a name as an identifier in a page, which has no spaces.
func IDOf(name string) string { return strings.Join(strings.Fields(name), "-") }
