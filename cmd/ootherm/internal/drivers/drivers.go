// Package drivers opens the probes of a configuration by their driver, grouped by the bus
// that they share. It holds the one table from a driver's name to its opener. It must not
// know what is done with a reading.
package drivers

import (
	"context"
	"fmt"
	"os"
	"strconv"
	"sync"
	"time"

	"periph.io/x/conn/v3/i2c"

	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/aht20"
	"example.com/ootherm/sensor/bme280"
	"example.com/ootherm/sensor/ds18b20"
	"example.com/ootherm/sensor/hdc302x"
	"example.com/ootherm/sensor/htu21"
	"example.com/ootherm/sensor/hwmon"
	"example.com/ootherm/sensor/i2cbus"
	"example.com/ootherm/sensor/iio"
	"example.com/ootherm/sensor/mcp9808"
	"example.com/ootherm/sensor/recording"
	"example.com/ootherm/sensor/scrape"
	"example.com/ootherm/sensor/sht3x"
	"example.com/ootherm/sensor/sht4x"
	"example.com/ootherm/sensor/simulated"
	"example.com/ootherm/sensor/tmp117"
)

// Buses are the probes of the configuration by the wire they share. A probe
// without a bus has one of its own, so that it can hold up no other.
func Buses(probes []config.Probe, now func() time.Time) ([]sensor.Bus, error) {
	var order []string
	members := map[string][]config.Probe{}
	for _, p := range probes {
		if _, ok := Drivers()[p.Driver]; !ok {
			return nil, usererr.Usage(fmt.Errorf("probe %s: this build cannot read the driver %s", p.Name, p.Driver))
		}
		if p.Driver == "ds18b20" { // told before one that is none costs all on the bus
			if _, err := ds18b20.New(p.Address, p.Path, nil); err != nil {
				return nil, usererr.Usage(fmt.Errorf("probe %s: %w", p.Name, err))
			}
		}
		name := p.Bus
		switch {
		case name != "":
		case p.Driver == "ds18b20":
			name = "1-Wire" // the kernel converts one part at a time, 750 ms each
		default:
			name = "probe " + p.Name
		}
		if members[name] == nil {
			order = append(order, name)
		}
		members[name] = append(members[name], p)
	}
	all := make([]sensor.Bus, 0, len(order))
	for _, name := range order {
		on := members[name]
		b := sensor.Bus{Name: name}
		for _, p := range on {
			b.Names = append(b.Names, p.Name)
		}
		// A bus may be opened again at any time; a recording goes on meanwhile.
		began := sync.OnceValue(now)
		b.Open = func(context.Context) ([]sensor.Probe, func() error, error) {
			first := began()
			return openBus(on, &Wire{Now: now, Elapsed: func() time.Duration { return now().Sub(first) }})
		}
		all = append(all, b)
	}
	return all, nil
}

// Wire is what the probes of one bus share while it is open.
type Wire struct {
	i2c     i2c.BusCloser
	Closes  []func() error
	Open    i2c.Bus // the bus, where it is open already
	Now     func() time.Time
	Elapsed func() time.Duration // since the bus was first opened
}

// on is the I2C bus, opened when the first probe asks for it.
func (w *Wire) on(device string) (i2c.Bus, error) {
	if w.Open != nil {
		return w.Open, nil
	}
	if w.i2c == nil {
		b, err := i2cbus.Open(device)
		if err != nil {
			return nil, err
		}
		w.i2c = b
		w.Closes = append(w.Closes, b.Close)
	}
	return w.i2c, nil
}

// opener makes a probe of the configuration on the wire it shares with others.
type opener func(config.Probe, *Wire) (sensor.Probe, error)

