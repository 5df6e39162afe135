package alerttest

import (
	"context"
	"fmt"
	"testing"
	"time"

	"example.com/ootherm/alert"
)

// journalStart is when the alarms and messages of the test begin.
var journalStart = time.Date(2026, 4, 2, 19, 0, 0, 0, time.UTC)

// storedMessage is a message so many minutes after the start.
func storedMessage(id, sender string, minutes int) alert.Message {
	return alert.Message{ID: id, Alarm: "late.notice/room", At: journalStart.Add(time.Duration(minutes) * time.Minute),
		Priority: alert.Notice, Subject: "s", Body: "b", Sender: sender}
}

// storedAlarm is an alarm of a zone that is too warm from 25 on.
func storedAlarm(zone string, v float64) alert.Alarm {
	a := alert.New(alert.Key{Kind: alert.TemperatureHigh, Priority: alert.Warning, Zone: zone}, alert.Limit{High: true, At: 25})
	a, _ = a.Observe(journalStart, v, true)
	return a
}

// wantStored compares what a store holds, an alarm and a message after another.
func wantStored(t *testing.T, j alert.Journal, alarms, messages string) {
	t.Helper()
	as, ms, err := j.Load(context.Background())
	noError(t, err)
	gotA, gotM := "", ""
	for _, a := range as {
		gotA += fmt.Sprintf("%s %s %v; ", a.Key, a.State, a.Value)
	}
	for _, m := range ms {
		gotM += fmt.Sprintf("%s %s %d", m.ID, m.Sender, m.Attempts)
		if m.Refused {
			gotM += " refused"
		}
		if m.LastErr != "" {
			gotM += " " + m.LastErr
		}
		if !m.Next.IsZero() {
			gotM += " " + m.Next.Format("15:04")
		}
		gotM += "; "
	}
	if gotA != alarms {
		t.Errorf("alarms %q, want %q", gotA, alarms)
	}
	if gotM != messages {
		t.Errorf("messages %q, want %q", gotM, messages)
	}
}

