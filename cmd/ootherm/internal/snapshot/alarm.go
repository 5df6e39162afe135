package snapshot

import "time"

// Alarm is one alarm that is not in its normal state.
type Alarm struct {
	Key   string `json:"key"` // its identity, for actions
	Alarm string `json:"alarm"`
	AlarmPlace
	Priority string     `json:"priority"` // critical, warning, notice
	State    string     `json:"state"`    // active, acknowledged, returned, shelved, suppressed, out-of-service
	Since    time.Time  `json:"since"`
	Value    *float64   `json:"value"`
	Limit    *float64   `json:"limit"`
	Peak     *float64   `json:"peak"`
	Unit     *string    `json:"unit"`   // of value, limit and peak: celsius, ratio, seconds, celsius-per-hour
	Stands   bool       `json:"stands"` // the condition holds now, also if the alarm is hidden
	Seen     bool       `json:"seen"`   // this occurrence was acknowledged
	Detail   *string    `json:"detail"` // of a temperature: whether the room, a box or the probe is the trouble, or that a probe jumped; of an exposure: the eggs, the limit and the time past it; of a zone switched off past safe: its value
	Until    *time.Time `json:"until"`  // end of the quiet time, if it is quiet
	AlarmOutlook
}

// AlarmOutlook is how an alarm goes on.
type AlarmOutlook struct {
	// DetailIn is the alarm's detail for readers of other units than the station's, by units.
	DetailIn map[string]string `json:"-"`
	// First is what a person does first, where that is not what the alarm's kind asks for.
	First string `json:"-"`

	Coming   *Coming   `json:"coming"`   // predicted passing of a limit
	Recovery *Recovery `json:"recovery"` // null: the value is past the limit or missing
}

// Recovery is how an alarm whose value is back within its limit comes to its end.
type Recovery struct {
	Since     *time.Time `json:"since"`     // when the value left the deadband; null: it is inside, or the alarm has ended
	EndsAt    *time.Time `json:"ends_at"`   // at the earliest; null where since is
	Threshold *float64   `json:"threshold"` // the other end of the deadband, in the alarm's unit
}

// PendingAlarm is an alarm whose value is past its limit and whose on-delay is running.
type PendingAlarm struct {
	Key   string `json:"key"`
	Alarm string `json:"alarm"`
	AlarmPlace
	Priority string    `json:"priority"` // critical, warning, notice
	Since    time.Time `json:"since"`
	RaisedAt time.Time `json:"raised_at"` // at the earliest
	Value    *float64  `json:"value"`
	Limit    *float64  `json:"limit"`
	Unit     *string   `json:"unit"` // of value and limit: celsius, ratio, seconds, celsius-per-hour
}

// AlarmPlace is what an alarm is about.
type AlarmPlace struct {
	Zone   *string `json:"zone"`
	Box    *string `json:"box"`
	Probe  *string `json:"probe"`
	Clutch *string `json:"-"`
	Part   *string `json:"-"` // of the station itself: a bus, a sender
}

// Coming predicts when a limit will be passed at the present trend. Without a latest time
// it may not be passed.
type Coming struct {
	Limit    float64    `json:"limit_c"`
	About    time.Time  `json:"about"`
	Earliest time.Time  `json:"earliest"`
	Latest   *time.Time `json:"latest"`
}

// Event is one transition of an alarm.
type Event struct {
	At       time.Time `json:"at"`
	Alarm    string    `json:"alarm"`
	Zone     *string   `json:"zone"`
	Probe    *string   `json:"probe"`
	From     string    `json:"from"`
	To       string    `json:"to"`
	Value    *float64  `json:"value"`
	Limit    *float64  `json:"limit"`
	Unit     *string   `json:"unit"` // of value and limit: celsius, ratio, seconds, celsius-per-hour
	Priority string    `json:"priority"`
	Box      *string   `json:"box"`
}
