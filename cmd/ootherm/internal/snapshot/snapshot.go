// Package snapshot defines the state that the station publishes after each step. It owns
// one immutable value that the page, the JSON, the metrics and the commands read. It must
// not compute anything: it is data only, and an absent value is nil.
package snapshot

import (
	"encoding/json"
	"slices"
	"time"
)

// Snapshot is the state of a station at one instant. A published snapshot does not change.
// Temperatures are Celsius, humidities are ratios.
type Snapshot struct {
	At      time.Time `json:"at"`
	Station Station   `json:"station"`
	Zones   []Zone    `json:"zones"`
	Boxes   []Box     `json:"boxes"`
	// Unplaced lists the clutches with eggs that the book has in no box.
	Unplaced []Unplaced `json:"unplaced"`
	Dams     []Dam      `json:"dams"` // without those that rest or are retired
	Alarms   []Alarm    `json:"alarms"`
	// Pending lists the alarms that are raised if their cause lasts for the on-delay.
	Pending []PendingAlarm `json:"pending"`
	Health  Health         `json:"health"`
	Known   []AlarmID      `json:"-"` // every alarm that can be raised, in a stable order
}

// AlarmID identifies an alarm that can be raised. An empty field is absent.
type AlarmID struct{ Key, Alarm, Zone, Probe, Priority string }

// Station describes the station itself.
type Station struct {
	Name          string  `json:"name"`
	Version       string  `json:"version"`
	Clock         string  `json:"clock"` // synchronised or unverified
	UptimeSeconds float64 `json:"uptime_seconds"`
}

// Band is a range of temperature in Celsius. Either end may be absent.
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
	Deficit      *float64 `json:"vapour_pressure_deficit_pa"` // what the air lacks to saturation
	Vapour       *float64 `json:"absolute_humidity_g_m3"`     // water per volume of air
	TrendPerHour *float64 `json:"trend_c_per_hour"`
	SetPoint     *float64 `json:"set_point_c"`
	Spread
	Wanted        Band       `json:"wanted"`
	Safe          Band       `json:"safe"`
	HumidityBand  Ratios     `json:"humidity"`
	Probes        []Probe    `json:"probes"`
	LearningUntil *time.Time `json:"learning_until"` // when early warnings begin; null where they have, or there is no band
}

// Spread is the mean difference between a zone's probes over about a day.
type Spread struct {
	SpreadK *float64 `json:"spread_k"`
	// The old name of spread_k, for programs that read it.
	SpreadOld *float64 `json:"spread_c"`
}

// Probe is the present state of one probe.
type Probe struct {
	Probe      string         `json:"probe"`
	Celsius    *float64       `json:"temperature_c"`
	Humidity   *float64       `json:"relative_humidity"`
	AgeSeconds *float64       `json:"age_seconds"` // of the last believed reading
	Saturated  bool           `json:"saturated"`   // its humidity shows wetness and is not a measurement; not a fault
	Status     string         `json:"status"`      // ok, suspect, stale, missing
	Cause      *string        `json:"cause"`
	LastGood   *time.Time     `json:"last_success"`
	Errors     map[string]int `json:"errors"` // refused readings since the start, by cause
}

// Box is an egg box and the clutches whose eggs are in it.
type Box struct {
	Box   string  `json:"box"`
	Zone  string  `json:"zone"`
	Probe *string `json:"probe"`
	// Measured is its probe where no zone lists that.
	Measured *Probe `json:"measured"`
	// Offset is the assumed temperature of the box minus that of its probe, in K. Without
	// a probe it is relative to the zone's air.
	Offset float64 `json:"offset_k"`
	// The old name of offset_k, for programs that read it.
	OffsetOld float64 `json:"offset_kelvin"`
	// Condensing reports that water may condense in the box: it came from a place that is
	// colder than the dew point here.
	Condensing bool     `json:"condensing"`
	Medium     *Medium  `json:"medium"`
	Clutches   []Clutch `json:"clutches"`
}

