package journal_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/alertlog"
	"example.com/ootherm/alert/episode"
	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/cmd/ootherm/internal/station/journal"
)

var (
	began   = time.Date(2026, 4, 2, 19, 0, 0, 0, time.UTC)
	errFull = errors.New("no space left")
	cold    = alert.Key{Kind: alert.TemperatureLow, Priority: alert.Warning, Zone: "room"}
)

// card is a store and an alarm log that take nothing while it is full.
type card struct {
	journal.Store
	full bool
	kept []alert.Event
}

func (c *card) Commit(ctx context.Context, a []alert.Alarm, m []alert.Message) error {
	if c.full {
		return errFull
	}
	return c.Store.Commit(ctx, a, m)
}

func (c *card) Keep(events []alert.Event) error {
	if c.full {
		return errFull
	}
	c.kept = append(c.kept, events...)
	return nil
}

func (c *card) Between(time.Time, time.Time) ([]alertlog.Occurrence, error) { return nil, nil }

// bench is a journal over a card, with one alarm.
type bench struct {
	*journal.Journal
	t      *testing.T
	card   *card
	panel  *panel.Panel
	now    time.Time
	urgent []string
}

func newBench(t *testing.T, visit bool) *bench {
	b := &bench{t: t, card: &card{Store: outbox.NewMemory()}, now: began}
	urgent := func(_ []alert.Alarm, m []alert.Message) {
		for _, x := range m {
			b.urgent = append(b.urgent, x.ID)
		}
	}
	var err error
	b.Journal, b.panel, err = journal.Open(t.Context(), journal.Options{Store: b.card, AlarmLog: b.card, Urgent: urgent, Visit: visit}, time.Minute, began)
	if err != nil {
		t.Fatal(err)
	}
	b.Compose = func(events []episode.Told) (all []alert.Message) {
		for _, e := range events {
			all = append(all, alert.Message{ID: b.panel.NextMessage(e.Key), Alarm: e.Key.String(), At: e.At, Sender: "mail"})
		}
		return all
	}
	b.panel.Want(map[alert.Key]alert.Limit{cold: {At: 20}}, panel.Places{Zones: []string{"room"}}, "")
	return b
}

// step shows the alarm a value a minute later, and commits.
func (b *bench) step(celsius float64) error {
	b.now = b.now.Add(time.Minute)
	b.panel.Step(b.now)
	b.panel.Show(cold, panel.Reading{Value: celsius, Known: true})
	return b.Commit(b.t.Context())
}

func (b *bench) waiting() int {
	n, _, _ := b.Waiting(b.t.Context())
	return n
}

// What a full card does not take is handed on once, and is stored when there is room.
func TestFullCard(t *testing.T) {
	b := newBench(t, false)
	b.card.full = true
	for range 3 {
		if err := b.step(15); !errors.Is(err, errFull) || !b.Failing() {
			t.Fatalf("error %v, failing %v", err, b.Failing())
		}
	}
	if len(b.urgent) != 1 || b.TakePosted() || b.waiting() != 0 {
		t.Errorf("handed on %q, %d waiting; want one message, handed on once", b.urgent, b.waiting())
	}
	b.card.full = false
	if err := b.step(15); err != nil || b.Failing() || b.waiting() != 1 || !b.TakePosted() || b.TakePosted() {
		t.Errorf("error %v, failing %v, %d waiting; want one message, told once", err, b.Failing(), b.waiting())
	}
	if len(b.card.kept) == 0 {
		t.Error("the alarm log has no event")
	}
}

// Of the events that the alarm log does not take, the last thousand wait.
func TestUnkeptEvents(t *testing.T) {
	b := newBench(t, false)
	b.card.full = true
	for i := range 600 { // an alarm that begins and ends each time
		_ = b.step(15)
		_ = b.step(25)
		if err := b.panel.Act(panel.Action{Do: "acknowledge", Alarm: cold.String()}); err != nil && i == 0 {
			t.Fatal(err)
		}
	}
	last := b.now
	b.card.full = false
	if err := b.step(25); err != nil {
		t.Fatal(err)
	}
	n := len(b.card.kept)
	if n < 1000 || n > 1002 || b.card.kept[n-1].At.Before(last) {
		t.Errorf("%d events, the last of %v; want about a thousand, up to %v", n, b.card.kept[n-1].At, last)
	}
}

// A message that still waits to be stored is not taken twice; one for each sender is.
func TestAdd(t *testing.T) {
	b := newBench(t, false)
	for _, sender := range []string{"mail", "mail", "hook"} {
		b.Add(alert.Message{ID: "copy/1", Sender: sender, At: began})
	}
	if err := b.Commit(t.Context()); err != nil || b.waiting() != 2 {
		t.Errorf("error %v, %d messages, want 2", err, b.waiting())
	}
}

// A visit stores of the alarms what a person did, and makes no message.
func TestVisit(t *testing.T) {
	b := newBench(t, true)
	if err := b.step(15); err != nil {
		t.Fatal(err)
	}
	if n := b.waiting(); n != 0 || len(b.card.kept) != 0 {
		t.Errorf("%d messages and the events %v", n, b.card.kept)
	}
	if err := b.panel.Act(panel.Action{Do: "acknowledge", Alarm: cold.String(), Who: "Ann"}); err != nil {
		t.Fatal(err)
	}
	if err := b.Commit(t.Context()); err != nil {
		t.Fatal(err)
	}
	stored, _, err := b.card.Load(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if keys := fmt.Sprint(stored); len(stored) != 1 || !slices.ContainsFunc(b.card.kept, func(e alert.Event) bool { return e.To == alert.Acknowledged }) {
		t.Errorf("stored %s, events %v; want the acknowledged alarm", keys, b.card.kept)
	}
}
