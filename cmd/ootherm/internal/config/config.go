// Package config reads the station's TOML file strictly. It refuses unknown keys and
// numbers without their unit, and it reports all faults at once, each with its line and
// column, its key and what to do. It gives plain data in Celsius, kelvins, ratios and
// durations. It must not open any other file or a device.
package config

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/configpath"
	"example.com/ootherm/cmd/ootherm/internal/permission"
)

// Config is the whole file with every default filled in.
type Config struct {
	Station  Station
	Probes   []Probe
	Zones    []Zone
	Profiles []Profile
	Senders  []Sender
	Copy     Copy
}

// Station is the section [station].
type Station struct {
	Name       string
	Fahrenheit bool           // people read Fahrenheit; all values here are Celsius
	Location   *time.Location // time_zone; by default the machine's own
	Listen     string         // host:port
	Open       bool           // listen reaches beyond this machine
	Notice     string         // shown on every page; empty: none. No key of the file sets it
	URL        string         // for links and labels
	Addressed  bool           // url is set; if not, URL comes from Listen and labels cannot carry it
	Data       string         // directory; may be relative to the working directory
	Every      time.Duration  // between two polls
	Flush      time.Duration  // between two flushes of the readings to the card
	Heartbeat  *Heartbeat     // nil: none
}

// Heartbeat is an address that the station calls while it works. A service there raises
// an alarm when the calls stop.
type Heartbeat struct {
	URL   string
	Every time.Duration
}

// Probe is one [[probe]]. The driver's [Variant] lists its keys.
type Probe struct {
	Name        string // its identity, across restarts and repairs
	Driver      string
	Place       string        // the breeder's words: height, shelf, medium
	Offset      float64       // kelvins, added to each reading
	SilentAfter time.Duration // an alarm after this time without a believed reading

	Bus     string  // a device such as /dev/i2c-1, or any name; one goroutine polls a bus
	Address string  // on that bus; 0x76 on I2C, 28-0123456789ab on 1-Wire; empty: the part's default
	Path    string  // the kernel's directory of the device, or the directory that lists devices
	Device  string  // the kernel's name of the part
	File    string  // of a recording
	Column  string  // of a recording
	Sim     *SimAir // of the driver simulated only
	Remote  *Remote // of the driver scrape only
	Topics  *Topics // of the driver mqtt only

	Thermometer bool // it never measures humidity; else it may
}

// Remote is a probe of another device that exposes metrics.
type Remote struct {
	URL         string
	Temperature string            // name of a metric; required
	Humidity    string            // name of a metric; optional
	Success     string            // name of a metric with the time of the last measurement, Unix seconds; optional
	Labels      map[string]string // that each metric must have
	Fahrenheit  bool              // the temperature is in Fahrenheit
	Percent     bool              // the humidity is in percent, not a ratio
	MaxAge      time.Duration     // an older value counts as missing
	Login                         // without a user, the file's text is sent as a token
}

// Topics is a probe whose values a broker publishes, as numbers or in JSON objects.
type Topics struct {
	URL           string // of the broker
	Topic         string // of the temperature; required
	HumidityTopic string // empty: the humidity is a field under Topic, or there is none
	Temperature   string // field of the object; empty: the payload is the number
	Humidity      string // field of the object; optional
	Time          string // field with the time of the measurement; optional
	Fahrenheit    bool   // the temperature is in Fahrenheit
	Percent       bool   // the humidity is in percent, not a ratio
	MaxAge        time.Duration
	Login
}

// SimAir describes the air of a simulated probe: a mean, a daily sine and noise.
type SimAir struct {
	Celsius  float64 // mean
	Swing    float64 // kelvins, half the difference of warmest and coolest
	Noise    float64 // kelvins, standard deviation
	Humidity float64 // ratio
}

// Zone is one [[zone]].
type Zone struct {
	Name     string
	Kind     string   // room, shelf, incubator
	Probes   []string // names; a probe is in one zone at most
	SetPoint *float64 // Celsius
	Wanted   *Band    // Celsius; a warning outside it
	Safe     *Band    // Celsius; critical outside it; nil: the strictest of the profiles in the zone
	Humidity *Band    // ratios
	Rate     float64  // K per hour; a faster change is a warning
	Apart    float64  // K; a larger difference between probes is a warning
	Single   *Dose    // limit of one stay
	Total    *Dose    // limit of the sum of all stays
}

// Dose is a time that a zone may spend at a limit or past it. Low and High are Celsius;
// one may be nil.
type Dose struct {
	Low, High *float64
	For       time.Duration
}

// Band is a range with the deadband and the delays of its alarm. Low and High are Celsius
// or ratios; one may be nil. Deadband is in kelvins or a difference of ratios.
type Band struct {
	Low, High *float64
	Deadband  float64       // the alarm ends this far inside the band
	OnDelay   time.Duration // outside the band, before the alarm begins
	OffDelay  time.Duration // inside the band, before the alarm ends
	Spells    []Spell       // the first that applies is in force; if none applies, this band
}

// Profile is one [[profile]]. It adds to the built-in ones or replaces one.
type Profile struct {
	Name                   string
	Species, Order, Family string
	Usual                  *float64 // Celsius, T* of the model
	Bounds
	References          []Reference
	Base                *float64 // Celsius
	DegreeDays          *float64 // Celsius days above Base
	Model               string   // degree-days or curve; empty: the best that the references allow
	Wanted, Safe        *Band
	EggG                EggMass
	SexByTemperature    bool // temperature decides the sex; it is not predicted
	ArrestedDevelopment bool // eggs rest at first; the breeder notes the end
}

