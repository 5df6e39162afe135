package catalog

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"periph.io/x/conn/v3/i2c"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/ds18b20"
	"example.com/ootherm/sensor/i2cbus"
	"example.com/ootherm/sensor/mqtt"
)

// Bus is what the probes of one bus share while it is open.
type Bus struct {
	I2C     i2c.Bus // set where the bus is open already; it stays open
	Now     func() time.Time
	Elapsed func() time.Duration // since the bus was first opened

	opened i2c.Bus
	hubs   map[mqtt.Connection]*mqtt.Hub
	closes []func() error
}

// i2c is the I2C bus, opened when the first probe asks for it.
func (b *Bus) i2c(device string) (i2c.Bus, error) {
	if b.I2C != nil {
		return b.I2C, nil
	}
	if b.opened == nil {
		bus, err := i2cbus.Open(device)
		if err != nil {
			return nil, err
		}
		b.opened = bus
		b.closes = append(b.closes, bus.Close)
	}
	return b.opened, nil
}

// hub is the hub of a probe's connection, made for the first probe that has it.
func (b *Bus) hub(o mqtt.Options) *mqtt.Hub {
	h := b.hubs[o.Connection]
	if h == nil {
		if b.hubs == nil {
			b.hubs = map[mqtt.Connection]*mqtt.Hub{}
		}
		h = mqtt.NewHub(o.Connection, o.Subscribe, b.Now)
		b.hubs[o.Connection] = h
		b.closes = append(b.closes, h.Close)
	}
	return h
}

// Close closes what the probes opened.
func (b *Bus) Close() error {
	var all error
	for _, c := range b.closes {
		all = errors.Join(all, c())
	}
	b.closes = nil
	return all
}

// Buses groups probes by the bus they share. A probe without a bus has one of its own, so
// that it can hold up no other. An error is one of the settings: a driver that is unknown,
// or a part on 1-Wire that is no thermometer, which would make its whole bus fail.
func Buses(probes []Settings, now func() time.Time) ([]sensor.Bus, error) {
	var order []string
	members := map[string][]Settings{}
	for _, s := range probes {
		if _, ok := Of(s.Driver); !ok {
			return nil, unknownDriver(s)
		}
		if s.Driver == "ds18b20" {
			if _, err := ds18b20.New(s.Address, s.Path, nil); err != nil {
				return nil, fmt.Errorf("probe %s: %w", s.Name, err)
			}
		}
		name := s.Bus
		switch {
		case s.Driver == "mqtt": // one connection for all
			name = "broker " + s.MQTT.URL
			if s.MQTT.User != "" {
				name += " as " + s.MQTT.User
			}
		case name != "":
		case s.Driver == "ds18b20":
			name = "1-Wire" // the kernel converts one part at a time, 750 ms each
		default:
			name = "probe " + s.Name
		}
		if members[name] == nil {
			order = append(order, name)
		}
		members[name] = append(members[name], s)
	}
	all := make([]sensor.Bus, 0, len(order))
	for _, name := range order {
		on := members[name]
		// A broker sends what is new while it is connected, so it stays so.
		b := sensor.Bus{Name: name, KeepOpen: on[0].Driver == "mqtt"}
		for _, s := range on {
			b.Names = append(b.Names, s.Name)
		}
		// A bus may be opened again at any time; a recording goes on meanwhile.
		began := sync.OnceValue(now)
		b.Open = func(context.Context) ([]sensor.Probe, func() error, error) {
			first := began()
			return openAll(on, &Bus{Now: now, Elapsed: func() time.Duration { return now().Sub(first) }})
		}
		all = append(all, b)
	}
	return all, nil
}

// openAll opens the probes of one bus, or none of them.
func openAll(on []Settings, b *Bus) ([]sensor.Probe, func() error, error) {
	probes := make([]sensor.Probe, 0, len(on))
	for _, s := range on {
		p, err := Open(s, b)
		if err != nil {
			_ = b.Close() // the reason why it did not open counts
			return nil, nil, err
		}
		probes = append(probes, p)
	}
	return probes, b.Close, nil
}
