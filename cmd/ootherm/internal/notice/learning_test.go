package notice_test

import (
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/notice"
)

// The message of a limit that is passed says until when there is no early warning, in a zone
// where nothing is learned yet, and in no other.
func TestLearningIsSaid(t *testing.T) {
	f := house()
	f.Zones[0].LearningUntil = noon.Add(140 * time.Minute)
	const want = "No early warning came: the station learns this zone until 14:20."
	for _, x := range []struct {
		event alert.Event
		says  bool
	}{{raised(tooCold, 21, 22), true}, {raised(tooColdEggs, 19, 20), true}, {raised(airSilent, 2400, 600), false}, {raised(tooDry, 0.4, 0.6), false}} {
		if got := notice.Compose(alone([]alert.Event{x.event}), f, reader)[0].Body; strings.Contains(got, want) != x.says {
			t.Errorf("%s:\n%s", x.event.Key, got)
		}
	}
	if got := notice.Compose(alone([]alert.Event{raised(tooCold, 21, 22)}), house(), reader)[0].Body; strings.Contains(got, "early warning") {
		t.Errorf("where it has learned:\n%s", got)
	}
}