// Unplaced is a clutch with eggs that were never put into a box. It has no window.
type Unplaced struct {
	Clutch  string  `json:"clutch"`
	Dam     *string `json:"dam"`
	Profile *string `json:"profile"`
	Eggs    []Egg   `json:"eggs"`
	Laid    Laid    `json:"laid"`
}

// Filling is what a box was set up with, grams.
type Filling struct {
	Medium      *string  `json:"medium"`
	Dry         *float64 `json:"dry_g"`   // when set up
	Water       *float64 `json:"water_g"` // when set up
	Total       *float64 `json:"total_g"` // when set up
	WantedRatio *float64 `json:"wanted_ratio"`
}

// Drying is what a box probably lost since it was last weighed or watered, computed from its
// earlier weighings and the vapour-pressure deficit of the air. The ends of a range hold it with
// 80 %.
type Drying struct {
	Loses     float64   `json:"loses_g_per_kpa_hour"`
	LosesLow  float64   `json:"loses_low_g_per_kpa_hour"`
	LosesHigh float64   `json:"loses_high_g_per_kpa_hour"`
	Spans     int       `json:"spans"` // between two weighings, that it was learned from
	Since     time.Time `json:"since"` // when it was last weighed or watered
	// What it lost since then; null where the humidity of the air is not known, and where the
	// last weighing is impossible.
	Lost     *float64 `json:"foretold_lost_g"`
	LostLow  *float64 `json:"foretold_lost_low_g"`
	LostHigh *float64 `json:"foretold_lost_high_g"`
	// The share of the water at set-up that a weighing now would find lost at least; null also
	// until a gram is lost since the last weighing.
	LostShare *float64 `json:"foretold_lost"`
	Now       *float64 `json:"loses_now_g_per_hour"` // at the air of the last hour
	LastDay   *float64 `json:"lost_last_day_g"`      // at the air of the last 24 hours
	Usual     float64  `json:"usual_g_per_day"`      // at the mean air between those weighings
	Times     *float64 `json:"times_the_usual"`      // the last day's loss, as a ratio to the usual one; null if it was in another zone
}

// Medium is a box's medium and its water, grams.
type Medium struct {
	Filling
	Ratio     *float64   `json:"ratio"` // water to dry medium, at the last weighing
	Weighed   *time.Time `json:"weighed"`
	WeighNext *time.Time `json:"weigh_next"` // if eggs wait in it
	Add       *float64   `json:"add_g"`      // to restore it as set up, allowing for eggs taken out
	AddLow    *float64   `json:"add_low_g"`
	AddHigh   *float64   `json:"add_high_g"`
	PerDay    *float64   `json:"loses_g_per_day"`
	Lost      *float64   `json:"lost"`    // smallest lost share of the water at set-up
	Warning   *string    `json:"warning"` // to read before water is added
	Unknown   *string    `json:"unknown"` // why its water is not known
	Drying    *Drying    `json:"drying"`  // null until two spans between weighings tell how fast it dries
}

// Dam is a female that may lay, with the expected time.
type Dam struct {
	Dam          string     `json:"dam"`
	Profile      *string    `json:"profile"`
	Due          string     `json:"due"` // later, look, overdue or unknown
	LastLaid     *Laid      `json:"last_laid"`
	LastPaired   *time.Time `json:"last_paired"`
	LastLook     *time.Time `json:"last_look"`     // the last look that found no new eggs or took out the last ones
	Intervals    int        `json:"intervals"`     // number of her own intervals within a season
	IntervalDays *float64   `json:"interval_days"` // their median
	LookFrom     *time.Time `json:"look_from"`     // check the lay box daily from this time
	Earliest     *time.Time `json:"earliest"`
	Likely       *time.Time `json:"likely"`
	Latest       *time.Time `json:"latest"`
	Because      *string    `json:"because"`
}

