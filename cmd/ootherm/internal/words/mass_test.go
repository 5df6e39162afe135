package words

import (
	"math"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

func TestMasses(t *testing.T) {
	day := func(m time.Month, d int) time.Time { return time.Date(2026, m, d, 12, 0, 0, 0, time.UTC) }
	for _, c := range [][2]string{
		{Grams(4), "4 g"}, {Grams(4.04), "4 g"}, {Grams(4.06), "4.1 g"}, {Grams(112.5), "112.5 g"}, {Grams(0.134), "0.13 g"},
		{Grams(0), "0 g"}, {Grams(-5), "−5 g"}, {Grams(100), "100 g"}, {Grams(math.NaN()), Unknown},
		{Range(3, 5), "3-5 g"}, {Range(4, 4.01), "4 g"}, {Range(math.NaN(), 4), "4 g"},
		{Ratio(1), "1 : 1"}, {Ratio(0.775), "0.78 : 1"}, {Ratio(10), "10 : 1"}, {Ratio(math.Inf(1)), Unknown},
		{Percent(0.229), "22 %"},
		{ToAdd(0, 0), "nothing"},
		{ToAdd(0, 1.5), "nothing yet: the loss, at most 1.5 g, is too small to be sure of"},
		{ToAdd(3, 9), "3-9 g (the same in ml): begin with the lower figure, never add more than the higher"},
		{Reader{}.ShortDays(day(4, 1), day(4, 2)), "1-2 Apr"}, {Reader{}.ShortDays(day(3, 28), day(4, 2)), "28 Mar-2 Apr"}, {Reader{}.ShortDays(day(4, 2), day(4, 2)), "2 Apr"},
	} {
		if c[0] != c[1] {
			t.Errorf("%q, want %q", c[0], c[1])
		}
	}
}

func TestSetUp(t *testing.T) {
	g := func(v float64) *float64 { return &v }
	kind := "vermiculite"
	for want, m := range map[string]snapshot.Filling{
		"vermiculite, 40 g dry and 40 g of water (1 : 1), 112 g with the box": {Medium: &kind, Dry: g(40), Water: g(40), WantedRatio: g(1), Total: g(112)},
		"40 g of water":      {Water: g(40)},
		"112 g with the box": {Total: g(112)},
		"":                   {WantedRatio: g(1)},
	} {
		if got := SetUp(m); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

func TestWhatIsForetoldOfABox(t *testing.T) {
	g := func(v float64) *float64 { return &v }
	at := time.Date(2026, 6, 9, 14, 30, 0, 0, time.UTC)
	d := snapshot.Drying{Since: at.Add(-3 * 24 * time.Hour), Lost: g(5), LostLow: g(4), LostHigh: g(6), LostShare: g(0.25), LastDay: g(1.5), Usual: 0.8}
	if got, want := ForetoldLoss(d, at, Reader{}), "Since 6 June 14:30, when it was last weighed or watered, it has probably lost 4-6 g of water. In all, 25 % or more of what it began with is probably gone."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	dry := d
	dry.LostShare = g(1)
	if got := ForetoldLoss(dry, at, Reader{}); !strings.HasSuffix(got, "4-6 g of water. All of what it began with is probably gone.") {
		t.Errorf("of a dry box it says %q", got)
	}
	if got, want := LossNow(d), "probably 1.5 g in the last day, usually 0.8 g"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if got := ForetoldLoss(snapshot.Drying{Usual: 1}, at, Reader{}) + LossNow(snapshot.Drying{Usual: 1}); got != "" {
		t.Errorf("of unknown air it says %q", got)
	}
	for _, c := range []struct {
		weighed *float64
		drying  *snapshot.Drying
		want    bool
	}{{g(0.1), &d, true}, {nil, &d, true}, {g(0.2), &d, false}, {g(0.1), nil, false}, {g(0.1), &snapshot.Drying{LostShare: g(0.19)}, false}, {g(0.1), &snapshot.Drying{}, false}} {
		if got := OnlyForetold(snapshot.Medium{Lost: c.weighed, Drying: c.drying}, 0.2); got != c.want {
			t.Errorf("weighed %v, computed %v: %v", c.weighed, c.drying, got)
		}
	}
}
