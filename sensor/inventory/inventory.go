// Package inventory finds the probes that are connected to this machine: on I2C, 1-Wire
// and in the kernel's files. It measures each once. It must not know the station or what
// its configuration is for.
package inventory

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"periph.io/x/conn/v3/i2c"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/catalog"
	"example.com/ootherm/sensor/ds18b20"
	"example.com/ootherm/sensor/hwmon"
	"example.com/ootherm/sensor/i2cbus"
	"example.com/ootherm/sensor/iio"
)

// Places are where a scan looks. An empty one is the kernel's own.
type Places struct {
	I2C    string // the directory of the buses' devices, /dev
	I2CSys string // what the kernel knows of the buses, /sys/bus/i2c/devices
	W1     string
	IIO    string
	Hwmon  string

	Open func(device string) (i2c.BusCloser, error) // of a bus
	Wait func(context.Context, time.Duration) error // between two readings
}

func (p Places) Filled() Places {
	p.I2C = cmp.Or(p.I2C, filepath.Dir(i2cbus.Prefix))
	p.I2CSys = cmp.Or(p.I2CSys, "/sys/bus/i2c/devices")
	p.W1, p.IIO, p.Hwmon = cmp.Or(p.W1, ds18b20.Root), cmp.Or(p.IIO, iio.Root), cmp.Or(p.Hwmon, hwmon.Root)
	if p.Open == nil {
		p.Open = openI2C
	}
	if p.Wait == nil {
		p.Wait = i2cbus.Wait
	}
	return p
}

// openI2C tells first, in an error that can be told apart, whether the bus may
// be used at all.
func openI2C(device string) (i2c.BusCloser, error) {
	f, err := os.OpenFile(device, os.O_RDWR, 0)
	if err != nil {
		return nil, err
	}
	if err := f.Close(); err != nil {
		return nil, err
	}
	return i2cbus.Open(device)
}

// Found is a probe that answered, and the settings with which its driver opens it.
type Found struct {
	catalog.Settings
	Known string // the name the configuration has for it already
	Read  []Outcome

	probe sensor.Probe
}

// Outcome is one measurement of a scan: its values, or why there are none.
type Outcome struct {
	sensor.Measurement
	Err error
}

// Trouble is what stands in the way of a probe, and what mends it: mostly a
// command.
type Trouble struct {
	What string
	Mend string
}

// Scan is what was found, and what keeps more from being found.
type Scan struct {
	Found    []Found
	Troubles []Trouble
	Lost     bool // a probe of the configuration does not answer

	closes []func() error
}

// Close lets go of the buses.
func (s *Scan) Close() error {
	var all error
	for _, c := range s.closes {
		all = errors.Join(all, c())
	}
	s.closes = nil
	return all
}

const (
	readings = 3                      // of each probe
	Patience = 2 * time.Second        // for one; the slowest part takes 750 ms
	pause    = 500 * time.Millisecond // between two
)

// scan looks for every probe that answers, names it, and reads it three times.
func Take(ctx context.Context, p Places, known []catalog.Settings) (*Scan, error) {
	p = p.Filled()
	s := &Scan{}
	s.i2c(ctx, p)
	s.w1(p)
	s.iio(ctx, p)
	s.hwmon(ctx, p)
	for i := range s.Found {
		s.Found[i].Name = s.name(s.Found[i])
	}
	s.hold(ctx, known)
	for round := range readings {
		if round > 0 {
			if err := p.Wait(ctx, pause); err != nil {
				return s, errors.Join(err, s.Close())
			}
		}
		s.Read(ctx)
	}
	for _, f := range s.Found {
		switch last := f.Read[len(f.Read)-1]; {
		case last.Err != nil:
			s.trouble(f.Name+" is there but gave no value: "+last.Err.Error(), "see its wiring, then run this again")
		case last.Lacking != nil:
			s.trouble(f.Name+" gives a temperature and no humidity: "+last.Lacking.Error(), "see its wiring, then run this again")
		}
	}
	return s, nil
}

// Read measures each probe once.
func (s *Scan) Read(ctx context.Context) {
	for i := range s.Found {
		f := &s.Found[i]
		f.Read = append(f.Read, Measure(ctx, f.probe))
	}
}

func Measure(ctx context.Context, p sensor.Probe) Outcome {
	ctx, cancel := context.WithTimeout(ctx, Patience)
	defer cancel()
	m, err := p.Measure(ctx)
	return Outcome{m, err}
}

func (s *Scan) trouble(what, mend string) {
	s.Troubles = append(s.Troubles, Trouble{what, mend})
}

