// Package config reads the station's TOML file, strictly: an unknown key is
// refused, a number that needs a unit must carry one, and everything wrong is
// told at once, each fault with its line and column, its key, and what to do.
//
// What it hands out is plain data in Celsius, kelvins, ratios and durations.
// It opens no other file and no device.
package config

import (
	"fmt"
	"os"
	"time"
)

// Config is the whole file, every default filled in.
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
	Fahrenheit bool           // what people read; inside all is Celsius
	Location   *time.Location // time_zone; the machine's own without it
	Listen     string         // host:port
	Open       bool           // listen reaches beyond this machine
	URL        string         // for links and labels
	Addressed  bool           // url is set; else URL is made of Listen, and no label may carry it
	Data       string         // directory; may be relative to the working directory
	Every      time.Duration  // between two polls
	Flush      time.Duration  // between two flushes of the readings
	Heartbeat  *Heartbeat     // nil: none
}

// Heartbeat is an address that is called while the station works, so that
// somebody else notices when the calls stop.
type Heartbeat struct {
	URL   string
	Every time.Duration
}

// Probe is one [[probe]]. Which of the driver's keys may be set is in its [Variant].
type Probe struct {
	Name        string // its identity, across restarts and repairs
	Driver      string
	Place       string        // the breeder's words: height, shelf, medium
	Offset      float64       // kelvins, added to each reading
	SilentAfter time.Duration // without a believed reading for this long it is told

	Bus     string  // a device such as /dev/i2c-1, or any name; one bus is polled by one goroutine
	Address string  // on that bus; an I2C address reads 0x76, a 1-Wire one 28-0123456789ab; empty: the part's usual one
	Path    string  // of the kernel's directory for the device, or the one that devices are listed in
	Device  string  // the name the kernel gives the part
	File    string  // of a recording
	Column  string  // of a recording
	Sim     *SimAir // only of the driver simulated
	Remote  *Remote // only of the driver scrape

	Thermometer bool // it never measures humidity; else it may
}

// Remote is a probe of another device, which exposes metrics.
type Remote struct {
	URL         string
	Temperature string            // names of the metrics; only this one must be there
	Humidity    string            //
	Success     string            // when it last measured, Unix seconds
	Labels      map[string]string // that each of them must have
	Fahrenheit  bool              // the temperature is
	Percent     bool              // the humidity is, and no ratio
	MaxAge      time.Duration     // a value older than this is none
}

// SimAir is what a simulated probe is to feel: a mean, a daily sine and noise.
type SimAir struct {
	Celsius  float64 // mean
	Swing    float64 // kelvins, half of warmest less coolest
	Noise    float64 // kelvins, one standard deviation
	Humidity float64 // ratio
}

// Zone is one [[zone]].
type Zone struct {
	Name     string
	Kind     string   // room, shelf, incubator
	Probes   []string // names; each is in one zone at most
	SetPoint *float64 // Celsius
	Wanted   *Band    // Celsius; outside is a warning
	Safe     *Band    // Celsius; outside is critical. nil: the strictest profile in the zone
	Humidity *Band    // ratios
	Rate     float64  // K an hour; a faster change is told
	Apart    float64  // K; probes further apart are told
	Single   *Dose    // beyond it at a stretch
	Total    *Dose    // beyond it in all
}

// Dose is how long a zone may be at a limit or past it. Low and High are Celsius.
type Dose struct {
	Low, High *float64
	For       time.Duration
}

// Band is a range with the figures of its alarm. Low and High are Celsius or a
// ratio, Deadband kelvins or a difference of ratios; one end may be nil.
type Band struct {
	Low, High *float64
	Deadband  float64       // how far back before the alarm ends
	OnDelay   time.Duration // how long before it begins
	OffDelay  time.Duration // how long before it ends
	Spells    []Spell       // the first that holds is in force; where none does, this band is
}

