package waterloss_test

import (
	"fmt"
	"iter"
	"math"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/station/care"
	"example.com/ootherm/cmd/ootherm/internal/station/pastreadings"
	"example.com/ootherm/cmd/ootherm/internal/station/waterloss"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/air"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/sensor/history/aggregate"
	"example.com/ootherm/thermal/book/booktest"
	"example.com/ootherm/thermal/track"
)

var began = time.Date(2026, 4, 1, 0, 0, 0, 0, time.UTC)

// counted counts the hours that are asked of a history.
type counted struct {
	*history.Store
	hours float64
	asked int
}

func (c *counted) Hourly(probe string, from, to time.Time) iter.Seq2[aggregate.Span, error] {
	c.hours, c.asked = c.hours+to.Sub(from).Hours(), c.asked+1
	return c.Store.Hourly(probe, from, to)
}

// house is a room and a shelf with a probe each, at 24 C, and a probe in box B9.
type house struct {
	t     testing.TB
	store *counted
	boot  history.Boot
	now   time.Time
	*waterloss.Losses
}

func newHouse(t testing.TB) *house {
	h := &house{t: t, store: &counted{Store: history.Memory(history.Options{GapLimit: time.Hour})}, now: began}
	var err error
	if h.boot, err = h.store.Begin("a", began, 0, true); err != nil {
		t.Fatal(err)
	}
	p := plan.Plan{Every: 10 * time.Minute,
		Probes: []plan.Probe{{Name: "air"}, {Name: "high"}, {Name: "inside"}},
		Zones:  []plan.Zone{{Name: "room", Probes: []string{"air", "inside"}}, {Name: "shelf", Probes: []string{"high"}}},
	}
	past := pastreadings.New(pastreadings.Options{History: h.store, Plan: p, Now: func() time.Time { return h.now }, Worker: func(job func() func()) { job()() }})
	h.Losses = waterloss.New(p, past, care.New(p, func() []*track.Group { return nil }))
	return h
}

// measure has the probes measure humidities up to a time, every ten minutes.
func (h *house) measure(to time.Time, humidity map[string]float64) {
	h.t.Helper()
	var all []sensor.Reading
	for ; h.now.Before(to); h.now = h.now.Add(10 * time.Minute) {
		for probe, ratio := range humidity {
			all = append(all, sensor.Reading{Probe: probe, Stamp: sensor.Stamp{Boot: h.boot.Number, Uptime: h.now.Sub(began)},
				Measurement: sensor.Measurement{Celsius: 24, Humidity: ratio}})
		}
	}
	if err := h.store.Append(all); err != nil {
		h.t.Fatal(err)
	}
}

const lines = `{"key":"x1","at":"2026-04-01T00:00:00Z","entry":"box","box":"B1","zone":"room","dry_g":40,"water_g":40,"total_g":112}
{"key":"x9","at":"2026-04-01T00:00:00Z","entry":"box","box":"B9","zone":"room","probe":"inside"}
`

func weighed(week int, grams float64) string {
	return fmt.Sprintf(`{"key":"w%d","at":%q,"entry":"weighed","box":"B1","total_g":%g}`+"\n", week, began.AddDate(0, 0, 7*week).Format(time.RFC3339), grams)
}

func (h *house) drying(book string) *snapshot.Drying {
	h.t.Helper()
	m := h.Of(booktest.Fold(h.t, book), h.now).Media["B1"]
	if m == nil {
		h.t.Fatal("box B1 is not in use")
	}
	return m.Drying
}

func near(t *testing.T, what string, got *float64, want float64) {
	t.Helper()
	if got == nil || math.Abs(*got-want) > 0.01*want {
		t.Errorf("%s is %v, want %g", what, got, want)
	}
}

// B1 loses 7 g a week in the room, whose own probe counts and the one in a box does not. Then it
// moves to the shelf, where the deficit is double.
func TestTheLossFollowsTheAirOfEachZone(t *testing.T) {
	h := newHouse(t)
	week := func(n int) time.Time { return began.AddDate(0, 0, 7*n) }
	book := lines + weighed(1, 105) + weighed(2, 98)
	humidity := map[string]float64{"air": 0.7, "high": 0.4, "inside": 0.95}
	h.measure(week(2).Add(2*time.Hour), humidity)
	if d := h.drying(lines + weighed(1, 105)); d != nil || h.store.asked != 0 {
		t.Errorf("weighed once: %+v, with %d reads", d, h.store.asked)
	}
	d := h.drying(book)
	deficit := air.Deficit(24, 0.7) / 1000
	if d == nil || d.Spans != 2 {
		t.Fatalf("%+v", d)
	}
	near(t, "the loss", &d.Loses, 1/(24*deficit))
	near(t, "a usual day", &d.Usual, 1)
	near(t, "the last day", d.LastDay, 1)
	near(t, "an hour", d.Now, 1.0/24)
	near(t, "the last two hours", d.Lost, 2.0/24)

	book += `{"key":"m","at":"2026-04-16T00:00:00Z","entry":"moved","box":"B1","zone":"shelf"}` + "\n"
	h.measure(week(3), humidity)
	d = h.drying(book)
	near(t, "a day in the room and six on the shelf", d.Lost, 1+6*2)
	near(t, "the share", d.LostShare, (14-1+13.0)/40)
	near(t, "its last day", d.LastDay, 2)
	if x, ok := h.Box("B1"); !ok || !math.IsNaN(x.Times) || d.Times != nil {
		t.Errorf("it came from another air, so this air did not change: %+v, %+v", x, d)
	}

	delete(humidity, "high")
	h.measure(week(3).Add(20*time.Hour), humidity)
	if d = h.drying(book); d == nil || d.Lost != nil || d.Now != nil || d.LostShare != nil {
		t.Errorf("without the shelf's humidity: %+v", d)
	}
	if x, ok := h.Box("B1"); !ok || !x.Unknown || !x.Tended.Equal(week(2)) {
		t.Errorf("%+v", x)
	}
}

