package book_test

import (
	"reflect"

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
