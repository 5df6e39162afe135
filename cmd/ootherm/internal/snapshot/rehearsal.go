package snapshot

import "time"

// Rehearsal is what the early warning would have made of failures of the heater, laid over a
// zone's own past.
type Rehearsal struct {
	Zone string    `json:"zone"`
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
	// LearningUntil is when early warnings begin, where nothing is learned yet; null where it is.
	LearningUntil *time.Time       `json:"learning_until"`
	Limits        []RehearsedLimit `json:"limits"`
}

// RehearsedLimit is what came of the failures that lead to one limit.
type RehearsedLimit struct {
	Band  string  `json:"band"` // wanted or safe
	Side  string  `json:"side"` // cold: heaters that die; warm: heaters that do not stop
	Limit float64 `json:"limit_c"`

	Failures int      `json:"failures"`     // that reach the limit within a day
	Called   int      `json:"called"`       // of these before it
	Lead     *float64 `json:"lead_seconds"` // median of the called, from the call to the limit; null without any

	Days       float64 `json:"days"`         // of the past that counts, without a failure
	FalseCalls int     `json:"false_calls"`  // in these: the limit was not passed within 8 h
	Passed     int     `json:"limit_passed"` // in these, for ten minutes
}
