package alert_test

import (
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
)

// recording is one probe of testdata/rooms.
type recording struct {
	name string
	x    []value
}

type value struct {
	at time.Time
	v  float64
}

func recordings(t testing.TB) (all []recording) {
	t.Helper()
	for _, f := range []struct {
		file, time string
		fahrenheit bool
		columns    []string
	}{
		{"four-probes-30s.csv", "time", false, []string{"s1_c", "s2_c", "s3_c", "s4_c"}},
		{"house-two-rooms-15min.csv", "time", false, []string{"dining_c", "bedroom_c"}},
		{"house-irregular-10min.csv", "time", false, []string{"t1_c", "t2_c", "t3_c", "t4_c"}},
		{"lizard-lab-incubator-5min.csv", "time", false, []string{"temperature_c"}},
		{"office-hourly-fahrenheit.csv", "timestamp", true, []string{"value"}},
	} {
		file, err := os.Open("../testdata/rooms/" + f.file)
		if err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(file).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		if err := file.Close(); err != nil {
			t.Fatal(err)
		}
		when := slices.Index(rows[0], f.time)
		for _, c := range f.columns {
			r := recording{name: strings.TrimSuffix(f.file, ".csv") + " " + c}
			column := slices.Index(rows[0], c)
			for _, row := range rows[1:] {
				if row[column] == "" {
					continue
				}
				v, err := strconv.ParseFloat(row[column], 64)
				if err != nil {
					t.Fatal(err)
				}
				at, err := time.Parse("2006-01-02 15:04:05", row[when])
				if err != nil {
					t.Fatal(err)
				}
				if f.fahrenheit {
					v = (v - 32) / 1.8
				}
				r.x = append(r.x, value{at, v})
			}
			all = append(all, r)
		}
	}
	return all
}

// score is what failures laid over a recording, and the recording itself, made of
// a detector.
type score struct {
	failures, called int
	shares           []float64 // lead by time from failure to limit; 0 when not called
	leads            []float64 // hours, of the called
	plain            []float64 // hours, of the plain limit with 10 min delay: negative
	within           int       // of the called: reached between the bounds that the call gave
	falseCalls       int
	days             float64
}

func (s *score) add(o score) {
	s.failures += o.failures
	s.called += o.called
	s.shares = append(s.shares, o.shares...)
	s.leads = append(s.leads, o.leads...)
	s.plain = append(s.plain, o.plain...)
	s.falseCalls += o.falseCalls
	s.within += o.within
	s.days += o.days
}

func middle(v []float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	v = slices.Sorted(slices.Values(v))
	return v[len(v)/2]
}

func (s *score) String() string {
	return fmt.Sprintf("%4d failures, %5.1f %% called, lead %.2f of the time, %5.2f h when called (plain limit %5.2f h), %.2f within the bounds; %2d false in %5.1f days, %.2f in 30",
		s.failures, 100*float64(s.called)/float64(s.failures), middle(s.shares), middle(s.leads), middle(s.plain), float64(s.within)/float64(s.called),
		s.falseCalls, s.days, float64(s.falseCalls)*30/s.days)
}

// failAt lays heater failures, or with high runaways, over a recording at random
// starts: T' = T - drop (1 - exp(-t/tau)), drop 4-10 K, tau 1-8 h. The limit lies
// 1 K beyond the recording's 0.2 % quantile.
func failAt(r recording, high bool, swing float64, failures int) (s score) {
	sign := 1.0
	if high {
		sign = -1
	}
	var sorted []float64
	for _, x := range r.x {
		sorted = append(sorted, sign*x.v)
	}
	slices.Sort(sorted)
	limit := alert.Limit{High: high, At: sign * (sorted[len(sorted)/500] - 1)}
	laid := func(at time.Time) float64 {
		return swing / 2 * math.Sin(2*math.Pi*at.Sub(start).Minutes()/20)
	}
	rng := rand.New(rand.NewPCG(1, 5))
	starts := make([]int, failures)
	for i := range starts {
		starts[i] = rng.IntN(len(r.x))
	}
	slices.Sort(starts)
	untouched, was := alert.NewDrift(limit), false
	for i, x := range r.x {
		for len(starts) > 0 && starts[0] == i {
			starts = starts[1:]
			drop, tau := 4+6*rng.Float64(), (1+7*rng.Float64())*3600
			d, called := *untouched, time.Time{}
			before, said := was, alert.Projection{}
			for j, y := range r.x[i:] {
				v := y.v + laid(y.at) - sign*drop*(1-math.Exp(-y.at.Sub(x.at).Seconds()/tau))
				if span := y.at.Sub(x.at); limit.Beyond(v) {
					if j == 0 {
						break // it was beyond by itself
					}
					s.failures++
					s.plain = append(s.plain, -delayed(r.x[i+j:], 10*time.Minute).Hours())
					if called.IsZero() {
						s.shares = append(s.shares, 0)
						break
					}
					s.called++
					if !y.at.Before(said.Earliest) && (said.Latest.IsZero() || !y.at.After(said.Latest)) {
						s.within++
					}
					s.shares = append(s.shares, y.at.Sub(called).Seconds()/span.Seconds())
					s.leads = append(s.leads, y.at.Sub(called).Hours())
					break
				}
				now := d.Observe(y.at, v, true)
				if now && !before && called.IsZero() {
					called = y.at
					said, _ = d.Projection()
				}
				before = now
			}
		}
		now := untouched.Observe(x.at, x.v+laid(x.at), true)
		if now && !was {
			s.falseCalls++
		}
		was = now
	}
	s.days = r.x[len(r.x)-1].at.Sub(r.x[0].at).Hours() / 24
	return s
}