// Clutch is one clutch's eggs in one box that came there together. A box that eggs rejoined
// after they had lain elsewhere has several of one clutch.
type Clutch struct {
	Clutch    string   `json:"clutch"`
	Dam       *string  `json:"dam"` // several possible dams are joined by " or "
	Profile   *string  `json:"profile"`
	Eggs      []Egg    `json:"eggs"`
	Laid      Laid     `json:"laid"`
	Developed *float64 `json:"developed"` // share of development, 0..1
	Observed  *float64 `json:"observed"`  // share of the time that was measured
	Heat
	Window     *Window   `json:"window"`
	LineWindow *Window   `json:"line_window"`
	State      *string   `json:"state"` // incubating, check daily, hatching or late; null where no egg waits or nothing is known
	Why        *Why      `json:"why"`   // the width of the window by its causes
	Because    []string  `json:"because"`
	Missing    []string  `json:"missing"` // for a window; empty where there is one
	Outside    []Outside `json:"outside"` // its species' bands
}

// The states of eggs that wait, in the order in which they pass them. A command, a page, an
// alarm, a metric and the calendar give the same one.
const (
	StateIncubating = "incubating"  // nothing to do
	StateCheckDaily = "check daily" // the first egg may hatch: look each day
	StateHatching   = "hatching"    // an egg of the clutch has pipped or hatched
	StateLate       = "late"        // past late_after
)

// States are all states of eggs that wait.
func States() []string {
	return []string{StateIncubating, StateCheckDaily, StateHatching, StateLate}
}

// Why is the width of a window in days, from check_from to late_after, by its causes.
type Why struct {
	Days  float64   `json:"days"`
	Parts []WhyPart `json:"parts"` // the largest first; they add up to days
	// Remedy is what a person can do that narrows the window most, and by how many days;
	// null where nothing helps by half a day.
	Remedy *WhyPart `json:"remedy"`
}

// WhyPart is one cause of a window's width: eggs, probe, laid, climate, known or gaps.
type WhyPart struct {
	Cause string  `json:"cause"`
	Days  float64 `json:"days"`
}

// Heat is what eggs have felt so far.
type Heat struct {
	DegreeDays        *DegreeDays `json:"degree_days"`
	EquivalentCelsius *float64    `json:"equivalent_c"` // constant temperature with the same development
	// The old name of equivalent_c, for programs that read it.
	EquivalentOld *float64 `json:"equivalent_celsius"`
}

// What may be missing for a window.
const (
	MissingKind       = "kind"       // of its dams, or its own
	UnknownKind       = "profile"    // its kind has no profile
	MissingModel      = "reference"  // the profile says nothing of the duration
	MissingZone       = "zone"       // nothing says where its box stands
	MissingSource     = "source"     // the probe or zone of its box is no longer configured
	MissingReading    = "reading"    // of that probe or zone
	MissingHistory    = "history"    // what its eggs felt is being read
	MissingResumption = "resumption" // the end of the arrested development
	MissingWarmth     = "warmth"     // too cold for a hatch
)

// Outside is a clutch's exposure past one end of one of its species' bands: in total
// (cumulative) and in the longest stretch (single event).
type Outside struct {
	Band           string  `json:"band"` // wanted or safe
	Side           string  `json:"side"` // warm or cold
	Limit          float64 `json:"limit_c"`
	Seconds        float64 `json:"seconds"`
	LongestSeconds float64 `json:"longest_seconds"`
	Events         int     `json:"events"`
	DegreeHours    float64 `json:"degree_hours"` // kelvin hours
	Most           float64 `json:"most_k"`       // largest difference from the limit
	// The old name of most_k, for programs that read it.
	MostOld float64 `json:"most_kelvin"`
	Stages  []Stage `json:"stages"`
}

// Stage is the exposure in one tenth of the development to the hatch.
type Stage struct {
	From           float64 `json:"from"` // share of development
	To             float64 `json:"to"`
	Seconds        float64 `json:"seconds"`
	LongestSeconds float64 `json:"longest_seconds"`
	DegreeHours    float64 `json:"degree_hours"`
}

// Egg is one egg and its fate.
type Egg struct {
	Egg  string  `json:"egg"`
	Slot *string `json:"slot"`
	Fate string  `json:"fate"` // waiting, pipped, hatched, lost
}

// Laid is the interval in which a clutch was laid.
type Laid struct {
	Earliest time.Time `json:"earliest"`
	Latest   time.Time `json:"latest"`
}

