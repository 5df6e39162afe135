// Package iio reads probes that the kernel's Industrial I/O subsystem drives
// (dht11, bme280, si7020, hdc100x and others), as files below
// /sys/bus/iio/devices.
package iio

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/sysfile"
)

// Root is where the kernel lists its devices.
const Root = "/sys/bus/iio/devices"

// Probe is one device. It is looked up when it is first measured and again after
// each failure, since the kernel numbers its devices as they appear.
type Probe struct {
	Device string         // the device's directory where it holds a slash, otherwise what its file "name" says
	Root   string         // where to look for names; [Root] when empty
	Read   sysfile.Reader // for tests

	dir             string
	celsius, wetted channel
	moist           bool // it measures humidity, or did when it was last looked at
	aside           sysfile.Aside
}

var _ sensor.Probe = (*Probe)(nil)

func (p *Probe) String() string { return "iio " + p.Device }

// channel is one quantity of a device: its file of finished values, or its raw
// ones with a scale and an offset (Documentation/ABI/testing/sysfs-bus-iio:
// in_temp_input, in_temp_raw and so on, in thousandths after both).
type channel struct {
	input              string
	raw, offset, scale string
}

func (c channel) exists() bool { return c.input != "" || c.raw != "" }

// Measure reads the temperature and, where the device has it, the humidity. One that
// cannot be read is lacking, and the temperature stays.
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
	if err := ctx.Err(); err != nil {
		return none, fmt.Errorf("%s: not read: %w", p.Device, err)
	}
	if p.dir == "" {
		if err := p.find(ctx); err != nil {
			return none, err
		}
	}
	milli, err := p.value(ctx, p.celsius)
	if err != nil {
		return none, err
	}
	m := sensor.Measurement{Celsius: milli / 1000, Humidity: math.NaN()}
	if !p.moist {
		p.wetted = find(p.dir, "in_humidityrelative")
		p.moist = p.wetted.exists()
	}
	if p.moist {
		milli, m.Lacking = p.aside.Number(func() (float64, error) { return p.value(ctx, p.wetted) })
		m.Humidity = milli / 1000 / 100 // of thousandths of a percent
	}
	return m, nil
}

// find sets the device's directory and its channels.
func (p *Probe) find(ctx context.Context) error {
	root := p.Root
	if root == "" {
		root = Root
	}
	dir, err := p.Read.Find(ctx, root, p.Device)
	if err != nil {
		return err
	}
	p.celsius, p.wetted = find(dir, "in_temp"), find(dir, "in_humidityrelative")
	if !p.celsius.exists() {
		return sensor.Fail(sensor.NoAnswer, "%s: has neither in_temp_input nor in_temp_raw: name a device that measures temperature", dir)
	}
	p.dir, p.moist = dir, p.moist || p.wetted.exists()
	return nil
}

// Moist reports whether the device measures humidity. Nothing is measured.
func (p *Probe) Moist(ctx context.Context) (bool, error) {
	if err := p.find(ctx); err != nil {
		return false, err
	}
	return p.moist, nil
}

// find lists the files that a device has for one quantity.
func find(dir, quantity string) channel {
	file := func(suffix string) string {
		path := filepath.Join(dir, quantity+suffix)
		if _, err := os.Stat(path); err != nil {
			return ""
		}
		return path
	}
	return channel{input: file("_input"), raw: file("_raw"), offset: file("_offset"), scale: file("_scale")}
}

// value is the quantity in thousandths of its unit.
func (p *Probe) value(ctx context.Context, c channel) (float64, error) {
	if !c.exists() {
		return math.NaN(), sensor.Fail(sensor.NoAnswer, "%s: it has no in_humidityrelative any more: see its wiring and its overlay", p.dir)
	}
	if c.input != "" {
		return p.Read.Number(ctx, c.input)
	}
	offset, scale := 0.0, 1.0
	var err error
	if c.offset != "" {
		if offset, err = p.Read.Number(ctx, c.offset); err != nil {
			return math.NaN(), err
		}
	}
	if c.scale != "" {
		if scale, err = p.Read.Number(ctx, c.scale); err != nil {
			return math.NaN(), err
		}
	}
	raw, err := p.Read.Number(ctx, c.raw)
	if err != nil {
		return math.NaN(), err
	}
	v := (raw + offset) * scale
	if math.IsInf(v, 0) || math.IsNaN(v) {
		return math.NaN(), sensor.Fail(sensor.BadFrame, "%s: %v and %v times %v is no such value: it will be read again", c.raw, raw, offset, scale)
	}
	return v, nil
}