// delayed is how long after the limit a plain alarm comes at the recording's pace.
func delayed(x []value, delay time.Duration) time.Duration {
	for _, y := range x {
		if d := y.at.Sub(x[0].at); d >= delay {
			return d
		}
	}
	return delay
}

// TestDrift prints the table and holds what is promised of it: 90 % of failures
// called, with half of the available time as lead, at most one false call in 30
// days of a zone.
func TestDrift(t *testing.T) {
	failures := rounds(60, 600)
	for _, high := range []bool{false, true} {
		var total score
		t.Logf("high %v, %d failures in each recording", high, failures)
		for _, r := range recordings(t) {
			s := failAt(r, high, 0, failures)
			t.Logf("%-46s %s", r.name, &s)
			total.add(s)
		}
		t.Logf("%-46s %s", "all", &total)
		if share := float64(total.called) / float64(total.failures); !(share >= 0.9) {
			t.Errorf("high %v: %.1f %% called", high, 100*share)
		}
		if lead := middle(total.shares); !(lead >= 0.5) {
			t.Errorf("high %v: the median lead is %.2f of the time", high, lead)
		}
		if share := float64(total.within) / float64(total.called); !(share >= 0.6) {
			t.Errorf("high %v: %.2f of the called passed the limit between the bounds", high, share)
		}
		if n := float64(total.falseCalls) * 30 / total.days; !(n <= 1) {
			t.Errorf("high %v: %.2f false calls in 30 days", high, n)
		}
	}
}

// A thermostat's cycle of 1 K every 20 minutes is not a drift, and makes none of
// what is none.
func TestDriftKnowsAThermostat(t *testing.T) {
	for _, high := range []bool{false, true} {
		var plain, cycling score
		for _, r := range recordings(t) {
			plain.add(failAt(r, high, 0, 0))
			cycling.add(failAt(r, high, 1, 0))
		}
		t.Logf("high %v: %d false calls in %.0f days, %d with a cycle laid over", high, plain.falseCalls, plain.days, cycling.falseCalls)
		if n := float64(cycling.falseCalls) * 30 / cycling.days; !(n <= 1) {
			t.Errorf("high %v: %.2f false calls in 30 days with a cycle", high, n)
		}
	}
	for _, every := range []time.Duration{10 * time.Second, time.Minute, 5 * time.Minute, 7 * time.Minute} {
		for _, period := range []time.Duration{10 * time.Minute, 20 * time.Minute, 33 * time.Minute, time.Hour} {
			for _, limit := range []alert.Limit{{At: 23}, {High: true, At: 25}} {
				d := alert.NewDrift(limit)
				for at := time.Duration(0); at < 7*24*time.Hour; at += every {
					v := 24 + 0.5*math.Sin(2*math.Pi*at.Seconds()/period.Seconds())
					if d.Observe(start.Add(at), v, true) {
						p, _ := d.Projection()
						t.Errorf("cycle of %v, every %v, limit %v: called after %v: %+v", period, every, limit.At, at, p)
						break
					}
				}
			}
		}
	}
}

func TestDriftSaysWhen(t *testing.T) {
	for _, high := range []bool{false, true} {
		sign, limit := 1.0, alert.Limit{At: 20}
		if high {
			sign, limit = -1, alert.Limit{High: true, At: 28}
		}
		d := alert.NewDrift(limit)
		failed := 3*24*time.Hour + 7*time.Hour
		var first alert.Projection
		var called, reached time.Duration
		for at := time.Duration(0); reached == 0; at += 10 * time.Second {
			v := 24.0
			if at > failed {
				v -= sign * 8 * (1 - math.Exp(-(at-failed).Hours()/4))
			}
			if limit.Beyond(v) {
				reached = at
			}
			on := d.Observe(start.Add(at), v, true)
			if p, ok := d.Projection(); ok != on {
				t.Fatalf("high %v: Observe says %v, Projection %v", high, on, ok)
			} else if on && called == 0 {
				called, first = at, p
			}
		}
		if called < failed || called > failed+time.Hour {
			t.Fatalf("high %v: called %v after the failure; the limit was reached after %v", high, called-failed, reached-failed)
		}
		if first.Earliest.After(first.At) || !first.Latest.IsZero() && first.Latest.Before(first.At) {
			t.Errorf("high %v: %v is not between %v and %v", high, first.At, first.Earliest, first.Latest)
		}
		if end := start.Add(reached); end.Before(first.Earliest) || !first.Latest.IsZero() && end.After(first.Latest) {
			t.Errorf("high %v: foretold %v (%v to %v), reached %v", high, first.At, first.Earliest, first.Latest, end)
		}
		if first.PerHour*sign >= 0 || first.Limit != limit.At {
			t.Errorf("high %v: %+v", high, first)
		}
		if _, on := d.Projection(); on {
			t.Errorf("high %v: it is still called where the band alarm took over", high)
		}
	}
}

func TestDriftOutlivesHolesAndClocks(t *testing.T) {
	d := alert.NewDrift(alert.Limit{At: 20})
	for at := time.Duration(0); at < 48*time.Hour; at += time.Minute {
		d.Observe(start.Add(at), 24, true)
	}
	for _, at := range []time.Duration{50 * time.Hour, 500 * time.Hour, -9000 * time.Hour, -8999 * time.Hour, 1 << 62} {
		for range 3 {
			if d.Observe(start.Add(at), 24, true) || d.Observe(start.Add(at+time.Minute), math.NaN(), true) {
				t.Errorf("called %v after the start, at the value it always had", at)
			}
		}
	}
}

func BenchmarkDrift(b *testing.B) {
	d, at := alert.NewDrift(alert.Limit{At: 20}), start
	for b.Loop() {
		at = at.Add(10 * time.Second)
		d.Observe(at, 24+0.01*float64(at.Minute()), true)
	}
}
