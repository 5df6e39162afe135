package config

import "time"

// Defaults of keys that the file does not set. Each figure is our choice. A thermostat's
// cycle and a sensor's noise must raise no alarm, and a failed heater must raise one before
// the eggs in a room get cold.
const (
	// DefaultEvery is the time between two polls.
	DefaultEvery = 10 * time.Second

	defaultName   = "ootherm"
	defaultListen = "127.0.0.1:8080"
	defaultData   = "/var/lib/ootherm"
	defaultFlush  = 5 * time.Minute // a pulled plug loses at most this much; a shorter time wears the card

	defaultHeartbeat   = 5 * time.Minute
	defaultSilentAfter = 5 * time.Minute
	defaultMaxAge      = 5 * time.Minute

	defaultDeadband = 0.5 / 1.8 // kelvins: half a degree Fahrenheit
	defaultOnDelay  = 10 * time.Minute
	defaultOffDelay = 5 * time.Minute

	defaultHumidityDeadband = 0.02 // humidity swings more than temperature and matters less
	defaultHumidityOnDelay  = 30 * time.Minute
	defaultHumidityOffDelay = 10 * time.Minute

	// A room whose heater is dead or stuck changes by a few kelvins per hour, one with an open
	// door by more.
	defaultRate = 5.0 // K per hour
	// Two places of a room, 1.6 K (our choice: twice the median of a published recording), and
	// two parts, the square root of 2 times 1.0 K (data sheet of the BME280, the least accurate).
	defaultApart = 3.0 // K
	defaultTLS   = "starttls"

	defaultCopyDay    = "sunday"
	defaultKeptCopies = 12 // the weeks of a season

	// A simulated room is warm enough for eggs and has a daily course.
	defaultSimCelsius  = 23.3
	defaultSimSwing    = 0.5
	defaultSimNoise    = 0.02
	defaultSimHumidity = 0.55
)

// Bounds of values. A value outside them is a typing error (our choice).
const (
	minCelsius = -40.0 // of any limit or set point
	maxCelsius = 60.0

	maxOffsetK = 10.0 // a probe that needs more is broken

	minPollInterval = 100 * time.Millisecond
	maxPollInterval = time.Hour
	maxSpan         = 366 * 24 * time.Hour

	maxNameLength = 64 // characters; names are on labels and in metrics
)
