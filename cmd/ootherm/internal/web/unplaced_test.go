package web

import (
	"net/http"
	"testing"

	"example.com/ootherm/thermal/book"
)

// The first page leads from a clutch that lies in no box to the form that puts its
// egg there, filled in but for the box and the slot.
func TestUnplacedLeadsToItsForm(t *testing.T) {
	d, h := bookDesk(t, `{"key":"c","at":"2026-06-08T08:00:00Z","entry":"clutch","clutch":"S3","dam":"Sorrel","eggs":2,"laid_after":"2026-06-07T19:00:00Z","laid_by":"2026-06-08T08:00:00Z"}`)
	if !elementsOf(t, get(h, "/")).has("a", "href=/note/placed?egg=S3-1") {
		t.Fatal("the first page has no link to the form")
	}
	v := filled(t, h, "/note/placed?egg=S3-1")
	v.Set("box", "B1")
	v.Set("slot", "a")
	w := post(h, "/note/placed", "application/x-www-form-urlencoded", v.Encode())
	e, _ := d.b.Egg("S3-1")
	if w.Code != http.StatusSeeOther || e.Box != "B1" || e.Slot != "a" || e.Fate != book.Waiting {
		t.Errorf("status %d, the egg is %+v: %s", w.Code, e, w.Body)
	}
}
