package snapshot

import "time"

// Incident is what happened in a span of time: what each zone did, which alarms
// there were, and what the eggs felt. It says nothing of whether they live.
type Incident struct {
	From     time.Time        `json:"from"`
	To       time.Time        `json:"to"`
	Zones    []IncidentZone   `json:"zones"`
	Alarms   []PastAlarm      `json:"alarms"` // that lasted at some time of it, as they began
	Clutches []IncidentClutch `json:"clutches"`
}

// IncidentZone is what the probes of a zone gave. Temperatures go by the worst
// probe at each moment, as alarms do.
type IncidentZone struct {
	Zone    string    `json:"zone"`
	Highest *Extreme  `json:"highest_c"` // null where nothing was measured
	Lowest  *Extreme  `json:"lowest_c"`
	Dampest *Extreme  `json:"highest_humidity"`
	Driest  *Extreme  `json:"lowest_humidity"`
	Past    []Past    `json:"past"` // each limit, passed or not
	Gaps    []GapSpan `json:"not_measured"`
	// Measured is the time in which a probe gave something, Missing the rest.
	Measured float64 `json:"measured_seconds"`
	Missing  float64 `json:"missing_seconds"`
}

// Extreme is the most or the least of a span.
type Extreme struct {
	Value float64   `json:"value"`
	At    time.Time `json:"at"`
	Probe string    `json:"probe"`
}

// Past is the time past one limit: Celsius, or, of humidity, a ratio.
type Past struct {
	Of      string  `json:"of"`   // temperature or humidity
	Band    string  `json:"band"` // wanted or safe
	Side    string  `json:"side"` // warm, cold, damp or dry
	Limit   float64 `json:"limit"`
	Seconds float64 `json:"seconds"`
	Longest float64 `json:"longest_seconds"`
	Events  int     `json:"events"`
	Most    float64 `json:"most"` // past the limit at the worst; a difference
}

// GapSpan is a time in which nothing was measured.
type GapSpan struct {
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
}

// PastAlarm is one time that an alarm was raised. An end that is null lasts.
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

// IncidentClutch is the eggs of one clutch that were together, and what they felt
// in the span.
type IncidentClutch struct {
	Clutch  string  `json:"clutch"`
	Dam     *string `json:"dam"`
	Profile *string `json:"profile"`
	Box     string  `json:"box"` // at its end
	Zone    string  `json:"zone"`
	Eggs    int     `json:"eggs"` // that waited when it began
	// Developed is the share of the way when the span began, as it was shown then.
	Developed *float64 `json:"developed"`
	Seconds   float64  `json:"seconds"` // of the span that they were in a box
	Missing   float64  `json:"missing_seconds"`
	Felt      *float64 `json:"felt_c"`  // on average
	Usual     *float64 `json:"usual_c"` // on average in the week before
	// Moved is how many days later (or, below nought, earlier) the hatch comes than
	// if the span had been as the week before it.
	Moved  *float64   `json:"moved_days"`
	Before *DayWindow `json:"window_before"` // the last that was shown before it
	After  *DayWindow `json:"window_after"`  // the first that was shown after it
}

// DayWindow is the window that was shown on one day.
type DayWindow struct {
	Day    string `json:"day"` // where the station is, as 2026-05-01
	Window Window `json:"window"`
}
