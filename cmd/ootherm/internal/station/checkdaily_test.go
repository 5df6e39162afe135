package station_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// state is what a clutch asks of a person; empty: nothing is known.
func (b *bench) state(id string) string {
	b.t.Helper()
	b.Refresh()
	if s := b.clutch(id).State; s != nil {
		return *s
	}
	return ""
}

// A clutch that was once to be checked daily stays so when other hatches put its window off,
// over a restart and in another box, and the person is told once. A corrected entry about it
// releases it, one about another clutch does not.
func TestCheckDailyStays(t *testing.T) {
	b := hourly(t, quick())
	b.live(0, 5*24, steady(23.3))
	b.note(dam("Quill", "quick") + layEggs(5*24-1, "Q1", "Quill", "quick", 2))
	hour := 5 * 24
	for ; b.state("Q1") != snapshot.StateCheckDaily; hour += 12 {
		if hour > 25*24 {
			t.Fatalf("after 20 days the state is %q", b.state("Q1"))
		}
		b.live(hour, hour+12, steady(23.3))
	}
	b.live(hour, hour+1, steady(23.3))
	hour++
	at := began.Add(time.Duration(hour-1) * time.Hour)
	for i := range 6 { // they took a quarter longer
		name := fmt.Sprint("P", i)
		b.note(layEggs(0, name, "Quill", "quick", 1) + hatched(hour-1, name, 1))
	}
	if got := b.state("Q1"); got != snapshot.StateCheckDaily {
		t.Errorf("after other hatches it is %q", got)
	}
	if w := b.clutch("Q1").Window; !w.CheckFrom.After(at) {
		t.Fatalf("check-from is %v at %v: the hatches did not put it off, so nothing is held", w.CheckFrom, at)
	}
	b.start(at)
	if got := b.state("Q1"); got != snapshot.StateCheckDaily {
		t.Errorf("after a restart it is %q", got)
	}
	b.note(fmt.Sprintf(`{"key":"nb","at":%[1]q,"entry":"box","box":"N","zone":"room"}
{"key":"n1","at":%[1]q,"entry":"moved","egg":"Q1-1","box":"N","slot":"1"}
{"key":"n2","at":%[1]q,"entry":"moved","egg":"Q1-2","box":"N","slot":"2"}
`, at.Format(time.RFC3339)))
	if got := b.state("Q1"); got != snapshot.StateCheckDaily {
		t.Errorf("in another box it is %q", got)
	}
	if got := b.raised("window-opening"); len(got) > 2 { // the new box has an alarm of its own
		t.Errorf("it was told at %v", got)
	}
	if got := subjects(b.waiting()); !slices.ContainsFunc(got, func(s string) bool { return strings.HasSuffix(s, "check daily from today") }) {
		t.Errorf("no message says to check daily: %q", got)
	}
	b.note(fmt.Sprintf(`{"key":"r","at":%[1]q,"entry":"note","about":"P0","text":"a remark"}
{"key":"vr","at":%[1]q,"entry":"void","void":"r"}
`, at.Format(time.RFC3339)))
	if got := b.state("Q1"); got != snapshot.StateCheckDaily {
		t.Errorf("after a corrected entry about another clutch it is %q", got)
	}
	b.note(fmt.Sprintf(`{"key":"v","at":%q,"entry":"void","void":"n2"}`, at.Format(time.RFC3339)))
	if got := b.state("Q1"); got != snapshot.StateIncubating {
		t.Errorf("after a corrected entry it is %q", got)
	}
}

// An egg that hatched makes the others hatching at once, and the message names them.
func TestAMateHasHatched(t *testing.T) {
	b := hourly(t, quick())
	b.note(dam("Quill", "quick") + layEggs(0, "Q1", "Quill", "quick", 2))
	b.live(0, 12*24, steady(23.3))
	if got := b.state("Q1"); got != snapshot.StateIncubating {
		t.Fatalf("after 12 of 20 days it is %q", got)
	}
	b.note(hatched(12*24-1, "Q1", 1))
	b.live(12*24, 12*24+2, steady(23.3))
	if got := b.state("Q1"); got != snapshot.StateHatching {
		t.Errorf("a mate hatched and it is %q", got)
	}
	if got := subjects(b.waiting()); !slices.ContainsFunc(got, func(s string) bool { return strings.HasSuffix(s, "Q1-1 hatched: look at Q1-2 now") }) {
		t.Errorf("no message says to look at Q1-2: %q", got)
	}
	if n := len(b.raised("window-opening")); n != 0 {
		t.Errorf("beside the hatch, check daily was told %d times", n)
	}
}
