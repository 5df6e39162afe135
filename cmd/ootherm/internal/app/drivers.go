package app

import (
	"context"
	"fmt"
	"os"
	"strconv"
	"time"

	"periph.io/x/conn/v3/i2c"

	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/bme280"
	"example.com/ootherm/sensor/i2cbus"
	"example.com/ootherm/sensor/iio"
	"example.com/ootherm/sensor/recording"
	"example.com/ootherm/sensor/simulated"
)

// buses are the probes of the configuration by the wire they share. A probe
// without a bus has one of its own, so that it can hold up no other.
func buses(probes []config.Probe) ([]sensor.Bus, error) {
	var order []string
	members := map[string][]config.Probe{}
	for _, p := range probes {
		if _, ok := drivers()[p.Driver]; !ok {
			return nil, misconfigured{fmt.Errorf("app: probe %s: this build cannot read the driver %s", p.Name, p.Driver)}
		}
		name := p.Bus
		if name == "" {
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
		b.Open = func(context.Context) ([]sensor.Probe, func() error, error) { return openBus(on) }
		all = append(all, b)
	}
	return all, nil
}

// wire is what the probes of one bus share while it is open.
type wire struct {
	i2c    i2c.BusCloser
	closes []func() error
}

// on is the I2C bus, opened when the first probe asks for it.
func (w *wire) on(device string) (i2c.Bus, error) {
	if w.i2c == nil {
		b, err := i2cbus.Open(device)
		if err != nil {
			return nil, err
		}
		w.i2c = b
		w.closes = append(w.closes, b.Close)
	}
	return w.i2c, nil
}

// drivers make a probe of each kind. A driver more is a line more here, and one
// in the table of the configuration.
func drivers() map[string]func(config.Probe, *wire) (sensor.Probe, error) {
	return map[string]func(config.Probe, *wire) (sensor.Probe, error){
		"bme280": func(p config.Probe, w *wire) (sensor.Probe, error) {
			bus, err := w.on(p.Bus)
			if err != nil {
				return nil, err
			}
			address, err := strconv.ParseUint(p.Address, 0, 7)
			if err != nil {
				return nil, fmt.Errorf("app: probe %s: address: %w", p.Name, err)
			}
			return bme280.New(bus, uint16(address))
		},
		"iio": func(p config.Probe, _ *wire) (sensor.Probe, error) {
			return iioProbe(p), nil
		},
		"recording": func(p config.Probe, w *wire) (sensor.Probe, error) {
			file, err := os.Open(p.File)
			if err != nil {
				return nil, fmt.Errorf("app: probe %s: %w", p.Name, err)
			}
			w.closes = append(w.closes, file.Close)
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
			began := time.Now()
			return recording.Play(rows, p.Name, func() time.Duration { return time.Since(began) }), nil
		},
		"simulated": func(p config.Probe, _ *wire) (sensor.Probe, error) {
			c := simulated.Climate{
				SetPoint: p.Sim.Celsius, Swing: p.Sim.Swing, Noise: p.Sim.Noise, Humidity: p.Sim.Humidity,
			}
			return simulated.New(p.Name, c.At, time.Now), nil
		},
	}
}

func openBus(on []config.Probe) ([]sensor.Probe, func() error, error) {
	w := &wire{}
	shut := func() error {
		var first error
		for _, c := range w.closes {
			if err := c(); err != nil && first == nil {
				first = err
			}
		}
		return first
	}
	probes := make([]sensor.Probe, 0, len(on))
	for _, p := range on {
		x, err := drivers()[p.Driver](p, w)
		if err != nil {
			_ = shut() // what is told is why it did not open
			return nil, nil, err
		}
		probes = append(probes, x)
	}
	return probes, shut, nil
}

// iioProbe is the device of a directory, or the one of a name: among all of the
// kernel's, or among those below the path.
func iioProbe(p config.Probe) *iio.Probe {
	if p.Device == "" {
		return &iio.Probe{Device: p.Path}
	}
	return &iio.Probe{Device: p.Device, Root: p.Path}
}
