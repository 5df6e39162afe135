// Package snapshot is what the station publishes after each step: one immutable
// value that the page, the JSON, the metrics and the commands all read. It is
// data alone. What is absent is nil, never a plausible number.
package snapshot

import "time"

// Snapshot is the state of a station at one instant. It is never changed once
// published; temperatures are Celsius, humidities ratios.
type Snapshot struct {
	At      time.Time `json:"at"`
	Station Station   `json:"station"`
	Zones   []Zone    `json:"zones"`
	Boxes   []Box     `json:"boxes"`
	// Unplaced are the clutches with eggs that lie in no box by the book.
	Unplaced []Unplaced `json:"unplaced"`
	Dams     []Dam      `json:"dams"` // those that are neither rested nor retired
	Alarms   []Alarm    `json:"alarms"`
	Health   Health     `json:"health"`
	Known    []AlarmID  `json:"-"` // every alarm that may be raised, in a steady order
}

// AlarmID names one alarm that may be raised. Empty is absent.
type AlarmID struct{ Key, Alarm, Zone, Probe, Priority string }

// Station is the Pi itself.
type Station struct {
	Name          string  `json:"name"`
	Version       string  `json:"version"`
	Clock         string  `json:"clock"` // synchronised or unverified
	UptimeSeconds float64 `json:"uptime_seconds"`
}

// Band is a range of temperature in Celsius; either end may be absent.
type Band struct {
	Low  *float64 `json:"low_c"`
	High *float64 `json:"high_c"`
}

// Ratios is a range of relative humidity.
type Ratios struct {
	Low  *float64 `json:"low"`
	High *float64 `json:"high"`
}

// Zone is a room, a shelf or an incubator. Its temperature is the median of its
// believed probes.
type Zone struct {
	Zone         string   `json:"zone"`
	Kind         string   `json:"kind"`
	Celsius      *float64 `json:"temperature_c"`
	Humidity     *float64 `json:"relative_humidity"`
	DewPoint     *float64 `json:"dew_point_c"`
	Deficit      *float64 `json:"vapour_pressure_deficit_pa"` // how much more vapour the air would take up
	Vapour       *float64 `json:"absolute_humidity_g_m3"`     // the water in it
	TrendPerHour *float64 `json:"trend_c_per_hour"`
	SetPoint     *float64 `json:"set_point_c"`
	Spread       *float64 `json:"spread_c"` // between its probes, K, on average over about a day; a difference
	Wanted       Band     `json:"wanted"`
	Safe         Band     `json:"safe"`
	HumidityBand Ratios   `json:"humidity"`
	Probes       []Probe  `json:"probes"`
}

// Probe is the last that is known of one probe.
type Probe struct {
	Probe      string         `json:"probe"`
	Celsius    *float64       `json:"temperature_c"`
	Humidity   *float64       `json:"relative_humidity"`
	AgeSeconds *float64       `json:"age_seconds"` // of the last believed reading
	Saturated  bool           `json:"saturated"`   // its humidity is a sign of wetness, not a measurement; no fault
	Status     string         `json:"status"`      // ok, suspect, stale, missing
	Cause      *string        `json:"cause"`
	LastGood   *time.Time     `json:"last_success"`
	Errors     map[string]int `json:"errors"` // readings refused, by cause, since the start
}

// Box is an egg box and the clutches whose eggs are in it.
type Box struct {
	Box   string  `json:"box"`
	Zone  string  `json:"zone"`
	Probe *string `json:"probe"`
	// Offset is how much warmer, in K, the box is taken to be than its probe, or
	// than its zone's air where it has none.
	Offset float64 `json:"offset_kelvin"`
	// Condensing is whether water may condense in the box: it came lately from a
	// place colder than the dew point where it is.
	Condensing bool     `json:"condensing"`
	Medium     *Medium  `json:"medium"`
	Clutches   []Clutch `json:"clutches"`
}

// Unplaced is a clutch with eggs that were never put into a box. Nothing is
// reckoned for them.
type Unplaced struct {
	Clutch  string  `json:"clutch"`
	Dam     *string `json:"dam"`
	Profile *string `json:"profile"`
	Eggs    []Egg   `json:"eggs"`
	Laid    Laid    `json:"laid"`
}

// Medium is a box's medium and its water, grams.
type Medium struct {
	Medium      *string    `json:"medium"`
	Dry         *float64   `json:"dry_g"`   // when set up
	Water       *float64   `json:"water_g"` // when set up
	Total       *float64   `json:"total_g"` // when set up
	WantedRatio *float64   `json:"wanted_ratio"`
	Ratio       *float64   `json:"ratio"` // water to dry medium, by its last weighing
	Weighed     *time.Time `json:"weighed"`
	WeighNext   *time.Time `json:"weigh_next"` // while eggs wait in it
	Add         *float64   `json:"add_g"`      // to have it as it was set up, less eggs taken out
	AddLow      *float64   `json:"add_low_g"`
	AddHigh     *float64   `json:"add_high_g"`
	PerDay      *float64   `json:"loses_g_per_day"`
	Lost        *float64   `json:"lost"`    // of the water it began with, at least; ratio
	Warning     *string    `json:"warning"` // before any is added
	Unknown     *string    `json:"unknown"` // why nothing is said of its water
}

// Dam is a female that may lay, and when.
type Dam struct {
	Dam          string     `json:"dam"`
	Profile      *string    `json:"profile"`
	Due          string     `json:"due"` // later, look, overdue; unknown: nothing to go by
	LastLaid     *Laid      `json:"last_laid"`
	LastPaired   *time.Time `json:"last_paired"`
	LastLook     *time.Time `json:"last_look"`     // that found no new eggs, or took her last ones out
	Intervals    int        `json:"intervals"`     // of her own, within a season
	IntervalDays *float64   `json:"interval_days"` // their median
	LookFrom     *time.Time `json:"look_from"`     // look into the lay box daily from then on
	Earliest     *time.Time `json:"earliest"`
	Likely       *time.Time `json:"likely"`
	Latest       *time.Time `json:"latest"`
	Because      *string    `json:"because"`
}

