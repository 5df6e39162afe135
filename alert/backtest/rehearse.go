package backtest

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/cycle"
)

// BinLength is the length of the means that a rehearsal works on: that of the drift alarm.
const BinLength = 5 * time.Minute

const (
	// maxFailureBins is within how long a failure must reach the limit to count: what takes
	// longer than a day is seen without an alarm (our choice).
	maxFailureBins = int(24 * time.Hour / BinLength)
	// drawsPerFailure is how often a failure is drawn until one reaches the limit (our choice).
	drawsPerFailure = 20
	// passedBins is how long a limit must be passed to count, that of a band's usual on-delay;
	// returnedBins is how long the value must be back before the next time counts (our choice).
	passedBins, returnedBins = 2, 6
	// maxPollBins is how far apart two readings may be for the time between them to count as
	// measured: an hour (our choice).
	maxPollBins = 12
)

// Rehearsal is the past of a zone, over which failures are laid.
type Rehearsal struct {
	Begin    time.Time   // of the first bin, a whole multiple of [BinLength] since 1970
	Probes   [][]float64 // of each probe the means of the bins, C; NaN where nothing was measured
	Failures int         // to lay over it, at each limit
	Seed     uint64      // the same seed gives the same failures

	Place *time.Location // whose clock the course of a day follows; nil: UTC
}

// Rehearsed is what the drift alarm would have made of failures at one limit, and of the past
// as it was.
type Rehearsed struct {
	Failures   int             // that reached the limit within a day
	Called     int             // of these before it
	Leads      []time.Duration // of the called ones, from the call to the limit, the shortest first
	Days       float64         // measured after the drift had learned
	FalseCalls int             // without a failure, and without the limit being passed within 8 h
	Passed     int             // how often the limit was passed without a failure, for ten minutes

	// LearningUntil is when early warnings begin, where nothing is learned at the end of the
	// past; zero where something is.
	LearningUntil time.Time
}

// Lead is the median of the leads, 0 without any.
func (r Rehearsed) Lead() time.Duration {
	if len(r.Leads) == 0 {
		return 0
	}
	return r.Leads[len(r.Leads)/2]
}

// Limit rehearses failures that lead to a limit: of a low one heaters that die, of a high one
// heaters that do not stop. They are those of [Run], and begin where the drift has learned,
// nothing is called, and the value is inside the limit. All probes of the zone feel them, and
// the first that calls counts.
func (r Rehearsal) Limit(ctx context.Context, limit alert.Limit) (Rehearsed, error) {
	w := zoneWatch{limit: limit, drifts: make([]cycle.Drift, len(r.Probes))}
	for i := range w.drifts {
		w.drifts[i] = *cycle.NewDrift(r.Place, limit)
	}
	all := w.clone()
	past, err := r.untouched(ctx, all)
	if err != nil {
		return Rehearsed{}, err
	}
	out := past.count()
	out.LearningUntil = all.learningUntil(r.at(r.bins()))
	laid := r.draw(limit, past.eligible())
	for i := range r.bins() {
		for len(laid) > 0 && laid[0].from == i {
			lead, called := r.lay(w.clone(), laid[0])
			laid = laid[1:]
			if out.Failures++; called {
				out.Called++
				out.Leads = append(out.Leads, lead)
			}
		}
		if len(laid) == 0 {
			break
		}
		if err := ctx.Err(); err != nil {
			return Rehearsed{}, err
		}
		w.observe(r, i, 0)
	}
	slices.Sort(out.Leads)
	return out, nil
}

// First is the beginning of the first bin in which anything was measured; where nothing was, the
// end of the last bin.
func (r Rehearsal) First() time.Time {
	n := r.bins()
	for i := range n {
		for p := range r.Probes {
			if !math.IsNaN(r.value(p, i)) {
				return r.at(i)
			}
		}
	}
	return r.at(n)
}

// bins is how many bins there are.
func (r Rehearsal) bins() (n int) {
	for _, p := range r.Probes {
		n = max(n, len(p))
	}
	return n
}

// at is the beginning of a bin.
func (r Rehearsal) at(bin int) time.Time { return r.Begin.Add(time.Duration(bin) * BinLength) }

// value is the mean of a probe's bin, NaN where nothing is known.
func (r Rehearsal) value(probe, bin int) float64 {
	if bin >= len(r.Probes[probe]) {
		return math.NaN()
	}
	return r.Probes[probe][bin]
}

// beyond reports whether a probe is past a limit in a bin, moved by so many kelvin, and
// whether any has a value.
func (r Rehearsal) beyond(limit alert.Limit, bin int, offset float64) (beyond, known bool) {
	for p := range r.Probes {
		if v := r.value(p, bin); !math.IsNaN(v) {
			known, beyond = true, beyond || limit.Beyond(v+offset)
		}
	}
	return beyond, known
}

