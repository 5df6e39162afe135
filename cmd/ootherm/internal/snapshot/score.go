package snapshot

import "time"

// Score compares the windows that were shown with the hatches of this station.
type Score struct {
	Hatches int        `json:"hatches"` // of eggs that had a window before
	Ways    []ScoreAt  `json:"ways"`
	Ages    []AgeScore `json:"ages"`
	Eggs    []EggScore `json:"eggs"`
}

// ScoreAt compares windows at one share of the time from laying to hatch.
type ScoreAt struct {
	Way float64 `json:"way"` // share of the time from laying to hatch
	WindowScore
}

// AgeScore compares windows at one age, for the eggs that had not hatched by then.
type AgeScore struct {
	AgeDays float64 `json:"age_days"` // since laying
	WindowScore
}

// WindowScore is how right windows were. Inside should be 85 %, because a window runs from
// 10 % to 95 %.
type WindowScore struct {
	N           int      `json:"n"`
	Inside      *float64 `json:"inside"`        // share of hatches from check_from to late_after
	Early       int      `json:"early"`         // hatches before check_from
	Late        int      `json:"late"`          // hatches after late_after
	MeanDaysOff *float64 `json:"mean_days_off"` // absolute difference from the likely day
	MeanWidth   *float64 `json:"mean_width_days"`
	LogScore    *float64 `json:"log_score"` // mean log density of the log days from laying to hatch: higher is better
}

// EggScore compares one egg's hatch with its window at one share of its time.
type EggScore struct {
	Egg       string     `json:"egg"`
	Clutch    string     `json:"clutch"`
	Way       float64    `json:"way"`
	Shown     time.Time  `json:"shown"` // when its window was computed
	CheckFrom time.Time  `json:"check_from"`
	Likely    *time.Time `json:"likely"`
	LateAfter time.Time  `json:"late_after"`
	Hatched   time.Time  `json:"hatched"`
	Inside    bool       `json:"inside"`
	DaysOff   *float64   `json:"days_off"` // hatch minus likely; positive is later
}