// name is a name for a found probe that no other has.
func (s *Scan) name(f Found) string {
	name := f.Driver
	switch {
	case f.Device != "":
		name = f.Device
	case f.Driver == "ds18b20":
		name += "-" + f.Address[len(f.Address)-4:]
	case f.Address != "":
		name += "-" + strings.TrimPrefix(f.Address, "0x")
	}
	taken := func(n string) bool { return slices.ContainsFunc(s.Found, func(o Found) bool { return o.Name == n }) }
	for free, n := name, 2; ; n++ {
		if !taken(free) {
			return free
		}
		free = name + "-" + strconv.Itoa(n)
	}
}

// hold compares what was found with what the configuration expects.
func (s *Scan) hold(ctx context.Context, known []catalog.Settings) {
	used := map[int]bool{}
	var lost []catalog.Settings
	for _, k := range known {
		at := slices.IndexFunc(s.Found, func(f Found) bool { return f.Known == "" && Same(f.Settings, k) })
		if at >= 0 {
			used[at] = true
			s.Found[at].Known, s.Found[at].Name = k.Name, k.Name
			continue
		}
		switch err := s.elsewhere(ctx, k); {
		case err == nil:
		case k.Address != "":
			lost = append(lost, k)
		default:
			s.Lost = true
			s.trouble(fmt.Sprintf("the configuration's probe %s gives no value: %v", k.Name, err), mends(k))
		}
	}
	for _, k := range lost {
		s.Lost = true
		where := k.Address
		if k.Bus != "" {
			where += " on " + k.Bus
		}
		what := fmt.Sprintf("the configuration's probe %s, a %s, does not answer at %s", k.Name, k.Driver, where)
		at := -1
		for i, f := range s.Found {
			if !used[i] && f.Driver == k.Driver {
				at = i
				break
			}
		}
		if at < 0 {
			s.trouble(what, "see that it is plugged in; i2cdetect -y 1 or ls /sys/bus/w1/devices lists what answers")
			continue
		}
		used[at] = true
		f := s.Found[at]
		mend := fmt.Sprintf("write address = %q", f.Address)
		if f.Bus != k.Bus {
			mend += fmt.Sprintf(" and bus = %q", f.Bus)
		}
		s.trouble(fmt.Sprintf("%s; one that the configuration has not is at %s", what, f.Address), mend+" in its [[probe]]")
	}
}

// mends says what to do about a configured probe that has no address and does not
// answer.
func mends(k catalog.Settings) string {
	switch {
	case k.Driver == "scrape" || k.Driver == "mqtt":
		return "see the other device, and what its [[probe]] says"
	case k.Driver != "iio" && k.Driver != "hwmon":
		return "see its wiring and what its [[probe]] says"
	case strings.HasPrefix(k.Device, "dht11"): // of a DHT22 too
		return "see its wiring; if the kernel has not its overlay: echo dtoverlay=dht11,gpiopin=27 | sudo tee -a /boot/firmware/config.txt (its own GPIO), then sudo reboot"
	}
	return "see its wiring, and that the overlay of the part is in /boot/firmware/config.txt"
}

// errLooked is the error of a probe whose bus was looked through without it.
var errLooked = errors.New("it is not on its bus")

// elsewhere reads a configured probe that is not where the scan looked, such as
// one of another device or below a path of its own, or says why it cannot be read.
func (s *Scan) elsewhere(ctx context.Context, k catalog.Settings) error {
	if strings.HasPrefix(k.Bus, i2cbus.Prefix) {
		return errLooked
	}
	began := time.Now()
	b := &catalog.Bus{Now: time.Now, Elapsed: func() time.Duration { return time.Since(began) }}
	f := Found{Settings: k, Known: k.Name}
	var err error
	f.probe, err = catalog.Open(k, b)
	s.closes = append(s.closes, b.Close)
	if err == nil {
		err = Measure(ctx, f.probe).Err
	}
	if err != nil {
		return err
	}
	s.Found = append(s.Found, f)
	return nil
}

// Same reports whether a found part is the configured one.
func Same(f, k catalog.Settings) bool {
	if f.Driver != k.Driver || f.Address != k.Address || f.Bus != k.Bus && f.Driver != "ds18b20" {
		return false
	}
	if f.Device != "" && k.Device != "" { // a path is then the folder that holds both
		return f.Device == k.Device && (f.Path == k.Path || f.Path == "" || k.Path == "")
	}
	return f.Driver == "ds18b20" || f.Address != "" || f.Path != "" && f.Path == k.Path
}
