package backtest

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"example.com/ootherm/alert"
)

// Sample is one reading.
type Sample struct {
	At      time.Time
	Celsius float64
}

// Recording is what one probe measured, in the order of time.
type Recording struct {
	Name    string
	Samples []Sample
}

// Ways of watching, in the order of a table.
const (
	Drift = "drift" // what the station runs
	Line  = "line"  // a straight one through the last one to three hours, with a t-test
	Plain = "plain" // the limit, with a delay of ten minutes
	Rate  = "rate"  // 5 K an hour for ten minutes
)

// Ways are all of them.
func Ways() []string { return []string{Drift, Line, Plain, Rate} }

// Swings are the cycles of a thermostat that are laid over a recording, every 20
// minutes, in kelvins from peak to peak.
func Swings() []float64 { return []float64{1, 2} }

// Row is what came of one recording, or of several together, at one end.
type Row struct {
	Zone     string           `json:"zone"`
	Days     float64          `json:"days"`
	LimitC   *float64         `json:"limit_c"` // null for several together
	Failures int              `json:"failures"`
	By       map[string]Score `json:"by"`
	Cycles   []int            `json:"false_calls_with_cycles"` // of the drift, one for each of Swings
	// How good the time was that the drift gave with its call.
	Within *float64 `json:"within_interval"`    // share of the called that passed the limit within the interval
	Off    *float64 `json:"median_error_hours"` // of the time foretold, either way
	OffBy  *float64 `json:"median_error_ratio"` // the same by the time that was left

	shares map[string][]float64
	within []bool
	off    []float64
	offBy  []float64
}

// Score is what one way of watching made of the failures and of the recording
// itself.
type Score struct {
	Called     int      `json:"called"`       // before the limit
	Share      *float64 `json:"called_ratio"` // of the failures
	Lead       *float64 `json:"lead_ratio"`   // median of lead by time from failure to limit, 0 for what was not called
	FalseCalls int      `json:"false_calls"`
	In30Days   float64  `json:"false_calls_in_30_days"`
}

// Side is one end of the band.
type Side struct {
	High  bool  `json:"high"`
	Zones []Row `json:"zones"`
	All   Row   `json:"all"`
}

// minSamples is how many samples a recording needs for a quantile.
const minSamples = 100

// Run lays so many failures over each recording, at each end. The same seed
// gives the same failures.
func Run(ctx context.Context, all []Recording, failures int, seed uint64) (low, high Side, err error) {
	if len(all) == 0 {
		return low, high, fmt.Errorf("no recording")
	}
	for _, r := range all {
		if len(r.Samples) < minSamples {
			return low, high, fmt.Errorf("%s has %d readings with a temperature: %d are needed to know what is usual there", r.Name, len(r.Samples), minSamples)
		}
		for i, x := range r.Samples[1:] {
			if !x.At.After(r.Samples[i].At) {
				return low, high, fmt.Errorf("%s: the reading at %s is not after the one before it", r.Name, x.At.Format(time.RFC3339))
			}
		}
	}
	if low, err = side(ctx, all, false, failures, seed); err == nil {
		high, err = side(ctx, all, true, failures, seed)
	}
	return low, high, err
}

func side(ctx context.Context, all []Recording, high bool, failures int, seed uint64) (Side, error) {
	s := Side{High: high, All: Row{Zone: "all", shares: map[string][]float64{}, By: map[string]Score{}, Cycles: make([]int, len(Swings()))}}
	for _, r := range all {
		if err := ctx.Err(); err != nil {
			return Side{}, err
		}
		row := run(r, high, failures, seed)
		s.All.add(row)
		row.sum()
		s.Zones = append(s.Zones, row)
	}
	s.All.sum()
	return s, nil
}

func (r *Row) add(o Row) {
	r.Days += o.Days
	r.Failures += o.Failures
	for _, way := range Ways() {
		a, b := r.By[way], o.By[way]
		a.Called += b.Called
		a.FalseCalls += b.FalseCalls
		r.By[way] = a
		r.shares[way] = append(r.shares[way], o.shares[way]...)
	}
	for i, n := range o.Cycles {
		r.Cycles[i] += n
	}
	r.within = append(r.within, o.within...)
	r.off = append(r.off, o.off...)
	r.offBy = append(r.offBy, o.offBy...)
}

// sum computes the shares and middles of what was counted.
func (r *Row) sum() {
	for way, s := range r.By {
		if r.Failures > 0 {
			share := float64(s.Called) / float64(r.Failures)
			s.Share, s.Lead = &share, median(r.shares[way])
		}
		s.In30Days = float64(s.FalseCalls) * 30 / r.Days
		r.By[way] = s
	}
	if len(r.within) > 0 {
		n := 0
		for _, in := range r.within {
			if in {
				n++
			}
		}
		share := float64(n) / float64(len(r.within))
		r.Within, r.Off, r.OffBy = &share, median(r.off), median(r.offBy)
	}
}

// median is the median, nil of nothing.
func median(v []float64) *float64 {
	if len(v) == 0 {
		return nil
	}
	v = slices.Sorted(slices.Values(v))
	m := (v[(len(v)-1)/2] + v[len(v)/2]) / 2
	return &m
}

