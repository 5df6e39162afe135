package station_test

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/cmd/ootherm/internal/plan"
)

// A neighbour with after = "15m" is called when nobody has acknowledged a
// critical alarm by then, and not when somebody has, when it is over, or of a warning.
func TestTheNeighbourIsCalledWhenNobodyWakes(t *testing.T) {
	for name, c := range map[string]struct {
		do   func(b *bench, minute int) // each minute after the alarm
		cold float64
		want int
	}{
		"nobody wakes":               {func(*bench, int) {}, 19, 1},
		"seen in time":               {acknowledgedAt(14), 19, 0},
		"seen too late":              {acknowledgedAt(16), 19, 1},
		"a warning":                  {func(*bench, int) {}, 21, 0},
		"switched off for work":      {func(b *bench, m int) { actAt(b, m, 3, panel.Action{Do: "out-of-service", Zone: "room"}) }, 19, 0},
		"the station restarts twice": {func(b *bench, m int) { restartAt(b, m, 5); restartAt(b, m, 10) }, 19, 1},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				p := testPlan(t)
				p.Zones[0].Safe = &plan.Band{Low: ptr(20), Deadband: 0.28, OnDelay: 10 * time.Minute, OffDelay: 5 * time.Minute}
				p.Zones[0].Apart, p.Zones[0].Rate = 0, 0
				p.Senders = []plan.Sender{{Name: "mail"}, {Name: "neighbour", After: 15 * time.Minute}}
				b := newBench(t, p)
				mail, neighbour := &received{}, &received{}
				begun := time.Now()
				now := func() time.Time { return began.Add(time.Since(begun)) }
				courier := outbox.NewCourier(b.options.Journal.(*outbox.Memory), []outbox.Route{
					{Name: "mail", Sender: mail}, {Name: "neighbour", Sender: neighbour, After: 15 * time.Minute}}, now, func(outbox.Attempt) {})
				ctx, cancel := context.WithCancel(t.Context())
				done := make(chan struct{})
				go func() { courier.Run(ctx); close(done) }()
				raised := -1
				for minute := range 50 {
					b.observe(now(), map[string]float64{"air": c.cold, "dummy": c.cold, "warm": 27})
					if raised < 0 && len(b.raised("temperature-low")) > 0 {
						raised = minute
					}
					if raised >= 0 {
						c.do(b, minute-raised)
					}
					courier.Wake()
					<-time.After(time.Minute)
				}
				cancel()
				<-done
				if len(mail.all) == 0 {
					t.Error("the mail never came")
				}
				if len(neighbour.all) != c.want {
					t.Fatalf("the neighbour was called %d times, want %d: %q", len(neighbour.all), c.want, subjects(neighbour.all))
				}
				for i, m := range neighbour.all {
					if late := neighbour.at[i].Sub(begun) - m.At.Sub(began); m.Priority != alert.Critical || late < 15*time.Minute || late > 17*time.Minute {
						t.Errorf("%s was called %v after it", m.Priority, late)
					}
				}
			})
		})
	}
}

func acknowledgedAt(minute int) func(*bench, int) {
	return func(b *bench, m int) {
		actAt(b, m, minute, panel.Action{Do: "acknowledge", Alarm: "temperature-low.critical/room", Who: "Ann"})
	}
}

func actAt(b *bench, m, minute int, a panel.Action) {
	if m != minute {
		return
	}
	if err := b.Act(b.t.Context(), a); err != nil {
		b.t.Fatal(err)
	}
}

func restartAt(b *bench, m, minute int) {
	if m == minute {
		b.start(b.Now().At)
	}
}

// received keeps what came, and when.
type received struct {
	all []alert.Message
	at  []time.Time
}

func (r *received) Send(_ context.Context, m alert.Message) error {
	r.all, r.at = append(r.all, m), append(r.at, time.Now())
	return nil
}
