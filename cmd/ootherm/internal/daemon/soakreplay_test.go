//go:build !race

package daemon

import (
	"fmt"
	"iter"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/station"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/ledger"
)

// soakRows are the stored readings of all probes in the order of time, as a recording. It checks
// on the way that each reading that a probe gave is there, or lies where one may be lost.
type soakRows struct {
	h     *soakHouse
	next  []func() (history.Point, error, bool)
	heads []history.Point
	more  []bool
	seen  []int // of the readings that were given
	n     int
	lost  int
}

func newSoakRows(h *soakHouse, past *history.Store) (r *soakRows, stop func()) {
	r = &soakRows{h: h, heads: make([]history.Point, 12), more: make([]bool, 12), seen: make([]int, 12)}
	var stops []func()
	for i, p := range h.plan.Probes {
		next, stop := iter.Pull2(past.Range(p.Name, time.Time{}.Add(1), time.Now().AddDate(900, 0, 0)))
		r.next, stops = append(r.next, next), append(stops, stop)
		r.pull(i)
	}
	return r, func() {
		for _, stop := range stops {
			stop()
		}
	}
}

// pull reads the next believed reading of a probe.
func (r *soakRows) pull(i int) {
	for {
		p, err, more := r.next[i]()
		must(r.h.t, err)
		r.heads[i], r.more[i] = p, more
		if !more || !math.IsNaN(p.Celsius) {
			r.account(i, more, p)
		}
		if !more || p.Believed() {
			return
		}
	}
}

// account compares a stored reading with those that were given.
func (r *soakRows) account(i int, more bool, p history.Point) {
	for r.seen[i] < r.h.given.counts[i] {
		at := r.h.given.at(i, r.seen[i])
		r.seen[i]++
		if more && at.Equal(p.At) {
			if want := r.h.measured(i, at); math.Abs(want.Celsius-p.Celsius) > 1e-9 || math.Abs(want.Humidity-p.Humidity) > 1e-9 {
				r.h.t.Errorf("%s at %s: stored %v, was %v", p.Probe, at, p.Measurement, want)
			}
			return
		}
		if more && at.After(p.At) {
			r.h.t.Fatalf("%s at %s: a reading that was never given", p.Probe, p.At)
		}
		r.lost++
		if !slices.ContainsFunc(r.h.lost, func(s soakSpan) bool { return !at.Before(s.from) && !at.After(s.to) }) {
			r.h.t.Errorf("probe %d at %s: lost without a power cut", i, at)
		}
	}
	if more {
		r.h.t.Fatalf("%s at %s: a reading that was never given", p.Probe, p.At)
	}
}

// batch is the readings of the next instant; none at the end.
func (r *soakRows) batch(boot history.Boot) (all []sensor.Reading) {
	var at time.Time
	for i, more := range r.more {
		if more && (at.IsZero() || r.heads[i].At.Before(at)) {
			at = r.heads[i].At
		}
	}
	for i, more := range r.more {
		if more && r.heads[i].At.Equal(at) {
			reading := r.heads[i].Reading
			reading.Stamp = sensor.Stamp{Boot: boot.Number, Uptime: at.Sub(boot.Start)}
			all = append(all, reading)
			r.n++
			r.pull(i)
		}
	}
	return all
}

// replay runs a station that never fails, in one boot and in memory, over the readings.
func (r *soakRows) replay(began, until time.Time, entries []book.Entry) *snapshot.Snapshot {
	t := r.h.t
	past := history.Memory(history.Options{GapLimit: r.h.plan.GapLimit()})
	boot, err := past.Begin("replay", began, 0, true)
	must(t, err)
	s, err := station.New(t.Context(), station.Options{
		Plan: r.h.plan, Boot: boot, ForecastEvery: soakDay, PublishEvery: soakDay,
		Stores: station.Stores{History: past, Ledger: ledger.Memory(), Journal: outbox.NewMemory()},
	}, began)
	must(t, err)
	for at := began; at.Before(until); {
		batch := r.batch(boot)
		to := until
		if len(batch) > 0 {
			to = boot.Start.Add(batch[0].Uptime)
		}
		for at = at.Add(r.h.plan.Every); at.Before(to); at = at.Add(r.h.plan.Every) {
			must(t, s.Tick(t.Context(), at))
		}
		at = to
		for len(entries) > 0 && !entries[0].At.After(at) {
			n := 1
			for n < len(entries) && entries[n].At.Equal(entries[0].At) {
				n++
			}
			s.Advance(entries[0].At)
			_, err := s.Note(t.Context(), book.NewDraft(entries[:n]...))
			must(t, err)
			entries = entries[n:]
		}
		if len(batch) > 0 {
			must(t, s.Observe(t.Context(), batch))
		}
		must(t, s.Tick(t.Context(), at))
	}
	s.Refresh()
	return s.Now()
}

// compareSoak compares what two stations say of the same readings.
func compareSoak(t *testing.T, got, want *snapshot.Snapshot, starts int) {
	t.Helper()
	alarms := func(s *snapshot.Snapshot) (all []string) {
		for _, a := range s.Alarms {
			// Those without a zone are of the station itself, which had faults. An early warning
			// is taught at each start, and may have called another change that is over.
			if a.Zone != nil && (a.Stands || !strings.HasPrefix(a.Key, "drift")) {
				all = append(all, fmt.Sprintf("%s %s stands=%v", a.Key, a.State, a.Stands))
			}
		}
		slices.Sort(all)
		return all
	}
	if !slices.Equal(alarms(got), alarms(want)) {
		t.Errorf("alarms\n%q, want\n%q", alarms(got), alarms(want))
	}
	// Between two boots lies a hole of a quarter of an hour, which is filled in by what was
	// before and after it: half a kelvin from what a replay has there, at most (our choice).
	mostHeat := float64(starts) * 0.25 / 24 * 0.5
	windows, heat, apart := 0, 0.0, time.Duration(0)
	for i, b := range got.Boxes {
		if i >= len(want.Boxes) || b.Box != want.Boxes[i].Box || len(b.Clutches) != len(want.Boxes[i].Clutches) {
			t.Fatalf("box %+v, want %+v", b, want.Boxes)
		}
		for n, c := range b.Clutches {
			o := want.Boxes[i].Clutches[n]
			if c.Clutch != o.Clutch || !slices.EqualFunc(c.Eggs, o.Eggs, func(a, b snapshot.Egg) bool { return a.Egg == b.Egg && a.Fate == b.Fate }) || (c.Window == nil) != (o.Window == nil) {
				t.Errorf("clutch %+v, want %+v", c, o)
				continue
			}
			if c.DegreeDays != nil && o.DegreeDays != nil {
				heat = max(heat, math.Abs(c.DegreeDays.SoFar-o.DegreeDays.SoFar))
			}
			if c.Window != nil {
				windows++
				apart = max(apart, c.Window.CheckFrom.Sub(o.Window.CheckFrom).Abs(), c.Window.Likely.Sub(o.Window.Likely).Abs(), c.Window.LateAfter.Sub(o.Window.LateAfter).Abs())
			}
		}
	}
	t.Logf("alarms at the end, in both: %q", alarms(got))
	t.Logf("%d windows: at most %s apart; exposures at most %.5f degree-days apart", windows, apart, heat)
	if windows == 0 || apart > time.Hour || heat > mostHeat || len(alarms(got)) == 0 {
		t.Error("not what a replay of the same readings comes to")
	}
}