// Profile is one [[profile]], the breeder's own beside those built in.
type Profile struct {
	Name                   string
	Species, Order, Family string
	Usual                  *float64 // Celsius, T* of the model
	Upper                  *float64 // Celsius; above it the rate is frozen
	References             []Reference
	Base                   *float64 // Celsius
	DegreeDays             *float64 // Celsius days above Base
	Model                  string   // degree-days, curve, or empty: what the points allow
	Wanted, Safe           *Band
	EggLeast, EggMost      float64 // grams; 0: not known
	SexByTemperature       bool    // then it is not predicted
	ArrestedDevelopment    bool    // at first; the breeder marks its end
}

// Reference is a known duration of incubation.
type Reference struct {
	Celsius    float64 // mean
	DailyRange float64 // kelvins, warmest less coolest of a day
	Days       float64
	SDDays     *float64 // standard deviation between eggs, days
	N          *int     // eggs
	Study      string   // points of one study share its error
	Source     string
	Practice   bool // common practice rather than a measurement
}

// Sender is one [[sender]]. Which keys go with which kind is in [Kinds].
type Sender struct {
	Name       string
	Kind       string         // one of [Kinds]
	After      time.Duration  // only critical alarms that nobody acknowledged by then; 0: all at once
	Priorities []string       // critical, warning, notice; empty: all
	Quiet      *Quiet         // hours in which all but critical messages wait; nil: none
	Most       int            // messages in an hour; 0: as many as usual
	AllWell    *time.Duration // after midnight, when a line says each day how it stands; nil: none does

	Host         string
	Port         int
	User         string
	PasswordFile string
	From         string
	To           []string
	TLS          string // starttls, tls, none

	URL        string
	Headers    map[string]string
	Body       string // a template
	SecretFile string
	Topic      string
	CAFile     string // certificates that vouch for the broker
	State      bool   // the broker is told how things stand, too
	Output     string // of the board, as GPIO17
}

// Copy is the section [copy]: how the book leaves the card, once a week.
type Copy struct {
	Day    time.Weekday
	Mail   bool   // by the first mail sender
	Folder string // beside that; empty: none
	Keep   int    // how many stay in the folder
}

// Load reads and checks the file at path for a station that polls its own
// probes with the given drivers. What is wrong in the file itself comes back as [Faults].
func Load(path string, drivers []Variant) (Config, error) {
	return load(path, drivers, Parse)
}

// LoadReplay is [Load] for a recording: the readings come from elsewhere, so a
// zone may name a probe that has no section of its own, and a probe needs none
// of what its driver would.
func LoadReplay(path string, drivers []Variant) (Config, error) {
	return load(path, drivers, ParseReplay)
}

// Unreadable is a file that could not be read at all.
type Unreadable struct{ Err error }

func (u *Unreadable) Error() string {
	return fmt.Sprintf("%v; name the station's file with --config", u.Err)
}

// Usage reports that the configuration is at fault.
func (u *Unreadable) Usage() bool { return true }

func (u *Unreadable) Unwrap() error { return u.Err }

func load(path string, drivers []Variant, parse func(string, []byte, []Variant) (Config, error)) (Config, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return Config{}, &Unreadable{err}
	}
	return parse(path, data, drivers)
}

// Parse is [Load] of data already read; name stands in the faults.
func Parse(name string, data []byte, drivers []Variant) (Config, error) {
	return parse(name, data, drivers, false)
}

// ParseReplay is [LoadReplay] of data already read.
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

// config reads every section, and what holds between them.
func (f *file) config(root *node) Config {
	var c Config
	t := f.table(root, "")
	c.Station = f.station(t)
	for _, s := range t.sections("probe") {
		c.Probes = append(c.Probes, f.probe(s))
	}
	for _, s := range t.sections("zone") {
		c.Zones = append(c.Zones, f.zone(s))
	}
	for _, s := range t.sections("profile") {
		c.Profiles = append(c.Profiles, f.profile(s))
	}
	for _, s := range t.sections("sender") {
		c.Senders = append(c.Senders, f.sender(s))
	}
	c.Copy = f.copying(t, c.Senders)
	t.done()
	if !f.broken {
		f.names(t)
		c.Probes = f.places(t, c)
		f.parts(t, c.Probes)
		f.wires(t, c.Senders)
	}
	return c
}