// Bounds are the temperatures between which a species is usually kept, Celsius.
type Bounds struct {
	Lower *float64
	Upper *float64 // above it the rate stays constant
}

// EggMass is the range of an egg's mass, grams; zero: not known.
type EggMass struct{ Low, High float64 }

// Reference is a known duration of incubation.
type Reference struct {
	Celsius    float64 // mean
	DailyRange float64 // kelvins, difference of a day's warmest and coolest
	Days       float64
	SDDays     *float64 // standard deviation between eggs, days
	N          *int     // eggs
	Study      string   // points of one study share its error
	Source     string
	Practice   bool // common practice rather than a measurement
}

// Sender is one [[sender]]. [Kinds] lists the keys of each kind.
type Sender struct {
	Name       string
	Kind       string         // one of [Kinds]
	After      time.Duration  // above 0: only critical alarms that are not acknowledged after this time
	Priorities []string       // critical, warning, notice; empty: all
	Quiet      *Quiet         // hours in which only critical messages are sent; nil: none
	Most       int            // messages per hour; 0: the default
	AllWell    *time.Duration // time of the daily report, after midnight; nil: none

	URL    string // of a webhook, a broker or a receiver
	Output string // output of the board, as GPIO17
	Login
	Mail
	Webhook
	Broker
}

// Login is how a sender and its other side know each other. The certificate of the other side
// must chain to one in CAFile.
type Login struct{ User, PasswordFile, CAFile string }

// Mail is the part of a sender of the kind email.
type Mail struct {
	Host string
	Port int
	From string
	To   []string
	TLS  string // starttls, tls, none
}

// Webhook is the part of a sender of the kind webhook.
type Webhook struct {
	Headers    map[string]string
	Body       string // a template
	SecretFile string
}

// Broker is the part of a sender of the kind mqtt.
type Broker struct {
	Topic     string
	State     bool   // the broker also gets the present state
	Discovery string // first level of the topics that announce the state to a hub; empty: none
}

// Copy is the section [copy]: the weekly backup of the book.
type Copy struct {
	Day    time.Weekday
	Mail   bool   // sent by the first mail sender
	Folder string // also written here; empty: none
	Keep   int    // files to keep in the folder
}

// Load reads and checks the file at path for a station that polls its own probes with the
// given drivers. It returns [Faults] for errors in the file and [Unreadable] if it cannot be
// read.
func Load(path string, drivers []Variant) (Config, error) {
	return load(path, drivers, Parse)
}

// LoadReplay does what [Load] does, for a replay of a recording. A zone may name a probe
// that has no section, and a probe does not need its driver's keys.
func LoadReplay(path string, drivers []Variant) (Config, error) {
	return load(path, drivers, ParseReplay)
}

// Unreadable reports a file that could not be read.
type Unreadable struct{ Err error }

func (u *Unreadable) Error() string {
	if errors.Is(u.Err, fs.ErrNotExist) {
		setup := "ootherm setup"
		if os.Geteuid() != 0 && configpath.Installed() {
			setup = "sudo " + setup
		}
		var missing *fs.PathError
		if errors.As(u.Err, &missing) && os.Getenv(configpath.Variable) == "" && missing.Path == configpath.Default() {
			return "ootherm is not set up yet; type: " + setup
		}
		return fmt.Sprintf("%v; %s writes a configuration, and --config names another file", u.Err, setup)
	}
	if errors.Is(u.Err, fs.ErrPermission) {
		return u.Err.Error()
	}
	return fmt.Sprintf("%v; name the station's file with --config", u.Err)
}

// Usage reports that the configuration is at fault.
func (u *Unreadable) Usage() bool { return true }

func (u *Unreadable) Unwrap() error { return u.Err }

func load(path string, drivers []Variant, parse func(string, []byte, []Variant) (Config, error)) (Config, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return Config{}, &Unreadable{permission.GroupHint(err, path)}
	}
	return parse(path, data, drivers)
}

// Parse does what [Load] does with data that is already read. The faults carry the name.
func Parse(name string, data []byte, drivers []Variant) (Config, error) {
	return parse(name, data, drivers, false)
}

// ParseReplay does what [LoadReplay] does with data that is already read.
func ParseReplay(name string, data []byte, drivers []Variant) (Config, error) {
	return parse(name, data, drivers, true)
}

func parse(name string, data []byte, drivers []Variant, replay bool) (Config, error) {
	f := &file{name: name, drivers: drivers, replay: replay}
	root := f.read(data)
	c := f.config(root)
	if len(f.faults) > 0 {
		return Config{}, f.sorted()
	}
	return c, nil
}

// config reads every section and checks them against each other.
func (f *file) config(root *node) Config {
	var c Config
	t := f.table(root, "")
	c.Station = stationSection{t.optionalSection("station")}.read()
	for _, s := range t.sections("probe") {
		c.Probes = append(c.Probes, probeSection{s}.read())
	}
	for _, s := range t.sections("zone") {
		c.Zones = append(c.Zones, zoneSection{s}.read())
	}
	for _, s := range t.sections("profile") {
		c.Profiles = append(c.Profiles, profileSection{s}.read())
	}
	for _, s := range t.sections("sender") {
		c.Senders = append(c.Senders, senderSection{s}.read())
	}
	c.Copy = copySection{t.optionalSection("copy")}.read(c.Senders)
	t.done()
	if !f.broken {
		f.checkNames(t)
		c.Probes = f.checkZoneProbes(t, c)
		f.checkParts(t, c.Probes)
		f.checkOutputs(t, c.Senders)
	}
	return c
}
