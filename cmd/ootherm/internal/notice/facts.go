package notice

import (
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/cycle"
	"example.com/ootherm/alert/daily"
	"example.com/ootherm/alert/response"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// Why a limit is no longer set, as a message says it.
const (
	GoneBeforeStart = "since the configuration, the book or the band in force changed before this start"
	GoneByHour      = "since another band is in force by the hour or the season"
	GoneByBook      = "since other eggs, or none, are there by the book"
)

// Facts are what the station knows when it commits a step. Temperatures are in C, humidities
// are ratios, rates are in K an hour.
type Facts struct {
	Now     time.Time
	Station string // its name
	URL     string // of its page; empty: none is configured
	Started time.Time
	Off     time.Duration // how long the station was off before that; 0: hardly, or not known

	Zones    []Zone                      // in the order of the configuration
	Probes   map[string]Probe            // by name
	Buses    map[string][]string         // the probes of each bus with more than one
	Clutches []Clutch                    // in the order of boxes and clutches
	Media    map[string]*snapshot.Medium // by box in use

	Alarms       map[alert.Key]Alarm // those of the events, and the same of another priority
	OutOfService []OutOfService

	Health
}

// Health is what fails of the station itself.
type Health struct {
	FreeBytes   uint64             // on the card
	CopyTrouble string             // why the book does not leave the card; empty: it does
	Senders     map[string]Failure // by name, where the last attempt failed
	Heartbeat   Failure            // what its last attempt came to
	Damages     []Damage           // the newest first
	ReadError   string             // why the history cannot be read just now; empty: it can
}

// Zone is one room, shelf or incubator.
type Zone struct {
	Name             string
	Probes           []string         // in the order of the configuration
	Boxed            []string         // probes of boxes with eggs here, that no zone lists
	TrendKPerHour    float64          // over the last hour; NaN: not known
	RecentKPerHour   float64          // over the last ten minutes; NaN: not known
	Low, High        *float64         // the wanted band in force
	Banded           bool             // a wanted band is in force
	ApartK           float64          // further apart its probes disagree
	Extreme          *float64         // the highest value where it rises, else the lowest; nil: no probe has one
	NextLimit        *snapshot.Coming // the first limit that the extreme reaches by the trend; nil: none
	WatchesHumidity  bool             // a band of humidity is configured
	MeasuresHumidity bool             // a probe gives a humidity now
	LearningUntil    time.Time        // early warnings begin then; zero: they have, or there is no band
}

// Probe is one probe.
type Probe struct {
	Name          string
	Celsius       float64 // the last that was believed; NaN before the first
	Fresh         bool    // that counts as the present value
	Heard         bool    // a reading of it was ever believed
	HumidityCause string  // why its humidity is not believed; empty: it is, or it measures none

	Box       string         // that it lies in with eggs, by the book; empty: in none
	HalfHourK float64        // its change over the last half hour; NaN: not known
	QuarterK  float64        // its change over the last quarter; NaN: not known
	Recent    *float64       // its change over the last ten minutes, K an hour; nil: not known
	BeforeK   float64        // its change over the half hour before its last reading; NaN: not known
	Step      *response.Step // its last step of the hour, after which it is level; nil: none
}

// Clutch is the eggs of a clutch in one box.
type Clutch struct {
	Name, Box, Zone string
	Dams            []string
	Waiting         bool             // an egg waits or has pipped
	Left            int              // eggs that may still hatch
	Developed       *float64         // ratio; nil: there is no forecast
	Window          *snapshot.Window // as the page shows it; nil: there is none
	State           string           // as it is published; empty: not known
	Eggs            []string         // that may still hatch
	Last            string           // the last egg of the clutch that pipped or hatched, in any box; empty: none
	LastHatched     bool             // that it hatched
}

// Alarm is what the panel and the rules know of an alarm.
type Alarm struct {
	alert.Alarm
	Zone     string       // of an alarm of a box: where the box stands
	Probe    string       // whose value it goes by; empty: no single one
	RaisedBy *alert.Limit // where it has another limit now
	GoneWhy  string       // why its limit is no longer set

	Usual      *float64         // where the value usually is at this hour; nil: not known
	SafeLimit  *snapshot.Coming // when the safe limit is passed; nil: not before long
	Drift      *snapshot.Coming // what a drift leads to; nil: not known
	DriftProbe string           // that drifts
	Humidity   *daily.Coming    // what a change of the humidity over days leads to; nil: none
	Stopped    cycle.Stop       // the thermostat's cycle, where the drift goes by it
	Exceeded   *Exceeded        // by the eggs of an exposure alarm
	HatchMoved *Moved           // by the excursion that ended; nil: not known
}

// Moved is by how many days hatches moved, from the least to the most of the clutches; less
// than 0 is earlier.
type Moved struct{ LeastDays, MostDays float64 }

// Failure is what the last attempt of a sender came to.
type Failure struct {
	Since time.Time // of the first failure in a row
	Err   string    // of the last; empty: it got through
}

// Damage is a span of readings that cannot be read.
type Damage struct {
	Probe    string
	From, To time.Time
}

// OutOfService is what a person took out of service in a zone; without a zone, of the station
// itself.
type OutOfService struct {
	Zone  string
	Since time.Time   // when the first of them was
	Keys  []alert.Key // in the order of their texts
	Whole bool        // nothing of the zone is left in service

	Celsius *float64   // the worst value there now; nil: not known
	Side    alert.Kind // TemperatureLow or TemperatureHigh, where a limit is passed; empty: none is
	Safe    *float64   // the safe limit that is passed, C; nil: none is
	Silent  bool       // a zone, and no probe of it has a value
}

// Exceeded is how long eggs were beyond a limit.
type Exceeded struct {
	High    bool
	Celsius float64 // the limit
	For     time.Duration
}
