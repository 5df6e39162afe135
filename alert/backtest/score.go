package backtest

import (
	"slices"
	"time"
)

// Row is what came of one recording, or of several together, at one end.
type Row struct {
	Zone     string           `json:"zone"`
	Kind     string           `json:"kind"`
	Pace     string           `json:"pace"`
	Every    *float64         `json:"pace_seconds"` // median time between two readings; null for several together
	Days     float64          `json:"days"`
	LimitC   *float64         `json:"limit_c"` // null for several together
	Failures int              `json:"failures"`
	By       map[string]Score `json:"by"`
	Later    Later            `json:"after_first_day"`
	Cycles   []int            `json:"false_calls_with_cycles"` // of the drift, one for each of Swings
	// How good the time was that the drift gave with its call.
	Within *float64 `json:"within_interval"`    // share of the called that passed the limit within the interval
	Off    *float64 `json:"median_error_hours"` // of the time foretold, either way
	OffBy  *float64 `json:"median_error_ratio"` // the same by the time that was left

	shares map[string][]float64
	told   told
}

// Later is what came of the failures that begin after the first day, and of the rest of the
// recording.
type Later struct {
	Failures int              `json:"failures"`
	By       map[string]Score `json:"by"`

	days   float64
	shares map[string][]float64
}

// firstDay is how long a zone is learned before a failure counts as a later one: until each hour
// of the day was seen once.
const firstDay = 24 * time.Hour

// told is how good the times were that came with the calls of the drift.
type told struct {
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

// add counts another row in.
func (r *Row) add(o Row) {
	r.Days += o.Days
	r.Later.days += o.Later.days
	r.Failures += o.Failures
	r.Later.Failures += o.Later.Failures
	for _, way := range Ways() {
		r.By[way], r.Later.By[way] = r.By[way].and(o.By[way]), r.Later.By[way].and(o.Later.By[way])
		r.shares[way] = append(r.shares[way], o.shares[way]...)
		r.Later.shares[way] = append(r.Later.shares[way], o.Later.shares[way]...)
	}
	for i, n := range o.Cycles {
		r.Cycles[i] += n
	}
	r.told.within = append(r.told.within, o.told.within...)
	r.told.off = append(r.told.off, o.told.off...)
	r.told.offBy = append(r.told.offBy, o.told.offBy...)
}

// and is two scores counted together.
func (s Score) and(o Score) Score {
	s.Called += o.Called
	s.FalseCalls += o.FalseCalls
	return s
}

// of is a score with its shares, of failures that left so much of their time, over so many days.
func (s Score) of(shares []float64, days float64) Score {
	if len(shares) > 0 {
		share := float64(s.Called) / float64(len(shares))
		s.Share, s.Lead = &share, median(shares)
	}
	if days > 0 {
		s.In30Days = float64(s.FalseCalls) * 30 / days
	}
	return s
}

// sum computes the shares and middles of what was counted.
func (r *Row) sum() {
	for _, way := range Ways() {
		r.By[way] = r.By[way].of(r.shares[way], r.Days)
		r.Later.By[way] = r.Later.By[way].of(r.Later.shares[way], r.Later.days)
	}
	if len(r.told.within) > 0 {
		n := 0
		for _, in := range r.told.within {
			if in {
				n++
			}
		}
		share := float64(n) / float64(len(r.told.within))
		r.Within, r.Off, r.OffBy = &share, median(r.told.off), median(r.told.offBy)
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
