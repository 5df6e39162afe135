package book_test

import (
	"reflect"
	"strings"

	"example.com/ootherm/thermal/book"
)

// sameBook holds two books to the same answers.
func sameBook(t interface {
	Helper()
	Errorf(string, ...any)
}, a, b book.Book) {
	t.Helper()
	if !reflect.DeepEqual(a.Clutches(), b.Clutches()) {
		t.Errorf("clutches differ:\n%+v\n%+v", a.Clutches(), b.Clutches())
	}
	if !reflect.DeepEqual(a.Boxes(), b.Boxes()) {
		t.Errorf("boxes differ:\n%+v\n%+v", a.Boxes(), b.Boxes())
	}
	if !reflect.DeepEqual(a.Dams(), b.Dams()) {
		t.Errorf("dams differ:\n%+v\n%+v", a.Dams(), b.Dams())
	}
	if !reflect.DeepEqual(a.Notes(), b.Notes()) {
		t.Errorf("notes differ:\n%+v\n%+v", a.Notes(), b.Notes())
	}
}

// read folds JSON lines into a book. It returns the resulting book and the entries
// that are new in it.
func read(b book.Book, lines string) (book.Book, []book.Entry, error) {
	d, err := book.ReadDraft(strings.NewReader(lines))
	if err != nil {
		return book.Book{}, nil, err
	}
	p, err := b.Prepare(d)
	if err != nil {
		return book.Book{}, nil, err
	}
	return p.Stored(nil), p.Fresh(), nil
}
