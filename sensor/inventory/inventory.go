// Package inventory finds the probes that are connected to this machine: on I2C, 1-Wire
// and in the kernel's files. It measures each once. It must not know the station or what
// its configuration is for.
package inventory

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"periph.io/x/conn/v3/i2c"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/catalog"
	"example.com/ootherm/sensor/ds18b20"
	"example.com/ootherm/sensor/hwmon"
	"example.com/ootherm/sensor/i2cbus"
	"example.com/ootherm/sensor/iio"
	"example.com/ootherm/sensor/sysfile"
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

// i2c looks on the I2C buses, at the addresses alone where a part can be that
// this program reads.
func (s *Scan) i2c(ctx context.Context, p Places) {
	devices, err := filepath.Glob(filepath.Join(p.I2C, "i2c-*"))
	if err != nil || len(devices) == 0 {
		s.trouble("there is no I2C bus", "sudo raspi-config nonint do_i2c 0 && sudo modprobe i2c-dev")
		return
	}
	for _, device := range devices {
		if s.foreign(p, device) {
			continue
		}
		bus, err := p.Open(device)
		switch {
		case errors.Is(err, fs.ErrPermission):
			s.trouble("this user may not use "+device, "sudo usermod -aG i2c $USER, then log in anew")
			continue
		case err != nil:
			s.trouble(fmt.Sprintf("%s does not open: %v", device, err), "sudo modprobe i2c-dev")
			continue
		}
		s.closes = append(s.closes, bus.Close)
		for address := uint16(0x08); address <= 0x77; address++ {
			if ctx.Err() == nil {
				s.address(ctx, p, bus, device, address)
			}
		}
	}
}

// foreign reports whether a bus is none for probes: that of a monitor or of the
// mainboard, where a stray command can do harm.
func (s *Scan) foreign(p Places, device string) bool {
	name, err := os.ReadFile(filepath.Join(p.I2CSys, filepath.Base(device), "name"))
	if err != nil {
		return false // nothing is known against it
	}
	for _, word := range []string{"SMBus", "HDMI", "DDC", "AUX", "i915", "NVIDIA", "AMDGPU", "radeon"} {
		if strings.Contains(strings.ToLower(string(name)), strings.ToLower(word)) {
			return true
		}
	}
	return false
}

// address tries every part that can be at an address of a bus.
func (s *Scan) address(ctx context.Context, p Places, bus i2c.Bus, device string, address uint16) {
	written := fmt.Sprintf("0x%02x", address)
	var able []string
	for _, d := range catalog.Drivers() {
		if d.First != 0 && address >= d.First && address <= d.Last {
			able = append(able, d.Name)
		}
	}
	if len(able) == 0 {
		return
	}
	digits := strings.TrimPrefix(filepath.Base(device), "i2c-")
	if kernel, err := os.Readlink(filepath.Join(p.I2CSys, fmt.Sprintf("%s-%04x", digits, address), "driver")); err == nil {
		s.trouble(fmt.Sprintf("%s on %s belongs to the kernel's driver %s", written, device, filepath.Base(kernel)), "nothing: it is read below as iio or hwmon, if that driver measures warmth")
		return
	}
	answered := false
	for _, name := range able {
		f := Found{Settings: catalog.Settings{Driver: name, Bus: device, Address: written}}
		var err error
		f.probe, err = catalog.Open(f.Settings, &catalog.Bus{I2C: bus})
		if err != nil {
			continue // it cannot be there
		}
		if got := Measure(ctx, f.probe); got.Err != nil {
			answered = answered || sensor.CauseOf(got.Err) != sensor.NoAnswer
			continue
		}
		if name == "sht3x" && humid(bus, address) {
			continue // it understands the same commands
		}
		s.Found = append(s.Found, f)
		return
	}
	if answered {
		s.trouble(fmt.Sprintf("something at %s on %s answers, but not as a %s", written, device, strings.Join(able, ", ")), "see what is printed on the part; i2cdetect -y "+digits+" lists all that answer")
	}
}

// humid reports whether the part is an HDC302x, which names its maker (0x3781
// gives 0x3000; HDC302x data sheet SNAS778, from memory). An SHT3x knows no such
// command.
func humid(bus i2c.Bus, address uint16) bool {
	id := make([]byte, 3)
	if bus.Tx(address, []byte{0x37, 0x81}, id) != nil {
		return false
	}
	maker, err := i2cbus.Word(0xFF, id)
	return err == nil && maker == 0x3000
}

