package book_test

import (
	"fmt"
	"slices"
	"testing"

	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/booktest"
	"example.com/ootherm/thermal/book/husbandry"
)

// Books made from one book do not disturb each other: whatever list of it both
// go on with, each has its own.
func TestTwoFutures(t *testing.T) {
	const grow = base + `{"key":"h1","at":"2026-07-01T00:00:00Z","entry":"hatched","egg":"S1-1"}
{"key":"f1","at":"2026-04-03T00:00:00Z","entry":"clutch","clutch":"F1","dam":"Fern","eggs":8,"laid_after":"2026-04-01T00:00:00Z","laid_by":"2026-04-02T00:00:00Z"}
`
	var l booktest.Lines
	for e := 1; e <= 8; e++ {
		l.Add("2026-04-04", `"placed","egg":"F1-%d","box":"B2","slot":"%d"`, e, e)
	}
	for e := range 3 { // room for one more in slices that grow by doubling
		l.Add("2026-07-02", `"hatchling","egg":"S1-1","what":"fed"`)
		l.Add("2026-07-02", `"lost","egg":"F1-%d"`, e+1)
		l.Add("2026-07-02", `"weighed","box":"B1","total_g":10%d`, e)
		l.Add("2026-07-02", `"note","text":"note %d"`, e)
		l.Add("2026-07-02", `"pairing","dam":"Fern","sire":"Ash %d"`, e)
	}
	trunk := booktest.Read(t, grow+l.String())
	b, err := book.Fold(trunk)
	if err != nil {
		t.Fatal(err)
	}
	future := func(n int) []book.Entry {
		day := fmt.Sprintf("2026-07-0%d", n)
		f := booktest.LinesFrom(1000 * n)
		f.Add(day, `"hatchling","egg":"S1-1","what":"weighed","mass_g":%d`, n)
		f.Add(day, `"lost","egg":"F1-%d"`, n)
		f.Add(day, `"weighed","box":"B1","total_g":20%d`, n)
		f.Add(day, `"note","text":"future %d"`, n)
		f.Add(day, `"pairing","dam":"Fern","sire":"Oak %d"`, n)
		f.Add(day, `"clutch","clutch":"N%d","eggs":1,"laid_after":"2026-04-01T00:00:00Z","laid_by":"2026-04-02T00:00:00Z"`, n)
		return booktest.Read(t, f.String())
	}
	var futures []book.Book
	for n := 4; n <= 7; n++ {
		next, err := b.Note(future(n)...)
		if err != nil {
			t.Fatal(err)
		}
		futures = append(futures, next)
	}
	for i, got := range futures {
		want, err := book.Fold(slices.Concat(trunk, future(i+4)))
		if err != nil {
			t.Fatal(err)
		}
		sameBook(t, got, want)
	}
}

// Of two entries at one time the one with the lower seq comes first, and those
// without a seq last.
func TestFoldTakesSeqInOrder(t *testing.T) {
	es := booktest.Read(t, `{"key":"n1","at":"2026-04-01T00:00:00Z","entry":"note","text":"third"}
{"key":"n2","at":"2026-04-01T00:00:00Z","entry":"note","text":"second","seq":2}
{"key":"n3","at":"2026-04-01T00:00:00Z","entry":"note","text":"first","seq":1}
`)
	b, err := book.Fold(es)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, n := range b.Notes() {
		got = append(got, n.Text)
	}
	if !slices.Equal(got, []string{"first", "second", "third"}) {
		t.Errorf("notes in the order %v", got)
	}
}

// A box taken into use again has nothing of the use before.
func TestBoxUsedAgain(t *testing.T) {
	const used = base + `{"key":"w1","at":"2026-05-01T00:00:00Z","entry":"weighed","box":"B1","total_g":100}
{"key":"h1","at":"2026-07-01T00:00:00Z","entry":"hatched","egg":"S1-1"}
`
	const again = `{"key":"x3","at":"2026-07-02T00:00:00Z","entry":"box","box":"B1","zone":"room","total_g":110}
`
	b := booktest.Fold(t, used)
	if x, _ := b.Box("B1"); !slices.Equal(x.Done, []string{"S1-1"}) || len(x.Weighings) != 1 {
		t.Errorf("in its first use: %+v", x)
	}
	x, _ := booktest.Fold(t, used+again).Box("B1")
	if len(x.Done) != 0 || len(x.Weighings) != 0 || *x.TotalG != 110 {
		t.Errorf("set up again: %+v", x)
	}
	w, err := husbandry.WaterOf(booktest.Fold(t, used+again+`{"key":"w2","at":"2026-07-10T00:00:00Z","entry":"weighed","box":"B1","total_g":110}`), "B1", husbandry.Scale{EggG: 1, EggMostG: 2})
	if err != nil || w.Add != 0 || w.High != 0 {
		t.Errorf("the egg of its first use counts in its second: %+v, error %v", w, err)
	}
	const emptied = `{"key":"e1","at":"2026-07-02T00:00:00Z","entry":"emptied","box":"B1"}
`
	x, _ = booktest.Fold(t, used+emptied).Box("B1")
	if x.InUse || len(x.Done) != 0 || len(x.Weighings) != 0 {
		t.Errorf("emptied: %+v", x)
	}
	x, _ = booktest.Fold(t, used+emptied+`{"key":"m1","at":"2026-07-03T00:00:00Z","entry":"moved","box":"B1","zone":"incubator"}`).Box("B1")
	if !x.InUse || x.Zone != "incubator" || len(x.Stays) != 2 {
		t.Errorf("emptied and moved: %+v", x)
	}
}
