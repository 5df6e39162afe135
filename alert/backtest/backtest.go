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
	"example.com/ootherm/alert/cycle"
)

// Sample is one reading.
type Sample struct {
	At      time.Time
	Celsius float64
}

// Recording is what one probe measured, in the order of time.
type Recording struct {
	Name    string
	Kind    string // of zone: one of [Kinds]; empty: not known
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

// Side is one end of the band.
type Side struct {
	High  bool  `json:"high"`
	Zones []Row `json:"zones"`
	Kinds []Row `json:"kinds"` // the zones of each kind together, of those that there are
	All   Row   `json:"all"`
}

// minSamples is how many samples a recording needs for a quantile.
const minSamples = 100

// Run lays so many failures over each recording, at each end. The same seed
// gives the same failures.
func Run(ctx context.Context, all []Recording, failures int, seed uint64) (low, high Side, err error) {
	return RunAtPace(ctx, all, 0, failures, seed)
}

// RunAtPace is [Run] as a station sees the recordings that polls at a pace. The limits are those
// of the recordings. A pace of 0 is that of each recording.
func RunAtPace(ctx context.Context, all []Recording, pace time.Duration, failures int, seed uint64) (low, high Side, err error) {
	if pace < 0 {
		return low, high, fmt.Errorf("a pace of %v: it cannot be negative", pace)
	}
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
	o := options{pace, failures, seed}
	if low, err = o.side(ctx, all, false); err == nil {
		high, err = o.side(ctx, all, true)
	}
	return low, high, err
}

func (o options) side(ctx context.Context, all []Recording, high bool) (Side, error) {
	s := Side{High: high, All: o.together("all", AllKinds)}
	kinds := map[string]*Row{}
	for _, r := range all {
		if err := ctx.Err(); err != nil {
			return Side{}, err
		}
		row := o.run(r, high)
		kind := kinds[row.Kind]
		if kind == nil {
			of := o.together("all of kind "+row.Kind, row.Kind)
			kind = &of
			kinds[row.Kind] = kind
		}
		kind.add(row)
		s.All.add(row)
		row.sum()
		s.Zones = append(s.Zones, row)
	}
	for _, k := range Kinds() {
		if kind := kinds[k]; kind != nil {
			kind.sum()
			s.Kinds = append(s.Kinds, *kind)
		}
	}
	s.All.sum()
	return s, nil
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

// reaches reports whether the failure takes what is inside a limit past it.
func (f failure) reaches(limit alert.Limit, x []Sample) bool {
	if limit.Beyond(x[0].Celsius) {
		return false
	}
	sign := signOf(limit)
	return slices.ContainsFunc(x, func(y Sample) bool { return limit.Beyond(y.Celsius + sign*f.offset(y.At.Sub(x[0].At))) })
}

// signOf is the direction in which a value passes a limit.
func signOf(limit alert.Limit) float64 {
	if limit.High {
		return 1
	}
	return -1
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

func (o options) run(r Recording, high bool) Row {
	limit := limitOf(r, high)
	row := o.together(r.Name, cmp.Or(r.Kind, UnknownKind))
	row.LimitC, row.Cycles = &limit.At, nil
	x := r.Samples
	if o.pace > 0 {
		x = r.atPace(o.pace, o.seed)
	} else {
		every := r.spacing().Seconds()
		row.Every = &every
	}
	whole := r.Samples[len(r.Samples)-1].At.Sub(r.Samples[0].At)
	row.Days, row.Later.days = whole.Hours()/24, max(0, whole-firstDay).Hours()/24
	rng := rand.New(rand.NewPCG(o.seed, 5))
	var laid []failure
	for range o.failures {
		f := failure{rng.IntN(len(x)), 4 + 6*rng.Float64(), time.Duration((1 + 7*rng.Float64()) * float64(time.Hour))}
		if f.reaches(limit, x[f.from:]) {
			laid = append(laid, f)
		}
	}
	slices.SortFunc(laid, func(a, b failure) int { return cmp.Compare(a.from, b.from) })
	row.Failures = len(laid)
	for _, f := range laid {
		if x[f.from].At.Sub(x[0].At) >= firstDay {
			row.Later.Failures++
		}
	}
	for way, w := range map[string]watcher{
		Drift: &drift{*cycle.NewDrift(time.UTC, limit)}, Line: &line{limit: limit}, Plain: newPlain(limit), Rate: newFast(),
	} {
		row.watch(way, w, x, limit, laid)
	}
	for _, swing := range Swings() {
		d, was, n := cycle.NewDrift(time.UTC, limit), false, 0
		for _, s := range x {
			is := d.Observe(s.At, s.Celsius+thermostat(s.At.Sub(x[0].At), swing), true)
			if is && !was {
				n++
			}
			was = is
		}
		row.Cycles = append(row.Cycles, n)
	}
	return row
}

// thermostat is what a thermostat adds that switches every ten minutes.
func thermostat(at time.Duration, swing float64) float64 {
	return swing / 2 * math.Sin(2*math.Pi*at.Minutes()/20)
}

// watch shows a watcher the recording, and from each failure on one like it what
// the failure makes of it.
func (r *Row) watch(way string, w watcher, x []Sample, limit alert.Limit, laid []failure) {
	var s, late Score
	was := false
	for i, y := range x {
		known := y.At.Sub(x[0].At) >= firstDay
		for len(laid) > 0 && laid[0].from == i {
			share := r.fail(w.clone(), was, x[i:], limit, laid[0])
			laid = laid[1:]
			one := Score{}
			if share > 0 {
				one.Called = 1
			}
			s = s.and(one)
			r.shares[way] = append(r.shares[way], share)
			if known {
				late = late.and(one)
				r.Later.shares[way] = append(r.Later.shares[way], share)
			}
		}
		is := w.observe(y.At, y.Celsius)
		if is && !was {
			s.FalseCalls++
			if known {
				late.FalseCalls++
			}
		}
		was = is
	}
	r.By[way], r.Later.By[way] = s, late
}

// fail shows a watcher one failure up to the limit, which it reaches. It gives the lead of
// the call as a share of the time that there was, 0 without a call before the limit, less
// for the plain limit, which calls after it.
func (r *Row) fail(w watcher, was bool, x []Sample, limit alert.Limit, f failure) (share float64) {
	var called time.Time
	var said alert.Projection
	sign := signOf(limit)
	for i, y := range x {
		after := y.At.Sub(x[0].At)
		v := y.Celsius + sign*f.offset(after)
		if limit.Beyond(v) {
			if p, ok := w.(*plain); ok {
				return -p.after(x[i:], f, sign, after).Seconds() / after.Seconds()
			}
			if called.IsZero() {
				return 0
			}
			left := y.At.Sub(called)
			if _, ok := w.(*drift); ok {
				r.told.within = append(r.told.within, !y.At.Before(said.Earliest) && (said.Latest.IsZero() || !y.At.After(said.Latest)))
				off := y.At.Sub(said.At).Abs()
				r.told.off = append(r.told.off, off.Hours())
				r.told.offBy = append(r.told.offBy, off.Seconds()/left.Seconds())
			}
			return left.Seconds() / after.Seconds()
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
	return 0
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