// A stay in a place without humidity counts as the mean of the rest, up to a tenth of the time.
func TestAStayWithoutHumidityIsAGap(t *testing.T) {
	stay := func(from, to int) string {
		line := `{"key":"to%d","at":%q,"entry":"moved","box":"B1","zone":%q}` + "\n"
		at := func(hour int) string {
			return began.AddDate(0, 0, 14).Add(time.Duration(hour) * time.Hour).Format(time.RFC3339)
		}
		return fmt.Sprintf(line, from, at(from), "shelf") + fmt.Sprintf(line, to, at(to), "room")
	}
	for hours, known := range map[int]bool{20: true, 30: false} {
		h := newHouse(t)
		h.measure(began.AddDate(0, 0, 24), map[string]float64{"air": 0.7})
		d := h.drying(lines + weighed(1, 105) + weighed(2, 98) + stay(48, 48+hours))
		if known {
			near(t, "ten days", d.Lost, 10)
		} else if d == nil || d.Lost != nil {
			t.Errorf("after %d hours of 240 without humidity: %+v", hours, d)
		}
	}
}

// No box loses more than its water. A box that was just weighed is not asked for, and neither is
// one whose weighing is impossible.
func TestTheLossIsBounded(t *testing.T) {
	h := newHouse(t)
	book := lines + weighed(1, 105) + weighed(2, 98)
	humidity := map[string]float64{"air": 0.7}
	h.measure(began.Add(14*24*time.Hour+20*time.Hour), humidity)
	if d := h.drying(book); d == nil || d.Lost == nil || d.LostShare != nil {
		t.Errorf("0.8 g after it was weighed: %+v", d)
	}
	if x, ok := h.Box("B1"); !ok || x.Unknown || x.Share != nil {
		t.Errorf("0.8 g after it was weighed: %+v", x)
	}
	h.measure(began.Add(15*24*time.Hour+2*time.Hour), humidity)
	near(t, "the share after 26 hours", h.drying(book).LostShare, (14-1+26.0/24)/40)
	h.measure(began.AddDate(0, 0, 60), humidity)
	d := h.drying(book)
	near(t, "the loss of a dry box", d.Lost, 40-(14-1))
	near(t, "its upper end", d.LostHigh, 40-(14-1))
	near(t, "its share", d.LostShare, 1)
	d = h.drying(book + weighed(8, 9.8))
	if d == nil || d.Lost != nil || d.LostShare != nil {
		t.Errorf("after it was weighed lighter than without its water: %+v", d)
	}
}

// Twice a small loss is no fast drying: a week of it takes less than a tenth of the 40 g.
func TestLittleIsNotFast(t *testing.T) {
	for humidity, want := range map[float64]struct{ times, fast float64 }{0.8: {2, 0}, 0.7: {3, 3}} {
		h := newHouse(t)
		h.measure(began.AddDate(0, 0, 14), map[string]float64{"air": 0.9})
		h.measure(began.AddDate(0, 0, 16), map[string]float64{"air": humidity})
		near(t, "times the usual", h.drying(lines+weighed(1, 110.6)+weighed(2, 109.2)).Times, want.times)
		if x, ok := h.Box("B1"); !ok || math.Abs(x.Times-want.fast) > 0.01 {
			t.Errorf("at %g it is %+v, want %g times", humidity, x, want.fast)
		}
	}
}

// What was read is not read again: each hour reads the newest alone.
func TestEachHourReadsItself(t *testing.T) {
	h := newHouse(t)
	book := lines + weighed(1, 105) + weighed(2, 98)
	humidity := map[string]float64{"air": 0.7}
	h.measure(began.AddDate(0, 0, 30), humidity)
	h.drying(book)
	if h.store.asked != 1 || h.store.hours != 30*24-1 {
		t.Fatalf("%d reads of %g hours, want one of the whole past", h.store.asked, h.store.hours)
	}
	for range 60 {
		h.measure(h.now.Add(10*time.Minute), humidity)
		h.drying(book)
	}
	if h.store.asked != 11 || h.store.hours != 30*24-1+10 {
		t.Errorf("%d reads of %g hours after ten hours, want one for each hour", h.store.asked, h.store.hours)
	}
	before := h.drying(book)
	h.Forget()
	if after := h.drying(book); *after.Lost != *before.Lost || after.Loses != before.Loses {
		t.Errorf("read again it is %+v, was %+v", after, before)
	}
}

// An hour of 20 boxes that were each weighed for ten weeks.
func BenchmarkHour(b *testing.B) {
	h := newHouse(b)
	humidity := map[string]float64{"air": 0.7}
	h.measure(began.AddDate(0, 0, 77), humidity)
	var lines strings.Builder
	for i := range 20 {
		fmt.Fprintf(&lines, `{"key":"b%d","at":"2026-04-01T00:00:00Z","entry":"box","box":"B%d","zone":"room","dry_g":40,"water_g":40,"total_g":112}`+"\n", i, i)
		for week := range 10 {
			fmt.Fprintf(&lines, `{"key":"w%d-%d","at":%q,"entry":"weighed","box":"B%d","total_g":%d}`+"\n", i, week, began.AddDate(0, 0, 7*week+7).Format(time.RFC3339), i, 105-week)
		}
	}
	book := booktest.Fold(b, lines.String())
	h.Of(book, h.now)
	b.ReportAllocs()
	for b.Loop() {
		h.measure(h.now.Add(time.Hour), humidity)
		h.Of(book, h.now)
	}
}
