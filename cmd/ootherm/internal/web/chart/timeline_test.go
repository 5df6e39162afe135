package chart

import (
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// box is the least and the most place of the ends of an egg's four curves.
func box(t *testing.T, d string) (left, right, top, foot float64) {
	t.Helper()
	x, y := 0.0, 0.0
	for i, part := range regexp.MustCompile(`[Mcs][^Mcsz]*`).FindAllString(d, -1) {
		var v []float64
		for _, s := range strings.Fields(strings.ReplaceAll(part[1:], "-", " -")) {
			f, err := strconv.ParseFloat(s, 64)
			if err != nil {
				t.Fatal(err)
			}
			v = append(v, f)
		}
		if part[0] == 'M' {
			x, y = v[0], v[1]
		} else {
			x, y = x+v[len(v)-2], y+v[len(v)-1]
		}
		if i == 0 {
			left, right, top, foot = x, x, y, y
		}
		left, right, top, foot = min(left, x), max(right, x), min(top, y), max(foot, y)
	}
	return left, right, top, foot
}

// An egg reaches from check from to late after, its yolk lies inside and its line at the
// likely day; the surer the taller.
func TestWindow(t *testing.T) {
	line := TimeLine{X: Scale{0, 100 * day}, Now: nan}
	egg := func(w Window) (left, right, height float64, all []shape) {
		all = parsed(t, line.Row(w))
		found := classed(all, "egg")
		if len(found) != 1 {
			t.Fatalf("%d eggs of %v", len(found), w)
		}
		left, right, top, foot := box(t, found[0].attrs["d"])
		return left, right, foot - top, all
	}
	left, right, sure, all := egg(Window{20 * day, 25 * day, 34 * day})
	if left != 200 || right != 340 {
		t.Errorf("the egg reaches from %v to %v, want 200 to 340", left, right)
	}
	inner, outer, _, _ := box(t, classed(all, "yolk")[0].attrs["d"])
	if !(inner > 200 && inner < 250 && outer > 250 && outer < 340) {
		t.Errorf("the yolk reaches from %v to %v", inner, outer)
	}
	if likely := classed(all, "likely"); len(likely) != 1 || !strings.HasPrefix(likely[0].attrs["d"], "M250 ") {
		t.Errorf("the likely day is %v", likely)
	}
	if _, _, unsure, _ := egg(Window{20 * day, 30 * day, 60 * day}); unsure >= sure {
		t.Errorf("an unsure egg is %v high, a sure one %v", unsure, sure)
	}
	for _, w := range []Window{{20 * day, 20 * day, 20 * day}, {-500 * day, 20 * day, 900 * day}} {
		egg(w)
	}
	if _, _, _, all := egg(Window{20 * day, nan, 30 * day}); len(classed(all, "yolk"))+len(classed(all, "likely")) != 0 {
		t.Error("an egg without a likely day has a yolk")
	}
	for _, w := range []Window{{nan, 1, 2}, {3, 2, 1}, {1, 2, inf}} {
		if all := parsed(t, line.Row(w)); len(classed(all, "egg")) != 0 {
			t.Errorf("%v is drawn", w)
		}
	}
}

// Each side of a lopsided egg is as round as that of an even one: the handle at the middle has
// the length of its own side.
func TestEggIsRoundOnBothSides(t *testing.T) {
	line := TimeLine{X: Scale{0, 100 * day}, Now: nan}
	for name, w := range map[string]Window{"even": {20 * day, 30 * day, 40 * day}, "blunt end near": {20 * day, 22 * day, 60 * day}, "pointed end near": {20 * day, 58 * day, 60 * day}} {
		d := classed(parsed(t, line.Row(w)), "egg")[0].attrs["d"]
		a, b := 10*(w.Likely-w.From)/day, 10*(w.To-w.Likely)/day // thousandths of the width
		curves := strings.FieldsFunc(strings.ReplaceAll(strings.TrimSuffix(d, "z"), "-", " -"), func(r rune) bool { return r == 'c' || r == 's' })
		if len(curves) != 5 {
			t.Fatalf("%s: %d curves in %s", name, len(curves)-1, d)
		}
		for i, side := range map[int]float64{2: b, 4: -a} {
			if got, err := strconv.ParseFloat(strings.Fields(curves[i])[0], 64); err != nil || math.Abs(got-0.5523*side) > 0.5 {
				t.Errorf("%s: the handle of curve %d is %v, want %.0f", name, i, got, 0.5523*side)
			}
		}
	}
}

// The likelier half lies a little nearer to the likely day than to the ends.
func TestQuartiles(t *testing.T) {
	low, high := Window{0, 12.816, 12.816 + 16.449}.quartiles()
	if low < 6.07 || low > 6.08 || high < 19.56 || high > 19.57 {
		t.Errorf("the quartiles are %v and %v", low, high)
	}
}

func TestRowMarks(t *testing.T) {
	line := NewTimeLine(time.Date(2026, 10, 20, 0, 0, 0, 0, time.UTC), time.Date(2026, 11, 29, 0, 0, 0, 0, time.UTC), time.Date(2027, 2, 1, 0, 0, 0, 0, time.UTC), nil)
	at := func(month time.Month, d int) float64 { return Seconds(time.Date(2026, month, d, 0, 0, 0, 0, time.UTC)) }
	all := parsed(t, line.Row(
		Begun{at(10, 1)}, Begun{at(11, 1)}, Begun{nan}, Wedge{[]Point{{at(10, 25), 0}, {at(11, 1), 0.5}, {at(11, 5), nan}, {at(11, 10), 0.6}, {at(11, 20), 2}}},
		Wait{at(11, 29), at(12, 10)}, Wait{at(12, 10), at(11, 29)}, Late{at(11, 20), at(11, 29)}, Mark{Hatched, at(11, 28), nan, ""}, Mark{Lost, at(1, 1), nan, ""},
		LayBox{at(11, 20), at(11, 25), at(12, 20)}, LayBox{nan, nan, nan}))
	if got := texts(all); !slices.Equal(got, []string{"‹"}) {
		t.Errorf("before the left edge stands %v", got)
	}
	uses := map[string]int{}
	for _, s := range all {
		if s.name == "use" {
			uses[s.attrs["href"]]++
		}
	}
	if uses["#s-laid"] != 1 || uses["#s-hatched"] != 1 || uses["#s-lost"] != 0 {
		t.Errorf("the marks are %v", uses)
	}
	for class, want := range map[string]int{"wedge": 1, "wait": 1, "late": 1, "laybox": 1, "laylikely": 1} {
		if got := len(classed(all, class)); got != want {
			t.Errorf("%d of %s, want %d", got, class, want)
		}
	}
	wedge := corners(t, classed(all, "wedge")[0].attrs["d"])
	if len(wedge) != 2 || wedge[0][0][1] <= wedge[0][1][1] {
		t.Errorf("a wedge with a gap is %v; want two parts that grow", wedge)
	}
	for _, run := range wedge {
		for _, p := range run {
			if p[1] < 80 || p[1] > 180 {
				t.Errorf("the wedge is at %v, higher than one that is done", p)
			}
		}
	}
	months := parsed(t, line.Head("today"))
	head, wide := texts(months), texts(classed(months, "desk"))
	if !slices.Contains(head, "today") || !slices.Contains(head, "Jan") || !slices.Equal(wide, []string{"Nov"}) {
		t.Errorf("the head says %v, of these %v on a desk; Nov would lie under today on a phone", head, wide)
	}
	if got := len(classed(parsed(t, line.Grid()), "now")); got != 1 {
		t.Errorf("%d lines of today", got)
	}
}

// A phone has room for the months of two years.
func TestMonthsAreThinned(t *testing.T) {
	from := time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)
	if n := len(NewTimeLine(from, from, from.AddDate(2, 0, 0), nil).Months); n < 4 || n > 9 {
		t.Errorf("%d months of two years", n)
	}
}

func TestInterval(t *testing.T) {
	all := parsed(t, Interval{Scale{0, 1}, 0.2, 0.5, 0.9, 0.7, true}.HTML())
	if i := classed(all, "interval"); len(i) != 1 || i[0].attrs["x1"] != "20%" || i[0].attrs["x2"] != "90%" {
		t.Errorf("the interval is %v", i)
	}
	if e := classed(all, "estimate"); len(e) != 1 || e[0].attrs["cx"] != "50%" || len(classed(all, "ring")) != 1 || len(classed(all, "reference")) != 1 {
		t.Errorf("the estimate is %v", e)
	}
	all = parsed(t, Interval{Scale{0, 1}, nan, nan, nan, nan, false}.HTML())
	if len(classed(all, "interval"))+len(classed(all, "estimate"))+len(classed(all, "reference")) != 0 {
		t.Error("what is not known is drawn")
	}
}

func TestIconHasNoName(t *testing.T) {
	icon := parsed(t, Icon(Hatched))
	if icon[0].attrs["aria-hidden"] != "true" || icon[1].attrs["href"] != "#s-hatched" || !strings.Contains(string(Symbols()), `id="s-hatched"`) {
		t.Errorf("%v", icon)
	}
}
