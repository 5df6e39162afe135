package station_test

import (
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/demo"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/cmd/ootherm/internal/station"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/ledger"
)

// demoPlan is the plan of the demo's configuration.
func demoPlan(t *testing.T, season demo.Season) plan.Plan {
	t.Helper()
	c, err := config.Parse("demo", []byte(season.Config("127.0.0.1:0", t.TempDir())), probeconfig.Drivers())
	if err != nil {
		t.Fatal(err)
	}
	p, err := plan.FromConfig(c)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// The last thirty days of the invented season: one night without a heater, one
// power cut, and a drift at the end. Until ten days before these, entries are noted once a week
// and windows computed once in ten days: that makes no message of the last thirty.
func TestMessagesOfASeason(t *testing.T) {
	t.Parallel()
	end := time.Date(2026, 6, 10, 12, 0, 0, 0, time.UTC)
	season := demo.New(end)
	p := demoPlan(t, season)
	p.Every = demo.Every
	p.Senders = []plan.Sender{{Name: "mail"}}
	entries, err := season.Book()
	if err != nil {
		t.Fatal(err)
	}
	past := history.Memory(history.Options{})
	boot, err := past.Begin("one", season.Began(), 0, true)
	if err != nil {
		t.Fatal(err)
	}
	journal := outbox.NewMemory()
	o := station.Options{Plan: p, Stores: station.Stores{History: past, Ledger: ledger.Memory(), Journal: journal}, Boot: boot, ForecastEvery: 24 * time.Hour, PublishEvery: 24 * time.Hour}
	daily := end.Add(-40 * 24 * time.Hour)
	o.ForecastEvery *= 10
	s, err := station.New(t.Context(), o, season.Began())
	if err != nil {
		t.Fatal(err)
	}
	off := false
	for at := season.Began(); at.Before(end); at = season.Next(at) {
		if at.Equal(daily) {
			o.ForecastEvery /= 10
			if s, err = station.New(t.Context(), o, at); err != nil {
				t.Fatal(err)
			}
		}
		n := 0
		for n < len(entries) && !entries[n].At.After(at) {
			n++
		}
		evening := at.Hour() == 18 && at.Minute() < 5 && (at.After(daily) || at.Weekday() == time.Sunday)
		if n > 0 && evening { // each note has all windows computed again
			if _, err := s.Note(t.Context(), book.NewDraft(entries[:n]...)); err != nil {
				t.Fatal(err)
			}
			entries = entries[n:]
		}
		if at.Hour() == 8 && at.Minute() == 0 {
			for _, z := range p.Zones { // the morning's look at the page
				if err := s.Act(t.Context(), panel.Action{Do: "acknowledge", Zone: z.Name}); err != nil {
					t.Fatal(err)
				}
			}
		}
		var batch []sensor.Reading
		for _, name := range demo.Probes() {
			if x, on := season.Measure(name, at); on {
				batch = append(batch, sensor.Reading{Probe: name, Measurement: x, Stamp: sensor.Stamp{Boot: boot.Number, Uptime: at.Sub(season.Began())}})
			}
		}
		if len(batch) == 0 {
			off = true
			continue
		}
		if off { // the power is back, and the station starts
			off = false
			if s, err = station.New(t.Context(), o, at); err != nil {
				t.Fatal(err)
			}
		}
		if err := s.Observe(t.Context(), batch); err != nil {
			t.Fatal(err)
		}
	}
	waiting, err := journal.Waiting(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	const days = 30
	byDay := map[string]int{}
	total, quiet := 0, 0
	for _, m := range waiting {
		if end.Sub(m.At) > days*24*time.Hour {
			continue
		}
		total++
		byDay[m.At.Format(time.DateOnly)]++
		t.Logf("%s %s %s\n%s", m.At.Format("2006-01-02 15:04"), m.Priority, m.ID, m.Body)
	}
	for i := range days {
		if byDay[end.Add(-time.Duration(i)*24*time.Hour).Format(time.DateOnly)] == 0 {
			quiet++
		}
	}
	t.Logf("%d messages in %d days, %.2f a day; %d days without one", total, days, float64(total)/days, quiet)
	if total == 0 || total >= days {
		t.Errorf("%d messages in %d days, want some, and under one a day", total, days)
	}
	for _, m := range waiting {
		if head := []rune(m.Subject); len(head) > 40 && !strings.Contains(m.Subject, "(limit") && !strings.Contains(m.Subject, "more") {
			t.Errorf("the key fact of %q is beyond 40 characters", m.Subject)
		}
	}
}
