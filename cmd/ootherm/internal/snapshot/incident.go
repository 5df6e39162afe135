package snapshot

import "time"

// Incident summarises a span of time: the zones' extremes, the alarms, and the heat that
// the eggs got. It does not tell whether the eggs live.
type Incident struct {
	From     time.Time        `json:"from"`
	To       time.Time        `json:"to"`
	Zones    []IncidentZone   `json:"zones"`
	Alarms   []PastAlarm      `json:"alarms"` // active at some time of the span, in the order in which they began
	Clutches []IncidentClutch `json:"clutches"`
}

// IncidentZone summarises the readings of a zone's probes. At each moment the worst probe
// counts, as it does for alarms.
type IncidentZone struct {
	Zone    string    `json:"zone"`
	Highest *Extreme  `json:"highest_c"` // null if nothing was measured
	Lowest  *Extreme  `json:"lowest_c"`
	Dampest *Extreme  `json:"highest_humidity"`
	Driest  *Extreme  `json:"lowest_humidity"`
	Past    []Past    `json:"past"`  // each limit, passed or not
	Jumps   []Jump    `json:"jumps"` // that led to an alarm: a probe was moved or unplugged, or a door was opened
	Gaps    []GapSpan `json:"not_measured"`
	// Measured is the time with a reading of any probe. Missing is the rest of the span.
	Measured float64 `json:"measured_seconds"`
	Missing  float64 `json:"missing_seconds"`
}

// Extreme is the highest or the lowest value of a span.
type Extreme struct {
	Value float64   `json:"value"`
	At    time.Time `json:"at"`
	Probe string    `json:"probe"`
}

// Jump is a change of a probe's temperature that is faster than any heater's.
type Jump struct {
	Probe  string    `json:"probe"`
	At     time.Time `json:"at"`
	Kelvin float64   `json:"change_k"`
}

// Past is the time past one limit. The limit is in Celsius, or a ratio for humidity.
type Past struct {
	Of      string  `json:"of"`   // temperature or humidity
	Band    string  `json:"band"` // wanted or safe
	Side    string  `json:"side"` // warm, cold, damp or dry
	Limit   float64 `json:"limit"`
	Seconds float64 `json:"seconds"`
	Longest float64 `json:"longest_seconds"`
	Events  int     `json:"events"`
	Most    float64 `json:"most"` // largest difference from the limit
}

// GapSpan is a time without readings.
type GapSpan struct {
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
}

// PastAlarm is one occurrence of an alarm. Ended is null while it lasts.
type PastAlarm struct {
	Alarm    string     `json:"alarm"`
	Zone     *string    `json:"zone"`
	Box      *string    `json:"box"`
	Probe    *string    `json:"probe"`
	Clutch   *string    `json:"clutch"`
	Part     *string    `json:"part"`
	Priority string     `json:"priority"`
	Began    time.Time  `json:"began"`
	Raised   time.Time  `json:"raised"`
	Seen     *time.Time `json:"seen"`
	Ended    *time.Time `json:"ended"`
	Limit    *float64   `json:"limit"`
	Peak     *float64   `json:"peak"`
}

// IncidentClutch summarises a span for eggs of one clutch that were together.
type IncidentClutch struct {
	Clutch  string  `json:"clutch"`
	Dam     *string `json:"dam"`
	Profile *string `json:"profile"`
	Box     string  `json:"box"` // at the end of the span
	Zone    string  `json:"zone"`
	Eggs    int     `json:"eggs"` // that waited when the span began
	// Developed is the share of development that was shown when the span began.
	Developed *float64 `json:"developed"`
	Seconds   float64  `json:"seconds"` // of the span, in a box
	Missing   float64  `json:"missing_seconds"`
	Felt      *float64 `json:"felt_c"`  // mean temperature
	Usual     *float64 `json:"usual_c"` // mean temperature of the week before
	// Moved is the shift of the hatch against a span like the week before it, in days.
	// Negative is earlier.
	Moved  *float64   `json:"moved_days"`
	Before *DayWindow `json:"window_before"` // the last one shown before the span
	After  *DayWindow `json:"window_after"`  // the first one shown after the span
}

// DayWindow is the window that was shown on a day.
type DayWindow struct {
	Day    string `json:"day"` // local date, as 2026-05-01
	Window Window `json:"window"`
}
