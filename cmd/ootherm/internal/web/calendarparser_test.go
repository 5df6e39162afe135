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
		"Look for hatchlings: Sorrel S1|2026-06-20|2026-06-21",
		"14 days old: hatchling S1-1|2026-06-22|2026-06-23",
		"Weigh box: B1|2026-06-13|2026-06-14", // as its weighing says
		"Weigh box: B0|2026-06-11|2026-06-12", // in two days
		"Weigh box: B2|2026-06-09|2026-06-10", // overdue: today
		"Look into the lay box: Sorrel|2026-06-09|2026-06-10",
		"Look into the lay box: Tansy|2026-07-14|2026-07-15",
		"Overdue to lay: Lovage|2026-06-09|2026-06-10",
		"Late: Lovage L1|2026-06-09|2026-06-10",
	} {
		if !slices.Contains(strings.Split(out, "\n"), want) {
			t.Errorf("no %q in\n%s", want, out)
		}
	}
	for _, not := range []string{"Hyssop|", "Weigh box: B4", "2026-06-08|"} {
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
		if !strings.Contains(out, "Look into the lay box: "+d.Dam+"|") {
			t.Errorf("%s does not come back", d.Dam)
		}
	}
}