// Drivers open a probe of each kind. A driver more is a line more here, and one
// in the table of the configuration.
func Drivers() map[string]opener {
	return map[string]opener{
		"sht4x":     onI2C(sht4x.New),
		"sht3x":     onI2C(sht3x.New),
		"hdc302x":   onI2C(hdc302x.New),
		"htu21":     onI2C(htu21.New),
		"aht20":     onI2C(aht20.New),
		"mcp9808":   onI2C(mcp9808.New),
		"tmp117":    onI2C(tmp117.New),
		"bme280":    onI2C(bme280.New),
		"ds18b20":   func(p config.Probe, _ *Wire) (sensor.Probe, error) { return ds18b20.New(p.Address, p.Path, nil) },
		"iio":       func(p config.Probe, _ *Wire) (sensor.Probe, error) { return IioProbe(p), nil },
		"hwmon":     func(p config.Probe, _ *Wire) (sensor.Probe, error) { return HwmonProbe(p), nil },
		"scrape":    remote,
		"recording": recorded,
		"simulated": func(p config.Probe, w *Wire) (sensor.Probe, error) {
			c := simulated.Climate{
				SetPoint: p.Sim.Celsius, Swing: p.Sim.Swing, Noise: p.Sim.Noise, Humidity: p.Sim.Humidity,
			}
			return simulated.New(p.Name, c.At, w.Now), nil
		},
	}
}

// onI2C opens a part at its address on an I2C bus.
func onI2C[P sensor.Probe](part func(i2c.Bus, uint16) (P, error)) opener {
	return func(p config.Probe, w *Wire) (sensor.Probe, error) {
		bus, err := w.on(p.Bus)
		if err != nil {
			return nil, err
		}
		address, err := strconv.ParseUint(p.Address, 0, 7)
		if err != nil {
			return nil, fmt.Errorf("probe %s: address: %w", p.Name, err)
		}
		return part(bus, uint16(address))
	}
}

// recorded plays a recording, from its first row when the bus was first opened.
func recorded(p config.Probe, w *Wire) (sensor.Probe, error) {
	file, err := os.Open(p.File)
	if err != nil {
		return nil, fmt.Errorf("probe %s: %w", p.Name, err)
	}
	w.Closes = append(w.Closes, file.Close)
	var o recording.Options
	if p.Column != "" {
		column, err := recording.ParseColumn(p.Name + "=" + p.Column)
		if err != nil {
			return nil, err
		}
		o.Columns = append(o.Columns, column)
	}
	rows, err := recording.Open(file, p.File, o)
	if err != nil {
		return nil, err
	}
	return recording.Play(rows, p.Name, w.Elapsed), nil
}

func remote(p config.Probe, w *Wire) (sensor.Probe, error) {
	metric := func(name string) scrape.Metric {
		if name == "" {
			return scrape.Metric{}
		}
		return scrape.Metric{Name: name, Labels: p.Remote.Labels}
	}
	return scrape.New(scrape.Options{
		URL: p.Remote.URL, Temperature: metric(p.Remote.Temperature), Humidity: metric(p.Remote.Humidity),
		Fahrenheit: p.Remote.Fahrenheit, Percent: p.Remote.Percent,
		Success: metric(p.Remote.Success), MaxAge: p.Remote.MaxAge, Now: w.Now,
	})
}

func openBus(on []config.Probe, w *Wire) ([]sensor.Probe, func() error, error) {
	shut := func() error {
		var first error
		for _, c := range w.Closes {
			if err := c(); err != nil && first == nil {
				first = err
			}
		}
		return first
	}
	probes := make([]sensor.Probe, 0, len(on))
	for _, p := range on {
		x, err := Drivers()[p.Driver](p, w)
		if err != nil {
			_ = shut() // what is told is why it did not open
			return nil, nil, err
		}
		probes = append(probes, x)
	}
	return probes, shut, nil
}

// IioProbe is the device of a directory, or the one of a name: among all of the
// kernel's, or among those below the path.
func IioProbe(p config.Probe) *iio.Probe {
	if p.Device == "" {
		return &iio.Probe{Device: p.Path}
	}
	return &iio.Probe{Device: p.Device, Root: p.Path}
}

// HwmonProbe is likewise the device of a directory, or the one of a name.
func HwmonProbe(p config.Probe) *hwmon.Probe {
	if p.Device == "" {
		return &hwmon.Probe{Device: p.Path}
	}
	return &hwmon.Probe{Device: p.Device, Root: p.Path}
}
