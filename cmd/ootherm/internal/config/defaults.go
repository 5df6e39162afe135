package config

import "time"

// What holds when the file is silent. Each figure is our choice, none is
// published: they are to keep a thermostat's cycle and a sensor's noise quiet
// and still tell of a failed heater before the eggs in a room feel it.
const (
	defaultName   = "ootherm"
	defaultListen = "127.0.0.1:8080"
	defaultData   = "/var/lib/ootherm"
	defaultEvery  = 10 * time.Second
	defaultFlush  = 5 * time.Minute // at most this much is lost with the plug; less costs card life

	defaultHeartbeat   = 5 * time.Minute
	defaultSilentAfter = 5 * time.Minute
	defaultMaxAge      = 5 * time.Minute

	defaultDeadband = 0.5 / 1.8 // kelvins: half a degree Fahrenheit
	defaultOnDelay  = 10 * time.Minute
	defaultOffDelay = 5 * time.Minute

	defaultHumidityDeadband = 0.02 // air's humidity swings more than its warmth, and matters less
	defaultHumidityOnDelay  = 30 * time.Minute
	defaultHumidityOffDelay = 10 * time.Minute

	// A room with its heater dead, or its heater stuck, changes by a few kelvins in
	// an hour; a door that stands open, by more, and then that is the news. Four
	// probes of one room lay 0.8 K apart in a published recording.
	defaultRate  = 5.0 // K an hour
	defaultApart = 3.0 // K

	defaultTLS = "starttls"

	defaultCopyDay = "sunday"
	defaultKeep    = 12 // copies in a folder: a season's weeks

	// A simulated room: warm enough for eggs, with a day's course.
	defaultSimCelsius  = 23.3
	defaultSimSwing    = 0.5
	defaultSimNoise    = 0.02
	defaultSimHumidity = 0.55
)

// Bounds beyond which a value is a slip of the pen. Ours too.
const (
	coldest = -40.0 // Celsius, of any limit or set point
	hottest = 60.0

	mostOffset = 10.0 // kelvins: a probe that far off is broken

	shortestPoll = 100 * time.Millisecond
	longestPoll  = time.Hour
	longestSpan  = 366 * 24 * time.Hour

	longestName = 64 // characters; names stand on labels and in metrics
)
