package web

import (
	"context"
	"errors"
	"iter"
	"math"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// some probes' readings, by name.
type several map[string][]Point

func (s several) Readings(ctx context.Context, probe string, from, to time.Time) iter.Seq2[Point, error] {
	return script{points: s[probe]}.Readings(ctx, probe, from, to)
}

func (s several) Raw(ctx context.Context, probe string, from, to time.Time) iter.Seq2[Point, error] {
	return s.Readings(ctx, probe, from, to)
}

func TestTrace(t *testing.T) {
	from := at.Add(-4 * time.Hour)
	p := func(minutes int, c float64, cause string) Point {
		return Point{At: from.Add(time.Duration(minutes) * time.Minute), Celsius: c, Humidity: math.NaN(), Cause: cause}
	}
	s := several{
		"a": {p(-1, 99, ""), p(0, 20, ""), p(59, 22, ""), p(60, 85, "power-on"), p(61, math.NaN(), ""), p(180, 24, ""), p(240, 99, "")},
		"b": {p(10, 25, ""), p(180, 10, ""), p(181, math.Inf(1), "")},
		"c": {p(20, 23, "")},
	}
	got, err := traceOf(t.Context(), s, []string{"a", "b", "c", "none"}, from, at, 4)
	if err != nil {
		t.Fatal(err)
	}
	nan := math.NaN()
	same := func(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }
	for name, c := range map[string]struct{ got, want []float64 }{
		"median of the probes' means": {got.mid, []float64{23, nan, nan, 17}},
		"least of any probe":          {got.low, []float64{20, nan, nan, 10}},
		"most of any probe":           {got.high, []float64{25, nan, nan, 24}},
	} {
		for i := range c.want {
			if !same(c.got[i], c.want[i]) {
				t.Errorf("%s: %v, want %v", name, c.got, c.want)
				break
			}
		}
	}
	if got.lowest != 10 || !got.lowestAt.Equal(from.Add(3*time.Hour)) || got.highest != 25 || !got.highestAt.Equal(from.Add(10*time.Minute)) {
		t.Errorf("lowest %v at %v, highest %v at %v", got.lowest, got.lowestAt, got.highest, got.highestAt)
	}
	if _, err := traceOf(t.Context(), script{err: errors.New("torn")}, []string{"a"}, from, at, 4); err == nil || !strings.Contains(err.Error(), "probe a: torn") {
		t.Errorf("an error that does not say where: %v", err)
	}
}

// A page opened again within the minute must not read the history again.
func TestTraceIsKeptForAMinute(t *testing.T) {
	calls := 0
	n := season()
	o := options(n)
	o.Past = past{every: time.Minute, calls: &calls}
	h := handler(t, o)
	get(h, "/")
	first := calls
	if first != 6 {
		t.Fatalf("%d scans, want one for each of 6 probes", first)
	}
	get(h, "/")
	n.At = at.Add(29 * time.Second)
	get(h, "/")
	if calls != first {
		t.Errorf("%d scans more within a minute", calls-first)
	}
	n.At = at.Add(time.Minute)
	get(h, "/")
	if calls != 2*first {
		t.Errorf("%d scans after the minute, want %d", calls-first, first)
	}
}

func TestPlotDrawsGapsAsGaps(t *testing.T) {
	o := options(season())
	s := zoneViews{server: &server{Options: o}}
	nan := math.NaN()
	mid := []float64{23, 23.5, nan, 24, nan, nan, 25, 25}
	tr := trace{from: at.Add(-day), to: at, mid: mid, low: mid, high: mid, lowest: 23, highest: 25, lowestAt: at.Add(-day), highestAt: at}
	z := season().Zones[0]
	p := s.plot(z, tr)
	if len(p.Runs) != 3 || len(p.Spread) != 3 {
		t.Fatalf("%d lines, want 3: %v", len(p.Runs), p.Runs)
	}
	for i, want := range []int{2, 2, 2} { // a lone cell is a short stroke
		if got := len(strings.Fields(p.Runs[i])); got != want {
			t.Errorf("line %d has %d points, want %d", i, got, want)
		}
	}
	if !strings.HasPrefix(p.Label, z.Zone) {
		t.Errorf("label %q", p.Label)
	}
	if p.Wanted == nil || len(p.Bounds) != 2 {
		t.Errorf("the wanted band is not drawn: %+v", p)
	}
	z.Wanted = snapshot.Band{High: ptr(24.0)}
	if p := s.plot(z, tr); p.Wanted == nil || len(p.Bounds) != 1 {
		t.Errorf("a band with one end is not drawn: %+v", p)
	}
	z.Wanted = snapshot.Band{}
	if p := s.plot(z, tr); p.Wanted != nil || len(p.Left) != 2 {
		t.Errorf("no band is drawn as one: %+v", p)
	}
	for i := range tr.mid {
		tr.mid[i] = nan
	}
	tr.lowest, tr.highest = nan, nan
	if p := s.plot(z, tr); p != nil {
		t.Error("nothing measured is drawn as something")
	}
}

// With a poll in ten minutes or more the cells grow, or each would be a gap.
func TestSlowPollsAreNoGaps(t *testing.T) {
	n := season()
	o := options(n)
	o.Every = 15 * time.Minute
	o.Past = script{points: func() (all []Point) {
		for x := at.Add(-day).Add(time.Minute); x.Before(at); x = x.Add(o.Every) {
			all = append(all, Point{At: x, Celsius: 23, Humidity: math.NaN()})
		}
		return
	}()}
	for _, svg := range elementsOf(t, get(handler(t, o), "/")).find("svg", "class=plot") {
		if n := len(svg.inside.find("polyline", "class=run")); n != 1 {
			t.Errorf("a slow poller's line is in %d pieces", n)
		}
	}
}
