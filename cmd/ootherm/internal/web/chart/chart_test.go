package chart

import (
	"html/template"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

var nan, inf = math.NaN(), math.Inf(1)

func TestScale(t *testing.T) {
	for _, c := range []struct {
		s       Scale
		v, want float64
	}{
		{Scale{10, 20}, 10, 0}, {Scale{10, 20}, 20, 1}, {Scale{10, 20}, 15, 0.5}, {Scale{10, 20}, 25, 1.5}, {Scale{10, 20}, 0, -1},
		{Scale{20, 10}, 20, 0}, {Scale{20, 10}, 12.5, 0.75}, {Scale{-1, 1}, 0, 0.5}, {Scale{5, 5}, 7, 0.5},
	} {
		if got := c.s.Share(c.v); got != c.want {
			t.Errorf("%v on %v lies at %v, want %v", c.v, c.s, got, c.want)
		}
	}
	for _, v := range []float64{nan, inf, -inf} {
		if got := (Scale{0, 1}).Share(v); !math.IsNaN(got) {
			t.Errorf("%v lies at %v", v, got)
		}
	}
}

func TestRoom(t *testing.T) {
	for _, c := range []struct {
		least  float64
		values []float64
		want   [2]float64
	}{
		{2, nil, [2]float64{0, 2}}, {2, []float64{nan, inf}, [2]float64{0, 2}}, {2, []float64{23}, [2]float64{22, 24}},
		{2, []float64{20, nan, 30}, [2]float64{19.4, 30.6}}, {2, []float64{30, 20}, [2]float64{19.4, 30.6}},
	} {
		low, high := Room(c.least, c.values...)
		if math.Abs(low-c.want[0]) > 1e-9 || math.Abs(high-c.want[1]) > 1e-9 {
			t.Errorf("room of %v is %v to %v, want %v", c.values, low, high, c.want)
		}
	}
}

// A clock that is put forward leaves an hour out, one that is put back shows an hour twice:
// every hour that is shown has one tick at its own moment.
func TestTicksOverAClockChange(t *testing.T) {
	place, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	clock := func(t time.Time) string { return t.Format("15") }
	words := func(all []Tick) (out []string) {
		for _, k := range all {
			out = append(out, k.Text)
		}
		return out
	}
	spring := time.Date(2026, 3, 8, 0, 30, 0, 0, place)
	if got, want := words(Hours(spring, spring.Add(4*time.Hour), place, 1, clock)), []string{"01", "03", "04", "05"}; !slices.Equal(got, want) {
		t.Errorf("the hours of a spring night are %v, want %v", got, want)
	}
	autumn := time.Date(2026, 11, 1, 0, 30, 0, 0, place)
	hours := Hours(autumn, autumn.Add(4*time.Hour), place, 1, clock)
	if got, want := words(hours), []string{"01", "02", "03"}; !slices.Equal(got, want) {
		t.Errorf("the hours of an autumn night are %v, want %v", got, want)
	}
	if d := hours[1].At - hours[0].At; d != 7200 {
		t.Errorf("from one to two are %v s, want two hours", d)
	}
	days := Days(spring.AddDate(0, 0, -1), spring.AddDate(0, 0, 2), place, 1, func(t time.Time) string { return t.Format("2 15:04") })
	if got, want := words(days), []string{"8 00:00", "9 00:00", "10 00:00"}; !slices.Equal(got, want) {
		t.Errorf("the days are %v, want %v", got, want)
	}
	if d := days[1].At - days[0].At; d != 23*3600 {
		t.Errorf("the day of the change has %v s, want 23 hours", d)
	}
	months := Months(time.Date(2026, 1, 31, 12, 0, 0, 0, place), time.Date(2026, 4, 1, 0, 0, 0, 0, place), place, func(t time.Time) string { return t.Format("Jan 2") })
	if got, want := words(months), []string{"Feb 1", "Mar 1", "Apr 1"}; !slices.Equal(got, want) {
		t.Errorf("the months are %v, want %v", got, want)
	}
	if Hours(autumn, spring, place, 1, clock) != nil || Days(autumn, spring, place, 1, clock) != nil || Months(autumn, spring, place, clock) != nil {
		t.Error("a span that ends before it begins has ticks")
	}
}

func TestThin(t *testing.T) {
	var all []Tick
	for i := range 10 {
		all = append(all, Tick{At: float64(i)})
	}
	for room, want := range map[float64]int{0.09: 10, 0.15: 5, 0.3: 4, 5: 1} {
		if got := len(Thin(all, Scale{0, 10}, room)); got != want {
			t.Errorf("with room %v there are %d, want %d", room, got, want)
		}
	}
	if got := len(Thin(all, Scale{10, 0}, 0.15)); got != 5 {
		t.Errorf("backwards there are %d, want 5", got)
	}
	if Thin(nil, Scale{0, 1}, 1) != nil {
		t.Error("nothing has ticks")
	}
}

func plot(items ...Item) template.HTML {
	return Plot{Label: "a & b", X: Scale{0, 100}, Now: nan, Panels: []Panel{{Low: 0, High: 10, Height: 100, Items: items}}}.HTML()
}

// The word of a limit is over it at its left; where there is no room above, under it, and at the
// end that no line crosses.
func TestWordOfALimit(t *testing.T) {
	for name, c := range map[string]struct {
		at   float64
		line []Point
		x    string
		over bool
	}{
		"room above":          {5, []Point{{0, 4}, {100, 4}}, "2", true},
		"near the top":        {9.5, []Point{{0, 1}, {100, 1}}, "2", false},
		"line under its left": {9.5, []Point{{0, 9}, {100, 1}}, "100%", false},
		"line all along":      {9.5, []Point{{0, 9}, {100, 9}}, "2", false},
	} {
		for _, s := range parsed(t, plot(Limit{SafeLimit, c.at, "safe"}, Line{Temperature, c.line})) {
			if s.name != "text" {
				continue
			}
			y, err := strconv.ParseFloat(s.attrs["y"], 64)
			if over := y < 100-10*c.at; err != nil || s.attrs["x"] != c.x || over != c.over {
				t.Errorf("%s: the word is at %s, %s", name, s.attrs["x"], s.attrs["y"])
			}
		}
	}
}

// A line ends at a gap and begins again behind it; what is no number is a gap, and a lone
// value is a short stroke.
func TestLine(t *testing.T) {
	for name, c := range map[string]struct {
		points []Point
		want   [][][2]int
	}{
		"a run":         {[]Point{{0, 0}, {50, 5}, {100, 10}}, [][][2]int{{{0, 1000}, {500, 500}, {1000, 0}}}},
		"gaps":          {[]Point{{0, 0}, {10, 1}, {20, nan}, {30, 2}, {40, 3}, {50, inf}, {60, 4}, {70, 4}}, [][][2]int{{{0, 1000}, {100, 900}}, {{300, 800}, {400, 700}}, {{600, 600}, {700, 600}}}},
		"one":           {[]Point{{50, 5}}, [][][2]int{{{496, 500}, {504, 500}}}},
		"past the edge": {[]Point{{0, 100}, {100, -100}}, [][][2]int{{{0, -200}, {1000, 1200}}}},
		"none":          {nil, nil},
		"only gaps":     {[]Point{{0, nan}, {nan, 1}}, nil},
	} {
		lines := classed(parsed(t, plot(Line{Temperature, c.points})), "temperature")
		if c.want == nil {
			if len(lines) != 0 {
				t.Errorf("%s: something is drawn: %v", name, lines)
			}
			continue
		}
		if len(lines) != 1 {
			t.Errorf("%s: %d paths", name, len(lines))
			continue
		}
		if got := corners(t, lines[0].attrs["d"]); !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s: %v, want %v", name, got, c.want)
		}
	}
}