// zoneWatch is the drifts of a zone's probes for one limit.
type zoneWatch struct {
	limit  alert.Limit
	drifts []cycle.Drift
}

func (w zoneWatch) clone() zoneWatch {
	w.drifts = slices.Clone(w.drifts)
	return w
}

// observe shows each drift the value of a bin, moved by so many kelvin, and reports whether
// any calls.
func (w zoneWatch) observe(r Rehearsal, bin int, offset float64) (called bool) {
	for p := range w.drifts {
		v := r.value(p, bin)
		called = w.drifts[p].Observe(r.at(bin), v+offset, !math.IsNaN(v)) || called
	}
	return called
}

// learned reports whether any of the drifts has learned.
func (w zoneWatch) learned() bool {
	return slices.ContainsFunc(w.drifts, func(d cycle.Drift) bool { return d.Learned() })
}

// learningUntil is when the first of the drifts will have learned, as seen from a time; zero
// where one has.
func (w zoneWatch) learningUntil(now time.Time) (until time.Time) {
	if w.learned() {
		return time.Time{}
	}
	for i := range w.drifts {
		if at := w.drifts[i].LearningUntil(now); until.IsZero() || at.Before(until) {
			until = at
		}
	}
	return until
}

// binState is how the untouched past stood in a bin.
type binState struct{ known, beyond, called, learned bool }

// untouchedPast is how the past stood without a failure, by bin.
type untouchedPast []binState

// untouched goes through the past as it was.
func (r Rehearsal) untouched(ctx context.Context, w zoneWatch) (untouchedPast, error) {
	all := make(untouchedPast, r.bins())
	for i := range all {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		s := &all[i]
		s.beyond, s.known = r.beyond(w.limit, i, 0)
		s.called = w.observe(r, i, 0)
		s.learned = i > 0 && all[i-1].learned || w.learned()
	}
	return all, nil
}

// eligible are the bins in which a failure may begin.
func (u untouchedPast) eligible() (bins []int) {
	for i, s := range u {
		if s.known && s.learned && !s.beyond && !s.called {
			bins = append(bins, i)
		}
	}
	return bins
}

// count is what happened without a failure. A call whose 8 hours are not over yet is left out.
func (u untouchedPast) count() (out Rehearsed) {
	horizon := int(alert.DriftHorizon / BinLength)
	beyond, inside, last := 0, returnedBins, -1
	for i, s := range u {
		if s.known {
			if gap := i - last; s.learned && gap <= maxPollBins {
				out.Days += float64(gap) * BinLength.Hours() / 24
			}
			last = i
		}
		if end := i + horizon; s.called && (i == 0 || !u[i-1].called) && end < len(u) &&
			!slices.ContainsFunc(u[i:end+1], func(s binState) bool { return s.beyond }) {
			out.FalseCalls++
		}
		switch {
		case s.beyond:
			if beyond++; beyond == passedBins && inside >= returnedBins {
				out.Passed++
			}
			if beyond >= passedBins {
				inside = 0
			}
		case s.known:
			beyond, inside = 0, inside+1
		}
	}
	return out
}

// draw draws failures that reach a limit within a day, in the order of their beginnings.
func (r Rehearsal) draw(limit alert.Limit, eligible []int) (laid []failure) {
	if len(eligible) == 0 {
		return nil
	}
	rng := rand.New(rand.NewPCG(r.Seed, 5))
	for range r.Failures * drawsPerFailure {
		f := failure{eligible[rng.IntN(len(eligible))], 4 + 6*rng.Float64(), time.Duration((1 + 7*rng.Float64()) * float64(time.Hour))}
		if r.reached(limit, f) > f.from {
			laid = append(laid, f)
		}
		if len(laid) == r.Failures {
			break
		}
	}
	slices.SortStableFunc(laid, func(a, b failure) int { return a.from - b.from })
	return laid
}

// moved is how far a failure has moved the values of a bin, towards a limit.
func (f failure) moved(limit alert.Limit, bin int) float64 {
	by := f.offset(time.Duration(bin-f.from) * BinLength)
	if limit.High {
		return by
	}
	return -by
}

// reached is the bin in which a failure reaches a limit; 0 where it does not within a day.
func (r Rehearsal) reached(limit alert.Limit, f failure) int {
	for i := f.from; i < min(r.bins(), f.from+maxFailureBins); i++ {
		if beyond, _ := r.beyond(limit, i, f.moved(limit, i)); beyond {
			return i
		}
	}
	return 0
}

// lay shows the drifts a failure up to its limit, and gives how long before that one calls.
func (r Rehearsal) lay(w zoneWatch, f failure) (lead time.Duration, called bool) {
	end := r.reached(w.limit, f)
	for i := f.from; i < end; i++ {
		if w.observe(r, i, f.moved(w.limit, i)) {
			return time.Duration(end-i) * BinLength, true
		}
	}
	return 0, false
}
