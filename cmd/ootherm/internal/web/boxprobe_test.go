package web

import (
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// A probe of a box that no zone lists has its readings on the pages of the box and of the probe.
func TestProbeThatNoZoneLists(t *testing.T) {
	n := season()
	b := &n.Boxes[0]
	b.Probe, b.Offset = ptr("inside"), 0
	for _, x := range []struct {
		measured *snapshot.Probe
		want     string
	}{
		{nil, "probe inside, no reading"},
		{&snapshot.Probe{Probe: "inside", Status: "ok", Celsius: ptr(21.0), AgeSeconds: ptr(4.0)}, "probe inside, 69.8"},
	} {
		b.Measured = x.measured
		if body := get(handler(t, options(n)), "/b/"+b.Box).Body.String(); !strings.Contains(body, x.want) {
			t.Errorf("the page of the box lacks %q", x.want)
		}
		w := get(handler(t, options(n)), "/p/inside")
		if known := w.Code == 200 && strings.Contains(w.Body.String(), "69.8"); known != (x.measured != nil) {
			t.Errorf("measured %v: the page of the probe: status %d", x.measured != nil, w.Code)
		}
	}
}
