package snapshot

import "time"

// Score is how right the windows were that were shown for eggs that hatched
// here.
type Score struct {
	Hatches int        `json:"hatches"` // that had a window shown before
	Ways    []ScoreAt  `json:"ways"`
	Eggs    []EggScore `json:"eggs"`
}

// ScoreAt is how right they were at one point of the way from laying to hatch.
// Inside is meant to be 85 %: a window runs from 10 % to 95 %.
type ScoreAt struct {
	Way         float64  `json:"way"` // share of the days from laying to hatch
	N           int      `json:"n"`
	Inside      *float64 `json:"inside"`        // share hatched from check_from to late_after
	MeanDaysOff *float64 `json:"mean_days_off"` // of the likely day
	MeanWidth   *float64 `json:"mean_width_days"`
}

// EggScore is one egg at one point of its way.
type EggScore struct {
	Egg       string    `json:"egg"`
	Clutch    string    `json:"clutch"`
	Way       float64   `json:"way"`
	Shown     time.Time `json:"shown"` // when its window was reckoned
	CheckFrom time.Time `json:"check_from"`
	Likely    time.Time `json:"likely"`
	LateAfter time.Time `json:"late_after"`
	Hatched   time.Time `json:"hatched"`
	Inside    bool      `json:"inside"`
	DaysOff   float64   `json:"days_off"` // above nought: it hatched later than likely
}
