package rules_test

import (
	"math"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/rules"
)

// wetBox is a bench with a box with eggs that was weighed and has lost little, with what is
// foretold of it.
func wetBox(t *testing.T, f rules.Foretold) (*bench, *rules.Foretold) {
	b, lost := newBench(t), 0.05
	b.v.Boxes = []rules.Box{{Name: "B1", Zone: "room", Eggs: true, Lost: &lost, Foretold: f}}
	b.limits()
	return b, &b.v.Boxes[0].Foretold
}

// run looks every ten minutes.
func (b *bench) run(from, to time.Duration) {
	for at := from; at <= to; at += 10 * time.Minute {
		b.at(at)
	}
}

func share(v float64) *float64 { return &v }

// A computed loss calls at the shares at which a weighed one does.
func TestForetoldDrying(t *testing.T) {
	notice, warning := rules.Drying("B1", alert.Notice), rules.Drying("B1", alert.Warning)
	for v, want := range map[float64][2]bool{0.19: {}, 0.2: {true, false}, 0.39: {true, false}, 0.4: {true, true}} {
		b, _ := wetBox(t, rules.Foretold{Share: share(v), Times: 1})
		b.run(0, 2*time.Hour)
		if got := [2]bool{b.panel.Stands(notice), b.panel.Stands(warning)}; got != want {
			t.Errorf("of %g it calls %v, want %v", v, got, want)
		}
	}
	b, _ := wetBox(t, rules.Foretold{Unknown: true, Times: math.NaN()})
	b.run(0, 2*time.Hour)
	if b.panel.Stands(notice) {
		t.Error("a loss that is not known calls")
	}
}

// An alarm that was computed stands while nothing is known, until the box is weighed or watered.
func TestForetoldDryingThatIsNoLongerKnown(t *testing.T) {
	notice := rules.Drying("B1", alert.Notice)
	b, f := wetBox(t, rules.Foretold{Share: share(0.25), Times: 1, Tended: start.Add(-9 * 24 * time.Hour)})
	b.run(0, 2*time.Hour)
	f.Share, f.Unknown, f.Times = nil, true, math.NaN()
	b.run(2*time.Hour, 30*time.Hour)
	if !b.panel.Stands(notice) {
		t.Fatal("it ended although nothing is known")
	}
	f.Tended = start.Add(30 * time.Hour)
	b.run(30*time.Hour, 31*time.Hour)
	if b.panel.Stands(notice) {
		t.Error("it stands although the box was weighed")
	}
}

// A weighing that shows less than was computed makes a warning a notice. It is not told as over.
func TestDryingThatIsNoWarningAnyMoreIsNotToldAsOver(t *testing.T) {
	notice, warning := rules.Drying("B1", alert.Notice), rules.Drying("B1", alert.Warning)
	for weighed, over := range map[float64]bool{0.38: false, 0.05: true} {
		b, f := wetBox(t, rules.Foretold{Share: share(0.41), Times: 1})
		b.run(0, 2*time.Hour)
		b.panel.Take()
		f.Share, *b.v.Boxes[0].Lost = nil, weighed
		b.run(2*time.Hour, 4*time.Hour)
		if b.panel.Stands(warning) || b.panel.Stands(notice) == over {
			t.Errorf("weighed at %g: warning %v, notice %v", weighed, b.panel.Stands(warning), b.panel.Stands(notice))
		}
		told := false
		for _, e := range b.panel.Take() {
			told = told || e.Key == warning && e.Notify
		}
		if told != over {
			t.Errorf("weighed at %g: the end of the warning is told: %v", weighed, told)
		}
		f.Share = share(0.42)
		b.run(4*time.Hour, 6*time.Hour)
		again := false
		for _, e := range b.panel.Take() {
			again = again || e.Key == warning && e.Notify && e.To == alert.Active
		}
		if !again {
			t.Errorf("weighed at %g: the next warning is not told", weighed)
		}
	}
}

func TestDryingFast(t *testing.T) {
	k := rules.DryingFast("room")
	b, f := wetBox(t, rules.Foretold{Times: 1.9})
	b.run(0, time.Hour)
	if b.panel.Stands(k) {
		t.Error("1.9 times is called")
	}
	f.Times = 2
	b.run(time.Hour, 2*time.Hour)
	if x, _ := b.panel.Alarm(k); x.State != alert.Active {
		t.Errorf("at twice the usual it is %s", x.State)
	}
	f.Times = 1.6
	b.run(2*time.Hour, 5*24*time.Hour)
	if !b.panel.Stands(k) {
		t.Error("it ended at 1.6 times")
	}
	f.Times, f.Unknown = math.NaN(), true
	b.run(5*24*time.Hour, 9*24*time.Hour)
	if !b.panel.Stands(k) {
		t.Error("it ended although nothing is known")
	}
	f.Times, f.Unknown = 1.4, false
	b.run(9*24*time.Hour, 13*24*time.Hour)
	if x, _ := b.panel.Alarm(k); x.State != alert.Normal || x.True {
		t.Errorf("days after it was 1.4 times it is %s", x.State)
	}
	for _, e := range b.panel.Take() {
		if e.Key == k && e.Notify && e.To != alert.Active {
			t.Errorf("its end is told: %+v", e)
		}
	}
}

// Dry or hot air with an alarm of its own is told once.
func TestDryingFastIsToldByTheHumidity(t *testing.T) {
	k := rules.DryingFast("room")
	low := 0.5
	b, f := wetBox(t, rules.Foretold{Times: 1})
	b.room().Humidity = &rules.Band{Low: &low, Deadband: 0.02}
	b.limits()
	for _, p := range b.v.Probes {
		p.Humidity = 0.3
	}
	b.run(0, time.Hour)
	f.Times = 2.5
	b.run(time.Hour, 3*time.Hour)
	if x, _ := b.panel.Alarm(k); x.State != alert.Suppressed {
		t.Errorf("beside the alarm of the humidity it is %s", x.State)
	}
	for _, p := range b.v.Probes {
		p.Humidity = 0.6
	}
	b.run(3*time.Hour, 6*time.Hour)
	if x, _ := b.panel.Alarm(k); x.State != alert.Suppressed {
		t.Errorf("after the alarm of the humidity it is %s: it was told", x.State)
	}
	f.Times = 1
	b.run(6*time.Hour, 4*24*time.Hour)
	f.Times = 2.5
	b.run(4*24*time.Hour, 4*24*time.Hour+time.Hour)
	if x, _ := b.panel.Alarm(k); x.State != alert.Active {
		t.Errorf("the next time, alone, it is %s", x.State)
	}
}
