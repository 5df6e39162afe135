package web

import "testing"

// A message's link opens one alarm and what can be done about it; to open it, as a
// mail scanner does, does nothing. One that is over is said to be.
func TestOneAlarmAsks(t *testing.T) {
	o, e := options(season()), &ear{}
	o.Writer = e
	h := handler(t, o)
	w := get(h, "/alarm?key=temperature-high.warning%2Froom")
	page := elementsOf(t, w)
	if cards := page.find("article"); w.Code != 200 || len(cards) != 1 || page.sent().Get("alarm") != "temperature-high.warning/room" || !page.has("button", "value=acknowledge") {
		t.Errorf("status %d, %d alarms, of %v", w.Code, len(cards), page.sent())
	}
	if len(e.acts) != 0 {
		t.Errorf("opening it did %+v", e.acts)
	}
	if page := get(h, "/alarm?key=late.notice%2Fbox:B1%2Fclutch:S1"); page.Code != 200 || elementsOf(t, page).has("article") || elementsOf(t, page).has("button") {
		t.Errorf("status %d, or an alarm that is over is shown as one that stands", page.Code)
	}
	o.Writer = nil
	if page := get(handler(t, o), "/alarm?key=temperature-high.warning%2Froom"); elementsOf(t, page).has("button") {
		t.Error("it asks where nothing can be written")
	}
}
