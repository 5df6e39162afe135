// Package hwmon reads probes that the kernel's hardware monitoring drives (sht4x,
// sht3x, tmp102, lm75 and others), as files below /sys/class/hwmon.
package hwmon

import (
	"context"
	"errors"
	"io/fs"
	"math"
	"os"
	"path/filepath"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/sysfile"
)

// Root is where the kernel lists its devices.
const Root = "/sys/class/hwmon"

// Probe is one device.
type Probe struct {
	Device string         // the device's directory where it holds a slash, otherwise what its file "name" says
	Root   string         // where to look for names; [Root] when empty
	Read   sysfile.Reader // for tests

	dir   string
	moist bool // it measures humidity, or did when it was last looked at
	aside sysfile.Aside
	fault bool // it says whether its temperature can be believed
}

var _ sensor.Probe = (*Probe)(nil)

func (p *Probe) String() string { return "hwmon " + p.Device }

// Measure reads temp1_input, thousandths of a degree, and where the device has it
// humidity1_input, thousandths of a percent (Documentation/hwmon/sysfs-interface).
// The kernel may answer with a value up to two seconds old. A temperature whose
// temp1_fault is set is that of an open or shorted line and is refused (as above). A
// humidity that cannot be read is lacking, and the temperature stays.
func (p *Probe) Measure(ctx context.Context) (sensor.Measurement, error) {
	m, err := p.measure(ctx)
	if err != nil {
		p.dir = "" // look it up again
		return sensor.None(), err
	}
	if m.Lacking != nil {
		p.dir = ""
	}
	return m, nil
}

func (p *Probe) measure(ctx context.Context) (sensor.Measurement, error) {
	none := sensor.None()
	if p.dir == "" {
		if err := p.find(ctx); err != nil {
			return none, err
		}
	}
	milli, err := p.Read.Number(ctx, filepath.Join(p.dir, "temp1_input"))
	if err != nil {
		return none, err
	}
	if p.fault {
		path := filepath.Join(p.dir, "temp1_fault")
		fault, err := p.Read.Number(ctx, path)
		if err != nil {
			return none, err
		}
		if fault != 0 {
			return none, sensor.Fail(sensor.NoAnswer, "%s: the part says that its probe is broken or off: see the probe's wiring", path)
		}
	}
	m := sensor.Measurement{Celsius: milli / 1000, Humidity: math.NaN()}
	if p.moist = p.moist || there(filepath.Join(p.dir, "humidity1_input")); p.moist {
		milli, m.Lacking = p.aside.Number(func() (float64, error) { return p.Read.Number(ctx, filepath.Join(p.dir, "humidity1_input")) })
		m.Humidity = milli / 1000 / 100
	}
	return m, nil
}

// find looks for the device and what it has.
func (p *Probe) find(ctx context.Context) error {
	root := p.Root
	if root == "" {
		root = Root
	}
	dir, err := p.Read.Find(ctx, root, p.Device)
	if err != nil {
		return err
	}
	p.dir, p.fault = dir, there(filepath.Join(dir, "temp1_fault"))
	p.moist = p.moist || there(filepath.Join(dir, "humidity1_input"))
	return nil
}

// there reports whether the kernel offers a file, readable or not.
func there(path string) bool {
	_, err := os.Stat(path)
	return !errors.Is(err, fs.ErrNotExist)
}

// Moist reports whether the device measures humidity. Nothing is measured.
func (p *Probe) Moist(ctx context.Context) (bool, error) {
	if err := p.find(ctx); err != nil {
		return false, err
	}
	return p.moist, nil
}