// A scale that runs backwards mirrors the drawing.
func TestReversedPlot(t *testing.T) {
	p := Plot{X: Scale{100, 0}, Now: 25, Panels: []Panel{{Low: 10, High: 0, Height: 100, Items: []Item{Line{Temperature, []Point{{0, 0}, {100, 10}}}}}}}
	all := parsed(t, p.HTML())
	if got, want := corners(t, classed(all, "temperature")[0].attrs["d"]), [][][2]int{{{1000, 0}, {0, 1000}}}; !reflect.DeepEqual(got, want) {
		t.Errorf("the line is %v, want %v", got, want)
	}
	if now := classed(all, "now"); len(now) != 1 || now[0].attrs["x1"] != "75%" {
		t.Errorf("now is %v", now)
	}
}

func TestSpreadAndFan(t *testing.T) {
	all := parsed(t, plot(Spread{Between, []Range{{0, 2, 4}, {10, 3, 5}, {20, nan, 6}, {30, 1, 2}}}, Fan(Point{50, 5}, Range{100, 2, 8})))
	if got, want := corners(t, classed(all, "between")[0].attrs["d"]), [][][2]int{{{0, 600}, {100, 500}, {100, 700}, {0, 800}}}; !reflect.DeepEqual(got, want) {
		t.Errorf("the spread is %v, want %v", got, want)
	}
	if got, want := corners(t, classed(all, "fan")[0].attrs["d"]), [][][2]int{{{500, 500}, {1000, 200}, {1000, 800}, {500, 500}}}; !reflect.DeepEqual(got, want) {
		t.Errorf("the fan is %v, want %v", got, want)
	}
}

// A band reaches the edge where it has no end, and is cut off there where its end is beyond.
func TestBand(t *testing.T) {
	for name, c := range map[string]struct {
		band      Band
		y, height string
	}{
		"inside":    {Band{Wanted, 4, 6}, "40", "20"},
		"no high":   {Band{Wanted, 4, nan}, "0", "60"},
		"no low":    {Band{Unsafe, -inf, 2}, "80", "20"},
		"over both": {Band{Wanted, -5, 50}, "0", "100"},
		"outside":   {Band{Wanted, 20, 30}, "", ""},
		"no height": {Band{Wanted, 5, 5}, "", ""},
		"reversed":  {Band{Wanted, 6, 4}, "", ""},
	} {
		found := classed(parsed(t, plot(c.band)), string(c.band.Style))
		if c.y == "" {
			if len(found) != 0 {
				t.Errorf("%s: %v is drawn", name, found)
			}
			continue
		}
		if len(found) != 1 || found[0].attrs["y"] != c.y || found[0].attrs["height"] != c.height {
			t.Errorf("%s: %v, want y %s and height %s", name, found, c.y, c.height)
		}
		if striped := found[0].attrs["fill"] == "url(#stripes)"; striped != (c.band.Style == Unsafe) {
			t.Errorf("%s: striped is %v", name, striped)
		}
	}
}

