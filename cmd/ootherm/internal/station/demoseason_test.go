package station_test

import (
	"testing"
	"time"

	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/cmd/ootherm/internal/demo"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/station"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/ledger"
)

// seasonStep is between two readings of the demo's season here.
const seasonStep = 6 * time.Hour

// In the demo's season every clutch is to be checked daily before its first egg pips or
// hatches, or its state says what went before: a mate in another box, or that it is late. The
// table is printed. Entries are noted in the evening and a window is a day old at most, where a
// running station's is ten minutes: a state changes later here.
func TestDemoSeasonIsToldBeforeItsFirstPip(t *testing.T) {
	t.Parallel()
	end := time.Date(2026, 6, 10, 12, 0, 0, 0, time.UTC)
	season := demo.New(end)
	p := demoPlan(t, season)
	p.Every = seasonStep
	entries, err := season.Book()
	if err != nil {
		t.Fatal(err)
	}
	past := history.Memory(history.Options{GapLimit: 2 * seasonStep})
	boot, err := past.Begin("one", season.Began(), 0, true)
	if err != nil {
		t.Fatal(err)
	}
	s, err := station.New(t.Context(), station.Options{Plan: p, Boot: boot, ForecastEvery: 24 * time.Hour,
		Stores: station.Stores{History: past, Ledger: ledger.Memory(), Journal: outbox.NewMemory()}}, season.Began())
	if err != nil {
		t.Fatal(err)
	}
	first := map[string]time.Time{} // when a clutch was first to be checked daily, or late
	word := map[string]string{}
	for at := season.Began(); at.Before(end); at = at.Add(seasonStep) {
		n := 0
		for n < len(entries) && !entries[n].At.After(at) {
			n++
		}
		s.Advance(at)
		if n > 0 && at.Hour() == 18 { // each note has all windows computed again
			if _, err := s.Note(t.Context(), book.NewDraft(entries[:n]...)); err != nil {
				t.Fatal(err)
			}
			entries = entries[n:]
		}
		var batch []sensor.Reading
		for _, name := range demo.Probes() {
			if x, on := season.Measure(name, at); on {
				batch = append(batch, sensor.Reading{Probe: name, Measurement: x, Stamp: sensor.Stamp{Boot: boot.Number, Uptime: at.Sub(season.Began())}})
			}
		}
		if len(batch) == 0 {
			continue
		}
		if err := s.Observe(t.Context(), batch); err != nil {
			t.Fatal(err)
		}
		for _, b := range s.Now().Boxes {
			for _, c := range b.Clutches {
				if _, told := first[c.Clutch]; !told && c.State != nil && *c.State != snapshot.StateIncubating {
					first[c.Clutch], word[c.Clutch] = at, *c.State
				}
			}
		}
	}
	t.Logf("%-8s %-12s %-16s %-16s %s", "clutch", "first word", "on", "first egg", "days before it")
	hatched, before := 0, 0
	for _, c := range s.Book().Clutches() {
		var egg time.Time
		for _, e := range c.Eggs {
			if len(e.Stays) > 0 && (e.Fate == book.Hatched || e.Fate == book.Pipped) && (egg.IsZero() || e.FateAt.Before(egg)) {
				egg = e.FateAt
			}
		}
		if egg.IsZero() {
			continue
		}
		hatched++
		told := first[c.ID]
		t.Logf("%-8s %-12s %-16s %-16s %.1f", c.ID, word[c.ID], told.Format("2006-01-02 15:04"), egg.Format("2006-01-02 15:04"), egg.Sub(told).Hours()/24)
		switch {
		case told.IsZero():
			t.Errorf("nothing was ever said of %s", c.ID)
		case told.Before(egg):
			before++
		case word[c.ID] != snapshot.StateHatching:
			t.Errorf("%s is %q only after its first egg", c.ID, word[c.ID])
		}
	}
	// Check-from is the day by which the first egg of one clutch in ten has hatched, so one in
	// ten may come before it. Of so few, two more may by chance.
	if hatched == 0 || hatched-before > hatched/10+2 {
		t.Errorf("%d of %d clutches were to be checked daily before their first egg", before, hatched)
	}
}
