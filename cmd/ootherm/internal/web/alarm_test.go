package web

import (
	"strings"
	"testing"
)

// A message's link opens one alarm and what can be done about it; to open it, as a
// mail scanner does, does nothing. One that is over is said to be.
func TestOneAlarmAsks(t *testing.T) {
	o, e := options(season()), &ear{}
	o.Writer = e
	h := handler(t, o)
	w := get(h, "/alarm?key=temperature-high.warning%2Froom")
	page := w.Body.String()
	for _, part := range []string{"room: too warm", "78.4", "I have seen it", `value="temperature-high.warning/room"`, "80.0"} {
		if w.Code != 200 || !strings.Contains(page, part) {
			t.Errorf("status %d, the page lacks %q", w.Code, part)
		}
	}
	if strings.Contains(page, "incubator: too dry") {
		t.Error("it shows another alarm too")
	}
	if len(e.acts) != 0 {
		t.Errorf("opening it did %+v", e.acts)
	}
	if page := get(h, "/alarm?key=late.notice%2Fbox:B1%2Fclutch:S1").Body.String(); !strings.Contains(page, "This alarm is over") || strings.Contains(page, "<button") {
		t.Error("of an alarm that is over it does not say so")
	}
	o.Writer = nil
	if page := get(handler(t, o), "/alarm?key=temperature-high.warning%2Froom").Body.String(); strings.Contains(page, "<button") {
		t.Error("it asks where nothing can be written")
	}
}
