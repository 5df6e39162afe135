package zones

import (
	"context"
	"errors"
	"iter"
	"math"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/chart"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
)

// hours are the hours of some probes, by name.
type hours struct {
	steady
	of  map[string][]page.Hour
	err error
}

func (h hours) Hourly(_ context.Context, probe string, _, _ time.Time) iter.Seq2[page.Hour, error] {
	return func(yield func(page.Hour, error) bool) {
		for _, x := range h.of[probe] {
			if !yield(x, nil) {
				return
			}
		}
		if h.err != nil {
			yield(page.Hour{}, h.err)
		}
	}
}

// An hour counts in the cell of its middle; several probes give their median; what lies
// outside or has no value does not count.
func TestHourlyTrace(t *testing.T) {
	from := at.Add(-4 * time.Hour)
	hour := func(minutes int, mean, least, most, wet float64) page.Hour {
		begin := from.Add(time.Duration(minutes) * time.Minute)
		return page.Hour{From: begin, To: begin.Add(time.Hour), Mean: mean, Least: least, Most: most, Humidity: wet}
	}
	nan := math.NaN()
	past := hours{of: map[string][]page.Hour{
		"a": {hour(-40, 99, 99, 99, 0.9), hour(-20, 20, 19, 21, 0.4), hour(40, 22, 21, 23, 0.6), hour(100, nan, nan, nan, nan), hour(225, 99, 99, 99, 1)},
		"b": {hour(0, 26, 25, 28, nan)},
	}}
	got, err := hourlyTrace(t.Context(), past, []Stay{{Probes: []string{"a", "b"}, From: from, To: at}}, from, at, 2)
	if err != nil {
		t.Fatal(err)
	}
	if got.mid[0] != 23.5 || !math.IsNaN(got.mid[1]) || got.low[0] != 19 || got.high[0] != 28 || got.damp[0] != 0.5 || got.lowest != 19 || got.highest != 28 {
		t.Errorf("the trace is %+v", got)
	}
	past.err = errors.New("torn")
	if _, err := hourlyTrace(t.Context(), past, []Stay{{Probes: []string{"a"}, From: from, To: at}}, from, at, 2); err == nil || !strings.Contains(err.Error(), "probe a: torn") {
		t.Errorf("an error that does not say where: %v", err)
	}
}

// Of several stays each counts in its own time alone, with its own offset.
func TestFeltOverSeveralStays(t *testing.T) {
	from := at.Add(-4 * time.Hour)
	steadily := func(c float64) (all []page.Hour) {
		for x := from; x.Before(at); x = x.Add(time.Hour) {
			all = append(all, page.Hour{From: x, To: x.Add(time.Hour), Mean: c, Least: c, Most: c, Humidity: math.NaN()})
		}
		return all
	}
	o := options()
	o.Past = hours{of: map[string][]page.Hour{"a": steadily(20), "b": steadily(26)}}
	s := &Views{Site: &page.Site{Options: o}}
	middle := from.Add(2 * time.Hour)
	stays := []Stay{{[]string{"a"}, 1, from, middle}, {[]string{"b"}, 0, middle, at}}
	got, err := hourlyTrace(t.Context(), o.Past, stays, from, at, 4)
	if want := []float64{21, 21, 26, 26}; err != nil || !slices.Equal(got.mid, want) {
		t.Errorf("they felt %v, want %v (%v)", got.mid, want, err)
	}
	x := chart.Span(from.Add(-time.Hour), at.Add(time.Hour))
	f, err := s.Felt(t.Context(), Subject{Zone: room()}, stays, nil, x)
	if err != nil || f == nil || f.Plot.X != x || !strings.Contains(f.Caption, "Lowest 69.8") || !strings.Contains(f.Caption, "highest 78.8 °F, both on ") {
		t.Errorf("drawn as %+v (%v)", f, err)
	}
	if f, err := s.Felt(t.Context(), Subject{Zone: room()}, nil, nil, x); f != nil || err != nil {
		t.Errorf("without stays there is %v (%v)", f, err)
	}
}