// Clutch is one clutch's eggs in one box.
type Clutch struct {
	Clutch            string      `json:"clutch"`
	Dam               *string     `json:"dam"` // several, living together, are joined by " or "
	Profile           *string     `json:"profile"`
	Eggs              []Egg       `json:"eggs"`
	Laid              Laid        `json:"laid"`
	Developed         *float64    `json:"developed"` // share, 0..1
	Observed          *float64    `json:"observed"`  // share of the time that was measured
	DegreeDays        *DegreeDays `json:"degree_days"`
	EquivalentCelsius *float64    `json:"equivalent_celsius"` // the steady temperature that would have done the same
	Window            *Window     `json:"window"`
	LineWindow        *Window     `json:"line_window"`
	Because           []string    `json:"because"`
	Outside           []Outside   `json:"outside"` // past the ends of its species' bands
}

// Outside is what a clutch felt past one end of one of its species' bands, in all
// (cumulative) and at a stretch (single event).
type Outside struct {
	Band           string  `json:"band"` // wanted or safe
	Side           string  `json:"side"` // warm or cold
	Limit          float64 `json:"limit_c"`
	Seconds        float64 `json:"seconds"`
	LongestSeconds float64 `json:"longest_seconds"`
	Events         int     `json:"events"`
	DegreeHours    float64 `json:"degree_hours"` // kelvin hours
	Most           float64 `json:"most_kelvin"`  // past the limit at the worst
	Stages         []Stage `json:"stages"`
}

// Stage is the part of it that fell into one tenth of the way to the hatch.
type Stage struct {
	From           float64 `json:"from"` // share of the way
	To             float64 `json:"to"`
	Seconds        float64 `json:"seconds"`
	LongestSeconds float64 `json:"longest_seconds"`
	DegreeHours    float64 `json:"degree_hours"`
}

// Egg is one egg and what became of it.
type Egg struct {
	Egg  string  `json:"egg"`
	Slot *string `json:"slot"`
	Fate string  `json:"fate"` // waiting, pipped, hatched, lost
}

// Laid is when a clutch was laid: an interval, not a date.
type Laid struct {
	Earliest time.Time `json:"earliest"`
	Latest   time.Time `json:"latest"`
}

// DegreeDays is the line: heat above a base, summed until a requirement is met,
// in Celsius days.
type DegreeDays struct {
	Base     float64 `json:"base_c"`
	SoFar    float64 `json:"so_far"`   // gaps bridged from their two ends
	Measured float64 `json:"measured"` // of these, what was measured
	Required float64 `json:"required"`
}

// Window is when to look: check from (10 %), likely (50 %), late after (95 %).
type Window struct {
	CheckFrom time.Time `json:"check_from"`
	Likely    time.Time `json:"likely"`
	LateAfter time.Time `json:"late_after"`
	Late      bool      `json:"late"` // past what the model can still call a window
}

// Shown is a window as it was shown on one day.
type Shown struct {
	Clutch    string
	Box       string
	Day       string // where the station is, as 2026-05-01
	At        time.Time
	Window    Window
	Developed float64
}

// Alarm is one alarm that is not in its normal state.
type Alarm struct {
	Key      string     `json:"key"` // its identity, for whoever acts on it
	Alarm    string     `json:"alarm"`
	Zone     *string    `json:"zone"`
	Box      *string    `json:"box"`
	Probe    *string    `json:"probe"`
	Clutch   *string    `json:"-"`
	Part     *string    `json:"-"`        // of the station itself: a bus, a sender
	Priority string     `json:"priority"` // critical, warning, notice
	State    string     `json:"state"`    // active, acknowledged, returned, shelved, suppressed, out-of-service
	Since    time.Time  `json:"since"`
	Value    *float64   `json:"value"`
	Limit    *float64   `json:"limit"`
	Peak     *float64   `json:"peak"`
	Unit     *string    `json:"unit"`   // of value, limit and peak: celsius, ratio, seconds, celsius-per-hour
	Stands   bool       `json:"stands"` // true just now, whether or not it is hidden
	Seen     bool       `json:"seen"`   // somebody said so, of this occurrence
	Coming   *Coming    `json:"coming"` // what is foretold
	Detail   *string    `json:"detail"` // of exposure: which eggs, and past which limit for how long
	Until    *time.Time `json:"until"`  // when it is quiet until, if it is
}

// Coming is when a limit will be passed, if things go on so. No latest: perhaps it
// will not be.
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

// Copy is one way in which the book leaves the card.
type Copy struct {
	By      string     `json:"by"`      // mail or folder
	To      string     `json:"to"`      // the sender's name, or the folder
	At      *time.Time `json:"at"`      // when the last copy got there
	Waiting bool       `json:"waiting"` // one is on its way
	Err     *string    `json:"error"`   // why the last try failed
}

// Health is how the station itself is.
type Health struct {
	Flushed       *time.Time `json:"flushed"` // the last time the readings were made durable
	FlushFailing  bool       `json:"flush_failing"`
	Waiting       int        `json:"waiting"` // messages not yet delivered
	OldestWaiting *time.Time `json:"oldest_waiting"`
	StorageBytes  int64      `json:"storage_bytes"`
	Polled        bool       `json:"polled"`       // every probe was tried within three polls
	Silent        []string   `json:"silent_buses"` // those on which nothing answered for three polls
	Copies        []Copy     `json:"copies"`       // of the book
}
