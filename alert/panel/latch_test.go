package panel_test

import (
	"math"
	"slices"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
)

// A zone of two probes is too cold by one of them, which then goes silent.
func TestSilentSourceHoldsItsAlarm(t *testing.T) {
	sources := func(after time.Duration, far float64, silent bool) []panel.Source {
		return []panel.Source{
			{Name: "near", Value: 23, At: start.Add(after)},
			{Name: "far", Value: far, At: start, Silent: silent},
		}
	}
	// latched shows the alarm a value, and reports whether it did not take it.
	latched := func(p *panel.Panel, v float64, sources []panel.Source) bool {
		p.ShowLatched(cool, panel.Reading{Value: v, Known: true}, func() []panel.Source { return sources })
		x, _ := p.Alarm(cool)
		return x.Value != v
	}
	p := made()
	show(p, 0, cool, 23)
	if latched(p, 22, sources(0, 19, true)) {
		t.Error("latched before it stands")
	}
	show(p, 0, cool, 19)
	for what, x := range map[string]struct {
		v       float64
		sources []panel.Source
		want    bool
	}{
		"both answer, one cold":             {18.9, sources(time.Minute, 18.9, false), false},
		"the cold one is silent":            {23, sources(time.Minute, 19, true), true},
		"the other one is cold too":         {18.9, sources(time.Minute, 19, true), false},
		"silent, but it was back before":    {23, sources(time.Minute, 22, true), false},
		"silent, and it never gave a value": {23, sources(time.Minute, math.NaN(), true), false},
	} {
		p := made()
		show(p, 0, cool, 19)
		if got := latched(p, x.v, x.sources); got != x.want {
			t.Errorf("%s: latched %v, want %v", what, got, x.want)
		}
	}
	// A restart knows it from the journal.
	latched(p, 23, sources(time.Minute, 19, true))
	p = made(p.Unwritten().Changed()...)
	silent := []panel.Source{{Name: "near", Value: 23, At: start.Add(time.Hour)}, {Name: "far", Value: math.NaN(), Silent: true}}
	if !latched(p, 23, silent) {
		t.Error("not latched after a restart")
	}
	// An alarm that ended forgets.
	for i := range 3 {
		show(p, 2*time.Hour+time.Duration(i)*poll, cool, 23)
		latched(p, 23, nil)
	}
	if x, _ := p.Alarm(cool); x.True || len(x.Held) > 0 {
		t.Errorf("it stands %v and holds %v", x.True, x.Held)
	}
}

// The journal learns of a source that is added or goes silent, not of each value.
func TestJournalOfTheLatch(t *testing.T) {
	p := made()
	show(p, 0, cool, 19)
	p.Unwritten().Written()
	never, far := func(string) bool { return false }, func(name string) bool { return name == "far" }
	for i, x := range []struct {
		held   map[string]float64
		silent func(string) bool
		want   bool
	}{
		{map[string]float64{"far": 19}, never, true},
		{map[string]float64{"far": 18.9}, never, false},
		{map[string]float64{"far": 18.9, "near": 19.5}, never, true},
		{map[string]float64{"far": 18.9}, never, false},
		{map[string]float64{"far": 18.8, "near": 19.6}, never, false},
		{map[string]float64{"far": 18.8, "near": 19.6}, far, true},
		{map[string]float64{"far": 18.8, "near": 19.6}, far, false},
	} {
		p.Hold(cool, x.held, x.silent)
		if got := slices.Contains(changed(p), cool.String()); got != x.want {
			t.Errorf("step %d: written %v, want %v", i, got, x.want)
		}
		p.Unwritten().Written()
	}
	if p.Hold(alert.Key{Kind: alert.Late}, map[string]float64{"far": 1}, far) {
		t.Error("a key that is not watched is held")
	}
}
