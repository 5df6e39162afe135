package cycle_test

import (
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/cycle"
)

var begin = time.Date(2026, 3, 1, 6, 0, 0, 0, time.UTC)

// limitOf is 1.5 K beyond the set point, and 1 K beyond where the thermostat switches.
func (i incubator) limitOf(high bool) alert.Limit {
	off := max(1.5, i.swing/2+1)
	if high {
		return alert.Limit{High: true, At: setCelsius + off}
	}
	return alert.Limit{At: setCelsius - off}
}

// fallTime is about how long a failure takes from where the thermostat would switch to the limit.
func (i incubator) fallTime(high bool) time.Duration {
	perHour := i.swing / (i.period.Hours() * (1 - i.duty))
	if high {
		perHour = i.swing / (i.period.Hours() * i.duty)
	}
	way := math.Abs(i.limitOf(high).At-setCelsius) - i.swing/2
	return time.Duration(way / perHour * float64(time.Hour))
}

// made are incubators of all paces, periods and swings, in a room that is cooler at night, on a
// set point that moves a little over the day.
func made() (all []incubator) {
	for _, every := range []time.Duration{10 * time.Second, 5 * time.Minute} {
		for _, period := range []time.Duration{10 * time.Minute, 20 * time.Minute, 45 * time.Minute, 2 * time.Hour} {
			for _, swing := range []float64{0.2, 0.5, 2} {
				for _, duty := range []float64{0.3, 0.6} {
					all = append(all, incubator{
						every: every, period: period, swing: swing, duty: duty, noise: 0.03, step: 0.1, room: 2, slow: 0.2,
						seed: uint64(len(all) + 1),
					})
				}
			}
		}
	}
	return all
}

// deaths are what came of heaters that died, or of those that did not stop.
type deaths struct {
	n, learned, called, alone, first, within int
	there, leads, aloneLeads, gains          []float64 // min
}

func (d *deaths) add(o deaths) {
	d.n, d.learned, d.called, d.alone, d.first, d.within = d.n+o.n, d.learned+o.learned, d.called+o.called, d.alone+o.alone, d.first+o.first, d.within+o.within
	d.there, d.leads = append(d.there, o.there...), append(d.leads, o.leads...)
	d.aloneLeads, d.gains = append(d.aloneLeads, o.aloneLeads...), append(d.gains, o.gains...)
}

func middle(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	return slices.Sorted(slices.Values(v))[len(v)/2]
}

func mean(v []float64) (m float64) {
	for _, x := range v {
		m += x / float64(len(v))
	}
	return m
}

// die lets the heater die, or not stop, at any phase of the cycle on the second to fourth day.
func die(i incubator, high bool) (all deaths) {
	limit := i.limitOf(high)
	c, d, rng := i.start(), cycle.NewDrift(time.UTC, limit), rand.New(rand.NewPCG(i.seed, 9))
	for next := 24 * time.Hour; c.at < 4*24*time.Hour; {
		d.Observe(begin.Add(c.at), c.next(), true)
		if c.at >= next {
			next += time.Duration(rng.Float64() * float64(5*time.Hour))
			all.one(c.clone(rng.Uint64()), *d, limit)
		}
	}
	return all
}

// one follows a failure to the limit.
func (x *deaths) one(c *course, d cycle.Drift, limit alert.Limit) {
	if _, ok := d.Cycle(); ok {
		x.learned++
	}
	x.n++
	died := c.at
	c.stuck, c.on = true, limit.High
	var called, alone time.Duration
	var said alert.Projection
	for v := c.next(); !limit.Beyond(v); v = c.next() {
		if d.Observe(begin.Add(c.at), v, true) && called == 0 {
			called = c.at
			said, _ = d.Projection(0)
		}
		if _, ok := d.Drift.Projection(0); ok && alone == 0 {
			alone = c.at
		}
	}
	lead := func(at time.Duration) float64 {
		if at == 0 {
			return 0
		}
		return (c.at - at).Minutes()
	}
	if called > 0 {
		x.called++
	}
	if alone > 0 {
		x.alone++
	}
	if called > 0 && (alone == 0 || called < alone) {
		x.first++
		if end := begin.Add(c.at); !end.Before(said.Earliest) && (said.Latest.IsZero() || !end.After(said.Latest)) {
			x.within++
		}
	}
	x.there = append(x.there, (c.at - died).Minutes())
	x.leads, x.aloneLeads = append(x.leads, lead(called)), append(x.aloneLeads, lead(alone))
	x.gains = append(x.gains, lead(called)-lead(alone))
}

