package notice_test

import (
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/notice"
)

// Every event of a message has its thread, its own first; the stem of a zone's side is the
// same for what comes, what is, and what is over.
func TestThreadsOfAMessage(t *testing.T) {
	f := house()
	f.Alarms[dry] = notice.Alarm{Zone: "room"}
	began := ago(40 * time.Minute)
	for _, x := range []struct {
		events []alert.Event
		want   []alert.Thread
	}{
		{[]alert.Event{raised(driftDown, 21, 20)}, []alert.Thread{{ID: "room/too-cold/20260402T112000Z", Alarm: "drift-down.warning/room", Zone: "room", Side: alert.TooCold, Began: began, Subject: "ROOM too cold", Priority: alert.Warning}}},
		{[]alert.Event{ended(tooColdEggs, 21, 20, 19)}, []alert.Thread{{ID: "room/too-cold/20260402T090000Z", Alarm: "temperature-low.critical/room", Zone: "room", Side: alert.TooCold, Began: ago(3 * time.Hour), Subject: "ROOM too cold", Priority: alert.Critical, Over: true}}},
		{[]alert.Event{raised(warmSilent, 2400, 600), raised(wallSilent, 2400, 600)}, []alert.Thread{
			{ID: "probe-silent.critical/incubator/probe:warm/20260402T112000Z", Alarm: "probe-silent.critical/incubator/probe:warm", Zone: "incubator", Began: began, Subject: "INCUBATOR WARM probe silent", Priority: alert.Critical},
			{ID: "probe-silent.warning/room/probe:wall/20260402T112000Z", Alarm: "probe-silent.warning/room/probe:wall", Zone: "room", Began: began, Subject: "ROOM WALL probe silent", Priority: alert.Warning},
		}},
		{[]alert.Event{raised(tooCold, 19, 22), raised(tooColdEggs, 19, 20)}, []alert.Thread{{ID: "room/too-cold/20260402T112000Z", Alarm: "temperature-low.critical/room", Zone: "room", Side: alert.TooCold, Began: began, Subject: "ROOM too cold", Priority: alert.Critical}}},
		{[]alert.Event{raised(dry, 1, 1)}, []alert.Thread{{ID: "drying.warning/box:B1/20260402T112000Z", Alarm: "drying.warning/box:B1", Zone: "room", Began: began, Subject: "BOX B1 drying out", Priority: alert.Warning}}},
	} {
		all := notice.Compose(alone(x.events), f, reader)
		if len(all) != 1 || len(all[0].Threads) != len(x.want) {
			t.Errorf("%s: %d messages", x.events[0].Key, len(all))
			continue
		}
		for i, want := range x.want {
			if got := all[0].Threads[i]; got != want {
				t.Errorf("got  %+v\nwant %+v", got, want)
			}
		}
	}
}
