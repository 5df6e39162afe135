//go:build tools

package web

import (
	"os"
	"os/exec"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
)

// parsed are the events as an independent parser reads them.
func parsed(t *testing.T, body string) string {
	t.Helper()
	const browser = "../../../../testdata/browser"
	if _, err := os.Stat(browser + "/node_modules/ical.js"); err != nil {
		t.Fatalf("%v; bash .ci/test installs it", err)
	}
	c := exec.Command("node", "calendar.mjs")
	c.Dir = browser
	c.Stdin = strings.NewReader(body)
	c.Stderr = os.Stderr
	out, err := c.Output()
	if err != nil {
		t.Fatal(err)
	}
	return string(out)
}

func TestCalendarThroughAnotherParser(t *testing.T) {
	n := season()
	soon := n.Boxes[0]
	soon.Box, soon.Medium = "B0", &snapshot.Medium{WeighNext: ptr(at.Add(2 * 24 * time.Hour))} // it dries fast
	n.Boxes = append(n.Boxes, soon)
	out := parsed(t, feed(t, func(o *page.Options) { o.Source = fixed{n} }))
	for _, want := range []string{
		"Hatch window: Sorrel S1|2026-06-12|2026-06-21",
		"14 days old: hatchling S1-1|2026-06-22|2026-06-23",
		"Weigh box B1|2026-06-13|2026-06-14", // as its weighing says
		"Weigh box B0|2026-06-11|2026-06-12", // in two days
		"Weigh box B2|2026-06-09|2026-06-10", // overdue: today
		"Lay box: look daily for Sorrel|2026-06-01|2026-06-19",
		"Lay box: look daily for Tansy|2026-06-17|2026-07-15",
		"Lay box: Lovage is overdue|2026-05-06|2026-06-10",
	} {
		if !slices.Contains(strings.Split(out, "\n"), want) {
			t.Errorf("no %q in\n%s", want, out)
		}
	}
	for _, not := range []string{"Hyssop|", "Weigh box B4"} {
		if strings.Contains(out, not) {
			t.Errorf("%q in\n%s", not, out)
		}
	}
}

// Names come back whole from folded lines, in whatever letters they are.
func TestCalendarNamesThroughAnotherParser(t *testing.T) {
	n := manyNames()
	out := parsed(t, feed(t, func(o *page.Options) { o.Source = fixed{n} }))
	for _, d := range n.Dams[len(n.Dams)-80:] {
		if !strings.Contains(out, "Lay box: look daily for "+d.Dam+"|") {
			t.Errorf("%s does not come back", d.Dam)
		}
	}
}
