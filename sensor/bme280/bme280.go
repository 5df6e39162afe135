// Package bme280 reads Bosch's BME280 (temperature, humidity, pressure) and its
// dry brother BMP280 over I2C, in forced mode: measuring all the time warms the
// part by a degree and more.
//
// Pages are those of the BME280 data sheet, BST-BME280-DS002 revision 1.6.
package bme280

import (
	"bytes"
	"context"
	"fmt"
	"math"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
	"periph.io/x/devices/v3/bmxx80"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/i2cbus"
)

// Probe is one part. It is set up when it is first measured and again after each
// failure, as a part that lost its power has forgotten its settings.
type Probe struct {
	bus guard
	dev *bmxx80.Dev
}

var _ sensor.Probe = (*Probe)(nil)

// New is the part at address 0x76 or 0x77. It transfers nothing yet.
func New(b i2c.Bus, addr uint16) (*Probe, error) {
	if err := i2cbus.Address(addr, 0x76, 0x77); err != nil {
		return nil, err
	}
	return &Probe{bus: guard{Bus: b, addr: addr}}, nil
}

func (p *Probe) String() string { return fmt.Sprintf("bme280 0x%02x on %s", p.bus.addr, p.bus.Bus) }

// settings are those of the data sheet's humidity sensing (p. 19) with four
// samples for less noise; pressure, of no use to eggs, is off.
var settings = bmxx80.Opts{Temperature: bmxx80.O4x, Pressure: bmxx80.Off, Humidity: bmxx80.O4x}

// Measure makes one measurement: temperature to 0.01 C and, from a BME280,
// humidity to 0.0001. It takes some 20 ms.
func (p *Probe) Measure(ctx context.Context) (sensor.Measurement, error) {
	m, err := p.measure(ctx)
	if err != nil {
		p.dev = nil
		return sensor.None(), err
	}
	return m, nil
}

func (p *Probe) measure(ctx context.Context) (sensor.Measurement, error) {
	p.bus.begin(ctx)
	none := sensor.None()
	if p.dev == nil {
		o := settings // a copy: the library keeps a pointer to none of ours
		dev, err := bmxx80.NewI2C(&p.bus, p.bus.addr, &o)
		if err != nil {
			return none, p.bus.fault(err)
		}
		p.dev = dev
	}
	var e physic.Env
	if err := p.dev.Sense(&e); err != nil {
		return none, p.bus.fault(err)
	}
	m := sensor.Measurement{
		Celsius:  math.Round(100*e.Temperature.Celsius()) / 100,
		Humidity: math.NaN(),
	}
	if p.bus.chip == chipBME280 {
		m.Humidity = float64(e.Humidity) / float64(100*physic.PercentRH)
	}
	return m, nil
}

// Chip numbers, in register 0xD0 (p. 27; BMP280 data sheet, p. 24).
const (
	chipBME280 = 0x60
	chipBMP280 = 0x58
)

// Registers (p. 26, memory map).
const (
	regChip        = 0xD0
	regCalibration = 0x88
	regHumidity    = 0xE1
	regStatus      = 0xF3
	regData        = 0xF7
)

// maxStatus is how often the part may say that it is still busy after its
// longest time has passed (our choice: some 20 ms more at 100 kHz).
const maxStatus = 50

// guard is the bus as the library sees it. The part's frames carry no check, and
// the library neither ends its wait for the part nor knows the values that a
// part holds before it measured; so each longer read is made twice and must
// agree, the waiting is counted, and what comes back is looked at.
type guard struct {
	i2c.Bus
	addr uint16

	ctx    context.Context // of the measurement under way
	status int
	chip   byte
	err    error // the library flattens what it wraps
}

func (g *guard) begin(ctx context.Context) { g.ctx, g.status, g.err = ctx, 0, nil }

// fault is the error of a transfer where one failed, or else the library's own.
func (g *guard) fault(err error) error {
	if g.err != nil {
		return g.err
	}
	return sensor.Fail(sensor.NoAnswer, "part 0x%02x on %s: %w", g.addr, g.Bus, err)
}

// Tx makes a transfer for the library.
func (g *guard) Tx(addr uint16, w, r []byte) error {
	g.err = g.tx(addr, w, r)
	return g.err
}

func (g *guard) tx(addr uint16, w, r []byte) error {
	if err := i2cbus.Tx(g.ctx, g.Bus, addr, w, r); err != nil {
		return err
	}
	if len(w) != 1 || len(r) == 0 {
		return nil // a write
	}
	if len(r) > 1 {
		again := make([]byte, len(r))
		if err := i2cbus.Tx(g.ctx, g.Bus, addr, w, again); err != nil {
			return err
		}
		if !bytes.Equal(r, again) {
			return sensor.Fail(sensor.BadFrame, "part 0x%02x on %s sent % x and then % x for the same registers: shorten the cable or slow the bus", addr, g.Bus, r, again)
		}
	}
	return g.look(w[0], r)
}

// look refuses register values that no working part has.
func (g *guard) look(reg byte, r []byte) error {
	switch {
	case reg == regChip:
		if g.chip = r[0]; g.chip != chipBME280 && g.chip != chipBMP280 {
			return sensor.Fail(sensor.BadFrame, "part 0x%02x on %s is no BME280 or BMP280: it says chip 0x%02x: see its address", g.addr, g.Bus, g.chip)
		}
	case reg == regStatus:
		if g.status++; g.status > maxStatus && r[0]&8 != 0 {
			return sensor.Fail(sensor.NoAnswer, "part 0x%02x on %s stays busy: power it off and on", g.addr, g.Bus)
		}
	case reg == regCalibration:
		// dig_T1 (p. 24) of 0 or all ones: the part was not there.
		if t1 := uint16(r[0]) | uint16(r[1])<<8; t1 == 0 || t1 == 0xFFFF {
			return sensor.Fail(sensor.BadFrame, "part 0x%02x on %s has no calibration: see its wiring, or replace it", g.addr, g.Bus)
		}
	case reg == regHumidity && len(r) == 7:
		// dig_H4 and dig_H5 are signed twelve bits (p. 25); the library reads
		// them as positive.
		if r[3] >= 0x80 || r[5] >= 0x80 {
			return sensor.Fail(sensor.BadFrame, "part 0x%02x on %s has a humidity calibration out of the ordinary: replace it", g.addr, g.Bus)
		}
	case reg == regData:
		// A measurement that was skipped, or not made since power came, reads
		// 0x80000 and 0x8000 (p. 31, reset states).
		t := uint32(r[3])<<12 | uint32(r[4])<<4 | uint32(r[5])>>4
		if t == 0x80000 || len(r) == 8 && r[6] == 0x80 && r[7] == 0 {
			return sensor.Fail(sensor.PowerOn, "part 0x%02x on %s lost its power: it will be set up again: see its supply", g.addr, g.Bus)
		}
	}
	return nil
}