// A week is drawn by hours, a season by days; both with their alarms, their axis and a table of
// a bounded length.
func TestPastOfAZone(t *testing.T) {
	place, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	end := time.Date(2026, 11, 29, 12, 0, 0, 0, place)
	var all []page.Hour
	for x := end.Add(-season); x.Before(end); x = x.Add(time.Hour) {
		all = append(all, page.Hour{From: x, To: x.Add(time.Hour), Mean: 23, Least: 22.5, Most: 23.5, Humidity: 0.5})
	}
	o := options()
	o.Past = hours{of: map[string][]page.Hour{"shelf": all}}
	o.Reader.Place = place
	s := &Views{Site: &page.Site{Options: o}}
	z := room()
	alarms := []snapshot.PastAlarm{{Alarm: "temperature-low", Zone: &z.Zone, Priority: "warning", Began: end.Add(-2 * Day)}, {Alarm: "temperature-low", Zone: &z.Zone, Priority: "warning", Began: end.Add(-20 * Day)}}
	for name, c := range map[string]struct {
		back          time.Duration
		marks, corner int
		tick, caption string
	}{
		"week":    {week, 1, 168, "Thu 26", "Line: mean of each hour"},
		"season":  {season, 2, 183, "Nov", "Line: mean of each day"},
		"an hour": {time.Hour, 0, 1, "29 Nov", "Line: mean of each hour"},
	} {
		f, err := s.past(t.Context(), Subject{Zone: z}, alarms, end.Add(-c.back), end)
		if err != nil || f == nil {
			t.Fatalf("%s: %v, %v", name, f, err)
		}
		drawn := elementsOf(t, string(f.HTML()))
		if got := len(drawn.find("use", "href=#s-cold")); got != c.marks {
			t.Errorf("%s: %d alarms, want %d", name, got, c.marks)
		}
		if !slices.Contains(drawn.find("text").texts(), c.tick) || !strings.HasPrefix(f.Caption, c.caption) {
			t.Errorf("%s: the axis has %v, the caption is %q", name, drawn.find("text").texts(), f.Caption)
		}
		if strings.Contains(f.Caption, ":00") || strings.Contains(f.Caption, ":30") {
			t.Errorf("%s: the caption names a minute that no summary knows: %q", name, f.Caption)
		}
		if line := drawn.find("path", "class=temperature"); len(line) != 1 || strings.Count(line[0].attrs["d"], "M") != 1 {
			t.Errorf("%s: the line has gaps: %v", name, line)
		}
		if n := len(f.Table.Rows); n == 0 || n > rowsMost {
			t.Errorf("%s: %d rows", name, n)
		}
	}
	if f, err := s.past(t.Context(), Subject{Zone: incubator()}, nil, end.Add(-week), end); f != nil || err != nil {
		t.Errorf("without readings there is %v, %v", f, err)
	}
}

func TestDaysAskedFor(t *testing.T) {
	s := &Views{Site: &page.Site{Options: options()}}
	for query, want := range map[string]string{
		"":                              "2026-06-02T14:30 2026-06-09T14:30",
		"from=2026-05-01&to=2026-05-03": "2026-05-01T00:00 2026-05-04T00:00",
		"from=2026-06-09":               "2026-06-09T00:00 2026-06-09T14:30",
		"from=x":                        "is no day",
		"from=2026-05-03&to=2026-05-01": "the last day is before the first",
		"from=2020-05-03&to=2026-05-01": "longer than two years",
	} {
		q, err := url.ParseQuery(query)
		if err != nil {
			t.Fatal(err)
		}
		from, to, err := s.days(q, at)
		got := from.Format("2006-01-02T15:04") + " " + to.Format("2006-01-02T15:04")
		if err != nil {
			got = err.Error()
		}
		if !strings.Contains(got, want) {
			t.Errorf("%q asks for %s, want %s", query, got, want)
		}
	}
}