// DegreeDays is the heat above a base so far and the heat that hatching requires, in
// Celsius days.
type DegreeDays struct {
	Base     float64 `json:"base_c"`
	SoFar    float64 `json:"so_far"`   // with interpolated gaps
	Measured float64 `json:"measured"` // without gaps
	Required float64 `json:"required"`
}

// Window is the hatch window: check from (10 %), likely (50 %), late after (95 %). Likely is
// zero, and null in JSON, where the eggs hatch any day now or not at all.
type Window struct {
	CheckFrom time.Time `json:"check_from"`
	Likely    time.Time `json:"likely"`
	LateAfter time.Time `json:"late_after"`
	Late      bool      `json:"late"` // its state is late
}

// MarshalJSON writes null for a likely day that there is not.
func (w Window) MarshalJSON() ([]byte, error) {
	type fields Window
	var likely *time.Time
	if !w.Likely.IsZero() {
		likely = &w.Likely
	}
	return json.Marshal(struct {
		fields
		Likely *time.Time `json:"likely"`
	}{fields(w), likely})
}

// Shown is a window that was shown on a day.
type Shown struct {
	Clutch    string
	Box       string
	Day       string // local date, as 2026-05-01
	At        time.Time
	Eggs      []string // whose it is; empty: of all of the clutch that waited in the box
	Window    Window
	Developed float64
}

// Copy is the state of one kind of backup of the book.
type Copy struct {
	By      string     `json:"by"`      // mail or folder
	To      string     `json:"to"`      // the sender's name, or the folder
	At      *time.Time `json:"at"`      // when the last copy arrived
	Waiting bool       `json:"waiting"` // one is on its way
	Err     *string    `json:"error"`   // why the last try failed
}

// Delivery is what waits to be delivered by one sender.
type Delivery struct {
	Sender  string     `json:"sender"`
	Waiting int        `json:"waiting"`  // messages that are tried again
	NextTry *time.Time `json:"next_try"` // the earliest of them; null: none was tried yet
	Refused int        `json:"refused"`  // messages that the receiver refused for good; they are not tried again
	Err     *string    `json:"error"`    // of the last try that failed
	// AlarmsFailSince is since when a message of a critical alarm or a warning was tried and
	// does not get out; null: none waits that was tried.
	AlarmsFailSince *time.Time `json:"alarms_fail_since"`
}

// Health is the state of the station itself.
type Health struct {
	Flushed       *time.Time `json:"flushed"` // the last time the readings were made durable
	FlushFailing  bool       `json:"flush_failing"`
	Waiting       int        `json:"waiting"` // messages not yet delivered
	OldestWaiting *time.Time `json:"oldest_waiting"`
	Deliveries    []Delivery `json:"deliveries"` // by each sender that messages wait for
	StorageBytes  int64      `json:"storage_bytes"`
	Polled        bool       `json:"polled"`    // every probe was tried within three polls
	LastPoll      *time.Time `json:"last_poll"` // since when every probe was tried; null: one never was
	PollSeconds   float64    `json:"poll_interval_seconds"`
	Silent        []string   `json:"silent_buses"` // no probe on them answered for three polls
	Copies        []Copy     `json:"copies"`       // of the book
}

// ProbesOf are the probes that a zone lists, and those of its boxes that no zone lists.
func (n *Snapshot) ProbesOf(z Zone) []Probe {
	all := slices.Clone(z.Probes)
	for _, b := range n.Boxes {
		if m := b.Measured; m != nil && b.Zone == z.Zone && !slices.ContainsFunc(all, func(p Probe) bool { return p.Probe == m.Probe }) {
			all = append(all, *m)
		}
	}
	return all
}

// ProbeOf finds a probe by its name, and its zone.
func (n *Snapshot) ProbeOf(name string) (Zone, Probe, bool) {
	for _, z := range n.Zones {
		for _, p := range n.ProbesOf(z) {
			if p.Probe == name {
				return z, p, true
			}
		}
	}
	return Zone{}, Probe{}, false
}