func noError(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// Journal checks a store against the contract of [alert.Journal]. Open gives a
// store of the same contents each time it is called within one test; notWaiting
// tells the error for a message that does not wait, reuse that of an identity
// given twice.
func Journal(t *testing.T, fresh func(t *testing.T) (open func() alert.Journal), notWaiting, reuse func(error) bool) {
	ctx := context.Background()
	at := journalStart
	message, alarm, want, ok := storedMessage, storedAlarm, wantStored, noError

	t.Run("an empty one", func(t *testing.T) {
		want(t, fresh(t)(), "", "")
	})
	t.Run("what was committed comes back", func(t *testing.T) {
		open := fresh(t)
		ok(t, open().Commit(ctx, []alert.Alarm{alarm("room", 26), alarm("a", 20)},
			[]alert.Message{message("x/2", "mail", 5), message("x/1", "mail", 1), message("x/2", "hook", 5)}[1:]))
		want(t, open(), "temperature-high.warning/a normal 20; temperature-high.warning/room active 26; ",
			"x/1 mail 0; x/2 hook 0; ")
		ok(t, open().Commit(ctx, []alert.Alarm{alarm("a", 27)}, nil))
		want(t, open(), "temperature-high.warning/a active 27; temperature-high.warning/room active 26; ",
			"x/1 mail 0; x/2 hook 0; ")
	})
	t.Run("a forgotten alarm is gone, and counts again; what waits is delivered", func(t *testing.T) {
		open := fresh(t)
		key := alarm("a", 20).Key.String()
		ok(t, open().Commit(ctx, []alert.Alarm{alarm("room", 26), alarm("a", 20)},
			[]alert.Message{message(key+"/7", "mail", 5), message(key+"b/7", "mail", 6)}))
		ok(t, open().Forget(ctx, []string{key, "late.notice/never"}))
		want(t, open(), "temperature-high.warning/room active 26; ", key+"/7 mail 0; "+key+"b/7 mail 0; ")
		ok(t, open().Commit(ctx, nil, []alert.Message{message(key+"/1", "mail", 9)}))
		if err := open().Commit(ctx, nil, []alert.Message{message(key+"b/1", "mail", 9)}); !reuse(err) {
			t.Errorf("another alarm's count was forgotten too: %v", err)
		}
	})
	t.Run("messages come oldest first", func(t *testing.T) {
		open := fresh(t)
		ok(t, open().Commit(ctx, nil, []alert.Message{message("b/1", "mail", 9), message("a/1", "mail", 3), message("c/1", "mail", 1)}))
		want(t, open(), "", "c/1 mail 0; a/1 mail 0; b/1 mail 0; ")
	})
	t.Run("a message committed twice is one", func(t *testing.T) {
		open := fresh(t)
		for range 2 {
			ok(t, open().Commit(ctx, nil, []alert.Message{message("x/1", "mail", 1)}))
		}
		want(t, open(), "", "x/1 mail 0; ")
		ok(t, open().Done(ctx, "x/1", alert.Outcome{Sender: "mail", Result: alert.Delivered, At: at}))
		ok(t, open().Commit(ctx, nil, []alert.Message{message("x/1", "mail", 1)}))
		want(t, open(), "", "")
	})
	t.Run("an identity used for another message is refused, and all with it", func(t *testing.T) {
		open := fresh(t)
		ok(t, open().Commit(ctx, nil, []alert.Message{message("x/1", "mail", 1)}))
		ok(t, open().Done(ctx, "x/1", alert.Outcome{Result: alert.Delivered, At: at}))
		err := open().Commit(ctx, []alert.Alarm{alarm("room", 26)}, []alert.Message{message("y/1", "mail", 7), message("x/1", "mail", 7)})
		if !reuse(err) {
			t.Errorf("x/1 for a second message: %v", err)
		}
		want(t, open(), "", "")
		ok(t, open().Commit(ctx, nil, []alert.Message{message("y/1", "mail", 7), message("x/2", "mail", 7)}))
		want(t, open(), "", "x/2 mail 0; y/1 mail 0; ")
	})
	t.Run("outcomes", func(t *testing.T) {
		open := fresh(t)
		ok(t, open().Commit(ctx, nil, []alert.Message{message("x/1", "mail", 1), message("x/1", "hook", 1), message("x/11", "mail", 2)}))
		ok(t, open().Done(ctx, "x/1", alert.Outcome{Sender: "mail", Result: alert.Retry, At: at, Next: at.Add(time.Hour), Err: "busy"}))
		want(t, open(), "", "x/1 hook 0; x/1 mail 1 busy 20:00; x/11 mail 0; ")
		ok(t, open().Done(ctx, "x/1", alert.Outcome{Sender: "mail", Result: alert.Refused, At: at, Err: "no such box"}))
		want(t, open(), "", "x/1 hook 0; x/1 mail 2 refused no such box 20:00; x/11 mail 0; ")
		ok(t, open().Done(ctx, "x/1", alert.Outcome{Sender: "mail", Result: alert.Retry, At: at, Next: at}))
		want(t, open(), "", "x/1 hook 0; x/1 mail 0 no such box 19:00; x/11 mail 0; ")
		ok(t, open().Done(ctx, "x/1", alert.Outcome{Sender: "hook", Result: alert.Delivered, At: at}))
		want(t, open(), "", "x/1 mail 0 no such box 19:00; x/11 mail 0; ")
		if err := open().Done(ctx, "x/1", alert.Outcome{Sender: "hook", Result: alert.Delivered, At: at}); !notWaiting(err) {
			t.Errorf("delivered a second time: %v", err)
		}
		if err := open().Done(ctx, "x/2", alert.Outcome{Result: alert.Dropped, At: at}); !notWaiting(err) {
			t.Errorf("dropped without ever having been: %v", err)
		}
		if err := open().Done(ctx, "x/1", alert.Outcome{Result: "lost", At: at}); err == nil || notWaiting(err) {
			t.Errorf("an outcome that is none: %v", err)
		}
		want(t, open(), "", "x/1 mail 0 no such box 19:00; x/11 mail 0; ")
	})
	t.Run("dropped at every sender", func(t *testing.T) {
		open := fresh(t)
		ok(t, open().Commit(ctx, nil, []alert.Message{message("x/1", "mail", 1), message("x/1", "hook", 1), message("x/11", "mail", 2)}))
		ok(t, open().Done(ctx, "x/1", alert.Outcome{Result: alert.Dropped, At: at}))
		want(t, open(), "", "x/11 mail 0; ")
	})
	t.Run("identities that are none", func(t *testing.T) {
		open := fresh(t)
		for _, id := range []string{"", "x", "/1", "x/", "x/one", "x/-1", "x\x00y/1"} {
			if err := open().Commit(ctx, []alert.Alarm{alarm("room", 26)}, []alert.Message{message(id, "mail", 1)}); err == nil {
				t.Errorf("%q was taken", id)
			}
		}
		want(t, open(), "", "")
	})
	t.Run("a context that has ended", func(t *testing.T) {
		j := fresh(t)()
		ended, cancel := context.WithCancel(ctx)
		cancel()
		if err := j.Commit(ended, []alert.Alarm{alarm("room", 26)}, nil); err == nil {
			t.Error("Commit went on")
		}
		if _, _, err := j.Load(ended); err == nil {
			t.Error("Load went on")
		}
		want(t, j, "", "")
	})
}