// w1 lists the thermometers on 1-Wire.
func (s *Scan) w1(p Places) {
	const overlay = "echo dtoverlay=w1-gpio | sudo tee -a /boot/firmware/config.txt, then sudo reboot"
	entries, err := os.ReadDir(p.W1)
	if err != nil {
		s.trouble("there is no 1-Wire bus", overlay)
		return
	}
	bus, found, phantom, others := false, false, false, false
	for _, e := range entries {
		id := e.Name()
		bus = bus || strings.HasPrefix(id, "w1_bus_master")
		phantom = phantom || strings.HasPrefix(id, "00-")
		if other := ds18b20.Other(id); other != "" {
			others = true
			s.trouble(id+" on 1-Wire is "+other, "nothing: it is passed over")
			continue
		}
		f := Found{Settings: catalog.Settings{Driver: "ds18b20", Address: id}}
		if p.W1 != ds18b20.Root {
			f.Path = p.W1
		}
		if f.probe, err = ds18b20.New(id, p.W1, nil); err != nil {
			continue // another kind of part, or the bus itself
		}
		found = true
		s.Found = append(s.Found, f)
	}
	switch {
	case phantom:
		s.trouble("the 1-Wire bus shows parts that are none (00-...)", "put a resistor of 4.7 kOhm from its data line to 3.3 V")
	case found:
	case others:
		s.trouble("1-Wire works, and no thermometer is on it", "see the three wires of the thermometer itself, if there is one")
	case bus:
		s.trouble("a 1-Wire bus is there, but no thermometer on it answers", "see its three wires and the 4.7 kOhm from data to 3.3 V; the data line is GPIO 4 unless the overlay says otherwise")
	default:
		s.trouble("there is no 1-Wire bus", overlay)
	}
}

// iio lists the kernel's devices that measure warmth.
func (s *Scan) iio(ctx context.Context, p Places) {
	s.kernel(ctx, p.IIO, []string{"in_temp_input", "in_temp_raw"}, nil, Found{Settings: catalog.Settings{Driver: "iio"}}, func(dir string) sensor.Probe { return &iio.Probe{Device: dir} })
}

// hwmon lists the kernel's hardware monitors but for those of the machine
// itself, and those read elsewhere.
func (s *Scan) hwmon(ctx context.Context, p Places) {
	own := []string{"cpu_thermal", "rpi_volt", "rp1_adc", "pwmfan", "coretemp", "k10temp", "acpitz", "nvme", "drivetemp", "iwlwifi", "w1_slave_temp"}
	s.kernel(ctx, p.Hwmon, []string{"temp1_input"}, own, Found{Settings: catalog.Settings{Driver: "hwmon"}}, func(dir string) sensor.Probe { return &hwmon.Probe{Device: dir} })
}

// kernel lists the devices below a root that have one of the files.
func (s *Scan) kernel(ctx context.Context, root string, files, own []string, as Found, open func(dir string) sensor.Probe) {
	entries, err := os.ReadDir(root)
	if err != nil {
		return // not every kernel has it, and nothing may need it
	}
	names := map[string]int{}
	var found []Found
	for _, e := range entries {
		dir := filepath.Join(root, e.Name())
		if !slices.ContainsFunc(files, func(f string) bool { _, err := os.Stat(filepath.Join(dir, f)); return err == nil }) {
			continue
		}
		within, cancel := context.WithTimeout(ctx, Patience)
		text, err := sysfile.Reader(nil).Text(within, filepath.Join(dir, "name"))
		cancel()
		if name := strings.TrimSpace(text); err == nil && !slices.Contains(own, name) {
			if strings.ContainsFunc(name, unicode.IsControl) {
				name = "" // no configuration can hold it: the directory stays
			}
			f := as
			f.Device, f.Path, f.probe = name, dir, open(dir)
			names[name]++
			found = append(found, f)
		}
	}
	for _, f := range found {
		switch {
		case names[f.Device] > 1, f.Device == "":
			f.Device = "" // the name says too little; the directory stays
		case root == iio.Root || root == hwmon.Root:
			f.Path = "" // the kernel numbers its devices as they appear: the name lasts
		default:
			f.Path = root
		}
		s.Found = append(s.Found, f)
	}
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