// Labels at the right never lie over one another: the most important has its place.
func TestLabelsHaveRoom(t *testing.T) {
	p := Plot{X: Scale{0, 1}, Now: nan, Panels: []Panel{{Low: 0, High: 10, Height: 100, Labels: []Label{{5, "five"}, {6, "six"}, {8, "eight"}, {11, "outside"}, {nan, "none"}, {0, "edge"}}}}}
	if got, want := texts(parsed(t, p.HTML())), []string{"five", "eight", "edge"}; !slices.Equal(got, want) {
		t.Errorf("labels %v, want %v", got, want)
	}
}

// Texts at the ends of the axis stay inside; ticks beyond it are none.
func TestAxis(t *testing.T) {
	p := Plot{X: Scale{0, 100}, Now: 100, NowText: "now", Panels: []Panel{{High: 1, Height: 50}}, Ticks: []Tick{{0, "a"}, {50, "b"}, {99, "c"}, {120, "d"}, {nan, "e"}}}
	all := parsed(t, p.HTML())
	got := map[string]string{}
	for _, s := range all {
		if s.name == "text" {
			got[s.text] = s.attrs["x"] + " " + s.attrs["text-anchor"]
		}
	}
	if want := map[string]string{"a": "0% start", "b": "50% middle", "c": "99% end", "now": "100% end"}; !reflect.DeepEqual(got, want) {
		t.Errorf("the texts lie at %v, want %v", got, want)
	}
	if all[0].attrs["height"] != "96" || all[0].attrs["aria-hidden"] != "true" {
		t.Errorf("the drawing is %v", all[0].attrs)
	}
}

// What a drawing shows is said to those who only hear it: by its label and by a table, which
// the pointer reads too. Every text is escaped.
func TestFigure(t *testing.T) {
	const evil = `<script>"'&`
	f := Figure{Plot: Plot{Label: evil, X: Scale{0, 1}, Now: nan, Panels: []Panel{{High: 1, Height: 20, Name: evil, Items: []Item{Word{0.2, 0.5, evil}, Mark{Warm, 0.5, nan, evil}}}}},
		Caption: evil, Table: Table{Title: evil, Head: []string{evil, "b"}, Rows: []Row{{0.25, []string{"1", evil}}, {nan, []string{"2", "x"}}}}}
	all := parsed(t, f.HTML())
	if s := all[1]; s.name != "svg" || s.attrs["role"] != "img" || s.attrs["aria-label"] != evil {
		t.Errorf("the drawing is %+v", s)
	}
	var rows, heads []shape
	for _, s := range all {
		switch {
		case s.name == "tr":
			rows = append(rows, s)
		case s.name == "th":
			heads = append(heads, s)
		case s.name == "script":
			t.Error("a text is markup")
		}
	}
	if len(rows) != 3 || rows[1].attrs["data-x"] != "25" || rows[2].attrs["data-x"] != "" {
		t.Errorf("the rows are %v", rows)
	}
	if len(heads) != 4 || heads[0].attrs["scope"] != "col" || heads[2].attrs["scope"] != "row" {
		t.Errorf("the heads are %v", heads)
	}
	if (Table{Head: []string{"a"}}).HTML() != "" {
		t.Error("a table without rows is drawn")
	}
	f.Table.Hidden = true
	if all := parsed(t, f.HTML()); len(classed(all, "unseen")) != 1 || len(named(all, "table")) != 1 {
		t.Error("a hidden table is not there for those who hear the page")
	}
}

// Every style and symbol has its rule in the style sheet, and no drawing has inline styles.
func TestStyleSheet(t *testing.T) {
	sheet := string(StyleSheet)
	classes := []string{string(Wanted), string(Unsafe), string(Need), string(SafeLimit), string(SetPoint), string(Temperature), string(Humidity), string(Between), string(Coming), string(Cast)}
	for _, s := range shapes {
		classes = append(classes, s.class)
	}
	for _, c := range classes {
		if c != string(Unsafe) && !strings.Contains(sheet, "."+c+" ") && !strings.Contains(sheet, "."+c+",") {
			t.Errorf("the class %s has no rule", c)
		}
	}
	for _, s := range parsed(t, Symbols()) {
		if s.attrs["style"] != "" {
			t.Errorf("an inline style: %v", s)
		}
	}
}

func named(all []shape, name string) (found []shape) {
	for _, s := range all {
		if s.name == name {
			found = append(found, s)
		}
	}
	return found
}
