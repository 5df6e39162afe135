package book_test

import (
	"slices"
	"testing"
	"time"

	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/booktest"
)

// An amended kind is that of the clutches that the dam has already, and of none whose own
// kind was noted. Undone, it is as before.
func TestAmendedKind(t *testing.T) {
	const lines = base + `{"key":"c2","at":"2026-04-03T00:00:00Z","entry":"clutch","clutch":"S2","dam":"Sorrel","eggs":1,"laid_after":"2026-04-01T00:00:00Z","laid_by":"2026-04-02T00:00:00Z","profile":"gargoyle gecko"}
{"key":"c3","at":"2026-04-03T00:00:00Z","entry":"clutch","clutch":"S3","dam":["Sorrel","Fern"],"eggs":1,"laid_after":"2026-04-01T00:00:00Z","laid_by":"2026-04-02T00:00:00Z"}
`
	const amended = `{"key":"m","at":"2026-05-01T00:00:00Z","entry":"amended","dam":"Sorrel","profile":"leopard gecko","why":"a slip"}
`
	const later = `{"key":"n","at":"2026-05-02T00:00:00Z","entry":"amended","dam":"Sorrel","profile":"gargoyle gecko"}
{"key":"o","at":"2026-05-02T00:00:00Z","entry":"amended","clutch":"S2","profile":"crested gecko"}
`
	for _, c := range []struct {
		lines string
		kinds []string // of S1, S2 and S3
	}{
		{lines, []string{"crested gecko", "gargoyle gecko", ""}},
		{lines + amended, []string{"leopard gecko", "gargoyle gecko", ""}},
		{lines + amended + later, []string{"gargoyle gecko", "crested gecko", "gargoyle gecko"}},
		{lines + amended + `{"key":"v","at":"2026-05-03T00:00:00Z","entry":"void","void":"m"}`, []string{"crested gecko", "gargoyle gecko", ""}},
	} {
		b := booktest.Fold(t, c.lines)
		var got []string
		for _, id := range []string{"S1", "S2", "S3"} {
			x, _ := b.Clutch(id)
			got = append(got, x.Profile)
		}
		if !slices.Equal(got, c.kinds) {
			t.Errorf("with %d entries the kinds are %q, want %q", b.Len(), got, c.kinds)
		}
	}
}

// An amended name is the dam's in everything that the book tells of her, and she is found
// by either.
func TestAmendedName(t *testing.T) {
	b := booktest.Fold(t, base+`{"key":"m","at":"2026-05-01T00:00:00Z","entry":"amended","dam":"Sorrel","name":"Sorel"}
{"key":"o","at":"2026-05-02T00:00:00Z","entry":"looked","dam":"Sorrel","found":false}
{"key":"p","at":"2026-04-05T00:00:00Z","entry":"pairing","dam":"Sorel","sire":"Ash"}
{"key":"n","at":"2026-05-03T00:00:00Z","entry":"amended","dam":"Sorel","name":"Sorell"}
`)
	if c, _ := b.Clutch("S1"); !slices.Equal(c.Dams, []string{"Sorell"}) || c.Profile != "crested gecko" {
		t.Errorf("S1 is of %q, a %q", c.Dams, c.Profile)
	}
	if n := len(b.Dams()); n != 2 {
		t.Errorf("%d dams, want 2", n)
	}
	for _, name := range []string{"Sorrel", "Sorel", "Sorell"} {
		d, ok := b.Dam(name)
		if !ok || d.Name != "Sorell" || len(d.Looks) != 1 || len(d.Pairings) != 1 || !slices.Equal(d.Clutches, []string{"S1"}) {
			t.Errorf("by %s there is %+v, %t", name, d, ok)
		}
	}
}

// An amendment says what it amends.
func TestAmendedEntryIsChecked(t *testing.T) {
	at := time.Date(2026, 5, 1, 0, 0, 0, 0, time.UTC)
	for want, e := range map[string]book.Entry{
		"entry k: profile: is missing: give her kind, or her name as it should be": {Dam: book.Names{"Fern"}, Why: "x"},
		"entry k: dam: is missing: an amended entry needs it":                      {Profile: "crested gecko"},
		"entry k: profile: is missing: an amended entry needs it":                  {Clutch: "S1"},
		"entry k: name: does not belong in an amended entry: take it out":          {Clutch: "S1", Profile: "x", Name: "Moss"},
		"entry k: dam: is a list: make an entry for each":                          {Dam: book.Names{"Fern", "Sorrel"}, Profile: "x"},
	} {
		e.Key, e.At, e.Kind = "k", at, book.KindAmended
		if err := e.Check(); err == nil || err.Error() != want {
			t.Errorf("%+v: %v, want %s", e, err, want)
		}
	}
}