// A heater that dies, or does not stop, is called before the limit at whatever phase of the
// cycle it does so, and never later than by the drift alone. The table says by how much
// earlier.
func TestDeadHeater(t *testing.T) {
	for _, high := range []bool{false, true} {
		var all deaths
		for _, i := range made() {
			x := die(i, high)
			all.add(x)
			t.Logf("high %-5v every %5v, cycle %6v of %.1f K, on %.0f %%: known for %2d of %2d; called %2d, by the drift alone %2d, by the cycle first %2d; median of the time there is %3.0f min, of the lead %3.0f, of the drift's alone %3.0f, most gained %3.0f",
				high, i.every, i.period, i.swing, 100*i.duty, x.learned, x.n, x.called, x.alone, x.first, middle(x.there), middle(x.leads), middle(x.aloneLeads), slices.Max(x.gains))
			if slices.Min(x.gains) < 0 {
				t.Errorf("high %v, %+v: called later than by the drift alone", high, i)
			}
			if i.fallTime(high) >= 20*time.Minute && x.called < x.n {
				t.Errorf("high %v, %+v: %d of %d called", high, i, x.called, x.n)
			}
			evident := i.swing >= 0.5 && i.period >= 20*time.Minute
			if evident && x.learned < x.n {
				t.Errorf("high %v, %+v: the cycle was known for %d of %d", high, i, x.learned, x.n)
			}
		}
		within := float64(all.within) / float64(all.first)
		t.Logf("high %v: %d failures, %d called, by the drift alone %d, by the cycle first %d; mean time there is %.0f min, mean lead %.1f, of the drift alone %.1f; %.0f %% of the cycle's calls in their interval",
			high, all.n, all.called, all.alone, all.first, mean(all.there), mean(all.leads), mean(all.aloneLeads), 100*within)
		if all.first < all.n/5 || mean(all.leads) < 1.05*mean(all.aloneLeads) || all.called < all.alone || within < 0.8 {
			t.Errorf("high %v: the cycle does not make it earlier", high)
		}
	}
}

// quiet counts in 30 days without a failure the calls of the cycle that the drift alone does not
// make within two hours, and those of the drift alone.
func quiet(i incubator, high bool) (byCycle, byDrift int) {
	limit := i.limitOf(high)
	c, d := i.start(), cycle.NewDrift(time.UTC, limit)
	var called time.Duration // by the cycle, and not yet by the drift
	was, drifted := false, false
	for c.at < 30*24*time.Hour {
		d.Observe(begin.Add(c.at), c.next(), true)
		is := d.Stopped() != cycle.Stop{}
		_, drifts := d.Drift.Projection(0)
		if is && !was {
			called = c.at
		}
		if drifts {
			called = 0
		}
		if called > 0 && c.at >= called+2*time.Hour {
			called = 0
			byCycle++
		}
		if drifts && !drifted {
			byDrift++
		}
		was, drifted = is, drifts
	}
	return byCycle, byDrift
}

