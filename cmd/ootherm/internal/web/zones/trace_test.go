package zones

import (
	"cmp"
	"context"
	"errors"
	"iter"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/chart"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
)

// some probes' readings, by name.
type several map[string][]page.Point

func (s several) Readings(ctx context.Context, probe string, from, to time.Time) iter.Seq2[page.Point, error] {
	return script{points: s[probe]}.Readings(ctx, probe, from, to)
}

func (s several) Hourly(context.Context, string, time.Time, time.Time) iter.Seq2[page.Hour, error] {
	return func(func(page.Hour, error) bool) {}
}

func (s several) Raw(ctx context.Context, probe string, from, to time.Time) iter.Seq2[page.Point, error] {
	return s.Readings(ctx, probe, from, to)
}

func TestTrace(t *testing.T) {
	from := at.Add(-4 * time.Hour)
	p := func(minutes int, c float64, cause string) page.Point {
		return page.Point{At: from.Add(time.Duration(minutes) * time.Minute), Celsius: c, Humidity: math.NaN(), Cause: cause}
	}
	s := several{
		"a": {p(-1, 99, ""), p(0, 20, ""), p(59, 22, ""), p(60, 85, "power-on"), p(61, math.NaN(), ""), p(180, 24, ""), p(240, 99, "")},
		"b": {p(10, 25, ""), p(180, 10, ""), p(181, math.Inf(1), "")},
		"c": {{At: from.Add(20 * time.Minute), Celsius: 23, Humidity: 0.4}, {At: from.Add(30 * time.Minute), Celsius: 23, Humidity: 0.6}, {At: from.Add(31 * time.Minute), Celsius: 23, Humidity: math.Inf(1)}},
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
		"humidity":                    {got.damp, []float64{0.5, nan, nan, nan}},
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

// figureOf is the drawing of a zone's trace.
func figureOf(t *testing.T, s *Views, z snapshot.Zone, tr Trace, alarms ...snapshot.PastAlarm) elements {
	t.Helper()
	f := s.Figure(z, tr, alarms)
	if f == nil {
		t.Fatal("nothing is drawn")
	}
	return elementsOf(t, string(f.HTML()))
}

// A zone's plot leaves gaps open, tints what is wanted, and draws a safe limit where the
// readings come near it.
func TestPlotOfAZone(t *testing.T) {
	s := &Views{Site: &page.Site{Options: options()}}
	nan := math.NaN()
	mid := []float64{23, 23.5, nan, 24, nan, nan, 25, 25}
	tr := Trace{from: at.Add(-Day), to: at, mid: mid, low: mid, high: mid, damp: []float64{0.5, 0.5, nan, nan, nan, nan, 0.6, 0.6}, lowest: 23, highest: 25, lowestAt: at.Add(-Day), highestAt: at}
	z := incubator()
	z.Safe = snapshot.Band{Low: ptr(5.0), High: ptr(26.5)}
	all := figureOf(t, s, z, tr, snapshot.PastAlarm{Alarm: "temperature-high", Zone: &z.Zone, Priority: "warning", Began: at.Add(-time.Hour)},
		snapshot.PastAlarm{Alarm: "temperature-low", Zone: ptr("elsewhere"), Priority: "warning", Began: at.Add(-time.Hour)})
	line := all.find("path", "class=temperature")
	if len(line) != 1 || strings.Count(line[0].attrs["d"], "M") != 3 {
		t.Errorf("the line is %+v, want three pieces", line)
	}
	if wet := all.find("path", "class=humidity"); len(wet) != 1 || strings.Count(wet[0].attrs["d"], "M") != 2 {
		t.Errorf("the humidity is %+v, want two pieces", wet)
	}
	if n := len(all.find("line", "class=limit")); n != 1 || !slices.Contains(all.find("text").texts(), "79.7°") || slices.Contains(all.find("text").texts(), "41°") {
		t.Errorf("%d safe limits, want the near one of %v", n, all.find("text").texts())
	}
	if !all.has("use", "href=#s-warm") || all.has("use", "href=#s-cold") {
		t.Error("of the alarms the zone's own one is not the one that is drawn")
	}
	if label := all.find("svg", "role=img")[0].attrs["aria-label"]; !strings.HasPrefix(label, z.Zone+". Last 24 h: lowest 73.4 °F at 14:30 yesterday, highest 77.0 °F at 14:30. 2 gaps without readings.") {
		t.Errorf("label %q", label)
	}
	if rows := all.find("tr", "data-x"); len(rows) != 5 || rows[0].text != "16:0073.4 °F50 %" {
		t.Errorf("the table has %v", rows.texts())
	}
	bands := func(z snapshot.Zone) int { return len(figureOf(t, s, z, tr).find("rect", "class=wanted")) }
	both := bands(z)
	z.Wanted = snapshot.Band{High: ptr(24.0)}
	one := bands(z)
	z.Wanted = snapshot.Band{}
	if none := bands(z); both != 2 || one != 2 || none != 1 {
		t.Errorf("%d, %d and %d bands, want that of the temperature and that of the humidity", both, one, none)
	}
	for i := range tr.mid {
		tr.mid[i] = nan
	}
	tr.lowest, tr.highest = nan, nan
	if s.Figure(z, tr, nil) != nil {
		t.Error("nothing measured is drawn as something")
	}
}

// If it goes on, the line meets the limit at the time that the alarm says.
func TestPlotOfWhatComes(t *testing.T) {
	s := &Views{Site: &page.Site{Options: options()}}
	tr, err := s.Trace(t.Context(), room(), at)
	if err != nil {
		t.Fatal(err)
	}
	z, c := room(), snapshot.Coming{Limit: 26.6667, About: at.Add(50 * time.Minute), Earliest: at.Add(30 * time.Minute)}
	for _, latest := range []*time.Time{nil, ptr(at.Add(80 * time.Minute)), ptr(at.Add(30 * time.Hour))} {
		c.Latest = latest
		f := s.ComingFigure(z, tr, c, at)
		all := elementsOf(t, string(f.HTML()))
		if !all.has("path", "class=coming") || !all.has("path", "class=fan") || !slices.Contains(all.find("text").texts(), "15:20") || strings.Contains(string(f.HTML()), "NaN") {
			t.Errorf("the drawing is %s", f.HTML())
		}
		ticks := slices.SortedFunc(slices.Values(f.Plot.Ticks), func(a, b chart.Tick) int { return cmp.Compare(a.At, b.At) })
		if first := f.Plot.X.Share(ticks[0].At); first < 0.06 {
			t.Errorf("until %v: %s lies at the edge", latest, ticks[0].Text)
		}
		for i := range ticks[1:] {
			if share := f.Plot.X.Share(ticks[i+1].At) - f.Plot.X.Share(ticks[i].At); share < hourRoom {
				t.Errorf("until %v: %s and %s lie over one another", latest, ticks[i].Text, ticks[i+1].Text)
			}
		}
	}
	c.About = at.Add(-time.Minute)
	if s.ComingFigure(z, tr, c, at) != nil {
		t.Error("what has passed is drawn as to come")
	}
	z.Celsius, c.About = nil, at.Add(time.Hour)
	if s.ComingFigure(z, tr, c, at) != nil {
		t.Error("without a reading something is drawn")
	}
}