// failure is a heater that dies, or one that does not stop.
type failure struct {
	from int // the sample
	drop float64
	tau  time.Duration
}

// offset is how far it has moved the value after so long.
func (f failure) offset(after time.Duration) float64 {
	return f.drop * (1 - math.Exp(-after.Seconds()/f.tau.Seconds()))
}

// limitOf is the limit that is watched.
func limitOf(r Recording, high bool) alert.Limit {
	v := make([]float64, len(r.Samples))
	for i, x := range r.Samples {
		v[i] = x.Celsius
	}
	slices.Sort(v)
	if n := len(v) / 500; high {
		return alert.Limit{High: true, At: v[len(v)-1-n] + 1}
	} else {
		return alert.Limit{At: v[n] - 1}
	}
}

func run(r Recording, high bool, failures int, seed uint64) Row {
	limit := limitOf(r, high)
	x := r.Samples
	row := Row{
		Zone: r.Name, LimitC: &limit.At, By: map[string]Score{}, shares: map[string][]float64{},
		Days: x[len(x)-1].At.Sub(x[0].At).Hours() / 24,
	}
	rng := rand.New(rand.NewPCG(seed, 5))
	laid := make([]failure, failures)
	for i := range laid {
		laid[i] = failure{rng.IntN(len(x)), 4 + 6*rng.Float64(), time.Duration((1 + 7*rng.Float64()) * float64(time.Hour))}
	}
	slices.SortFunc(laid, func(a, b failure) int { return cmp.Compare(a.from, b.from) })
	for way, w := range map[string]watcher{
		Drift: &drift{*alert.NewDrift(time.UTC, limit)}, Line: &line{limit: limit}, Plain: newPlain(limit), Rate: newFast(),
	} {
		row.watch(way, w, x, limit, laid)
	}
	for _, swing := range Swings() {
		d, was, n := alert.NewDrift(time.UTC, limit), false, 0
		for _, s := range x {
			is := d.Observe(s.At, s.Celsius+cycle(s.At.Sub(x[0].At), swing), true)
			if is && !was {
				n++
			}
			was = is
		}
		row.Cycles = append(row.Cycles, n)
	}
	return row
}

// cycle is what a thermostat adds that switches every ten minutes.
func cycle(at time.Duration, swing float64) float64 {
	return swing / 2 * math.Sin(2*math.Pi*at.Minutes()/20)
}

// watch shows a watcher the recording, and from each failure on one like it what
// the failure makes of it.
func (r *Row) watch(way string, w watcher, x []Sample, limit alert.Limit, laid []failure) {
	var s Score
	was := false
	for i, y := range x {
		for len(laid) > 0 && laid[0].from == i {
			share, ok := r.fail(w.clone(), was, x[i:], limit, laid[0])
			laid = laid[1:]
			if !ok {
				continue
			}
			if way == Drift {
				r.Failures++
			}
			if share > 0 {
				s.Called++
			}
			r.shares[way] = append(r.shares[way], share)
		}
		is := w.observe(y.At, y.Celsius)
		if is && !was {
			s.FalseCalls++
		}
		was = is
	}
	r.By[way] = s
}

// fail shows a watcher one failure up to the limit. It gives the lead of the call
// as a share of the time that there was, 0 without a call before the limit, less
// for the plain limit, which calls after it; false for a failure that never comes
// to the limit, or begins beyond it.
func (r *Row) fail(w watcher, was bool, x []Sample, limit alert.Limit, f failure) (share float64, reached bool) {
	var called time.Time
	var said alert.Projection
	sign := -1.0
	if limit.High {
		sign = 1
	}
	for i, y := range x {
		after := y.At.Sub(x[0].At)
		v := y.Celsius + sign*f.offset(after)
		if limit.Beyond(v) {
			if i == 0 {
				return 0, false
			}
			if p, ok := w.(*plain); ok {
				return -p.after(x[i:], f, sign, after).Seconds() / after.Seconds(), true
			}
			if called.IsZero() {
				return 0, true
			}
			left := y.At.Sub(called)
			if _, ok := w.(*drift); ok {
				r.within = append(r.within, !y.At.Before(said.Earliest) && (said.Latest.IsZero() || !y.At.After(said.Latest)))
				off := y.At.Sub(said.At).Abs()
				r.off = append(r.off, off.Hours())
				r.offBy = append(r.offBy, off.Seconds()/left.Seconds())
			}
			return left.Seconds() / after.Seconds(), true
		}
		is := w.observe(y.At, v)
		if is && !was && called.IsZero() {
			called = y.At
			if d, ok := w.(*drift); ok {
				said, _ = d.d.Projection(0)
			}
		}
		was = is
	}
	return 0, false
}

// after is how long after the limit was reached the plain alarm calls, at the
// recording's pace: its delay where the value was only touching the limit.
func (w *plain) after(x []Sample, f failure, sign float64, since time.Duration) time.Duration {
	for _, y := range x {
		late := y.At.Sub(x[0].At)
		if w.observe(y.At, y.Celsius+sign*f.offset(since+late)) {
			return late
		}
	}
	return w.a.Limit.OnDelay
}