// A cycle that goes on makes no call, whatever a keeper does: doors twice a day, a set point
// that is changed by 0.3 K, a thermostat's timer that takes 3 K at night.
func TestRunningHeater(t *testing.T) {
	const day = 24 * time.Hour
	for _, c := range []struct {
		name   string
		change func(*incubator)
		most   int // calls in 96 months of an end
	}{
		{"nothing", func(*incubator) {}, 0},
		{"two doors a day", func(i *incubator) { i.doors = 2 }, 0},
		{"set point changed by 0.3 K", func(i *incubator) {
			i.set = []setPoint{{5*day + 5*time.Hour, -0.3}, {10 * day, 0.3}, {15 * day, 0.3}, {25 * day, -0.3}}
		}, 0},
		{"set point changed by 0.5 K, a third of the way to the limit", func(i *incubator) {
			i.set = []setPoint{{10*day + 5*time.Hour, -0.5}, {20 * day, 1}, {25 * day, -0.5}}
		}, 12},
		{"night setback by 3 K", func(i *incubator) { i.setback = 3 }, 0},
	} {
		byCycle, byDrift, months := 0, 0, 0
		for _, high := range []bool{false, true} {
			for n, i := range made() {
				if n%7 > 0 && os.Getenv("OOTHERM_FULL") != "1" {
					continue
				}
				c.change(&i)
				a, b := quiet(i, high)
				if a > 0 {
					t.Logf("%s: high %v, %d by the cycle, %d by the drift: %+v", c.name, high, a, b, i)
				}
				byCycle, byDrift, months = byCycle+a, byDrift+b, months+1
			}
		}
		t.Logf("%s, %d months of an end: %d calls by the cycle alone, %d by the drift", c.name, months, byCycle, byDrift)
		if byCycle > c.most {
			t.Errorf("%s: %d calls by the cycle alone, more than %d", c.name, byCycle, c.most)
		}
	}
}

// A room without a cycle is watched as by the drift alone.
func TestRoomWithoutCycle(t *testing.T) {
	for seed := range uint64(6) {
		limit := alert.Limit{At: 19}
		rng := rand.New(rand.NewPCG(seed, 3))
		d, alone := cycle.NewDrift(time.UTC, limit), alert.NewDrift(time.UTC, limit)
		wander, calls, was := 0.0, 0, false
		for at := time.Duration(0); at < 20*24*time.Hour; at += time.Minute {
			wander = wander*0.999 + 0.04*rng.NormFloat64()
			v := math.Round((22+math.Sin(2*math.Pi*at.Hours()/24)+wander)*10) / 10
			now := begin.Add(at)
			a, b := d.Observe(now, v, true), alone.Observe(now, v, true)
			p, _ := d.Projection(0)
			q, _ := alone.Projection(0)
			if a != b || p != q {
				t.Fatalf("seed %d, %v: %v %+v, by the drift alone %v %+v", seed, now, a, p, b, q)
			}
			if a && !was {
				calls++
			}
			was = a
		}
		if _, ok := d.Cycle(); ok || calls == 0 {
			t.Errorf("seed %d: a cycle is evident: %v; %d calls", seed, ok, calls)
		}
	}
}

// A call ends when the heater comes on, when the limit is reached, or after a hole. What is told
// of it is when it last was on, and how often it usually is.
func TestCallEnds(t *testing.T) {
	i := incubator{every: time.Minute, period: 45 * time.Minute, swing: 0.6, duty: 0.5, noise: 0.02, step: 0.01, room: 0, seed: 3}
	limit := i.limitOf(false)
	c, d := i.start(), cycle.NewDrift(time.UTC, limit)
	step := func() float64 {
		v := c.next()
		d.Observe(begin.Add(c.at), v, true)
		return v
	}
	for c.at < 36*time.Hour {
		step()
	}
	l, ok := d.Cycle()
	if !ok || math.Abs(l.Period.Minutes()-45) > 5 || math.Abs(l.Swing-0.6) > 0.1 || math.Abs(l.Low-(setCelsius-0.3)) > 0.1 {
		t.Fatalf("the cycle: %+v, %v", l, ok)
	}
	c.stuck, c.on = true, false
	for d.Stopped() == (cycle.Stop{}) && c.at < 40*time.Hour {
		step()
	}
	s := d.Stopped()
	if s.Since < l.Falls || s.Since > 2*l.Falls || s.Usual != l.Fall {
		t.Errorf("it stopped: %+v, with %+v", s, l)
	}
	mended, dying := *d, *c
	c.stuck = false
	for from := c.at; d.Stopped() != (cycle.Stop{}) && c.at < from+2*time.Hour; {
		step()
	}
	if d.Stopped() != (cycle.Stop{}) {
		t.Error("the call goes on after the heater came on")
	}
	if _, ok := d.Cycle(); ok {
		t.Error("the cycle before the call counts after it")
	}
	*d, *c = mended, dying
	for !limit.Beyond(step()) {
	}
	if x := d.Stopped(); x != (cycle.Stop{}) {
		t.Errorf("the call goes on past the limit: %+v", x)
	}
}
