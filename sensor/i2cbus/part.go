package i2cbus

import (
	"context"
	"fmt"
	"time"

	"periph.io/x/conn/v3/i2c"

	"example.com/ootherm/sensor"
)

// Step is one exchange with a part: what is written, the wait that the part
// needs, and how many bytes are read after it. A read that follows a write
// without a wait is one transfer.
type Step struct {
	Write []byte
	Wait  time.Duration
	Read  int
}

// Part is a part that is measured by a fixed course of exchanges, which is all
// that most need. It is set up when it is first measured and again after each
// failure, as a part that lost its power has forgotten its settings.
type Part struct {
	Driver string // the part name in String
	Bus    i2c.Bus
	Addr   uint16
	Setup  []Step
	Steps  []Step

	// Decode turns what the steps read, one after the other, into a measurement,
	// or says with a cause why not.
	Decode func([]byte) (sensor.Measurement, error)

	ready bool
}

var _ sensor.Probe = (*Part)(nil)

func (p *Part) String() string { return fmt.Sprintf("%s 0x%02x on %s", p.Driver, p.Addr, p.Bus) }

// Measure makes one measurement.
func (p *Part) Measure(ctx context.Context) (sensor.Measurement, error) {
	m, err := p.measure(ctx)
	if err != nil {
		p.ready = false
		return sensor.None(), err
	}
	return m, nil
}

func (p *Part) measure(ctx context.Context) (sensor.Measurement, error) {
	if !p.ready {
		if _, err := p.exchange(ctx, p.Setup); err != nil {
			return sensor.None(), err
		}
		p.ready = true
	}
	b, err := p.exchange(ctx, p.Steps)
	if err != nil {
		return sensor.None(), err
	}
	m, err := p.Decode(b)
	if err != nil {
		return sensor.None(), fmt.Errorf("part 0x%02x on %s: %w", p.Addr, p.Bus, err)
	}
	return m, nil
}

func (p *Part) exchange(ctx context.Context, steps []Step) ([]byte, error) {
	var all []byte
	for _, s := range steps {
		r := make([]byte, s.Read)
		if s.Wait == 0 {
			if err := Tx(ctx, p.Bus, p.Addr, s.Write, r); err != nil {
				return nil, err
			}
		} else {
			if err := Tx(ctx, p.Bus, p.Addr, s.Write, nil); err != nil {
				return nil, err
			}
			if err := Wait(ctx, s.Wait); err != nil {
				return nil, err
			}
			if len(r) > 0 {
				if err := Tx(ctx, p.Bus, p.Addr, nil, r); err != nil {
					return nil, err
				}
			}
		}
		all = append(all, r...)
	}
	return all, nil
}

// Wait waits, or until the context ends.
func Wait(ctx context.Context, d time.Duration) error {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return nil
	case <-ctx.Done():
		return sensor.Fail(sensor.NoAnswer, "the part is not done in time: %w", ctx.Err())
	}
}

// CRC8 is the check of Sensirion's parts and of many others: polynomial 0x31,
// most significant bit first (SHT3x data sheet version 5, p. 14). It starts from
// 0xFF there, from 0 in others.
func CRC8(start byte, b ...byte) byte {
	crc := start
	for _, v := range b {
		crc ^= v
		for range 8 {
			if crc&0x80 != 0 {
				crc = crc<<1 ^ 0x31
			} else {
				crc <<= 1
			}
		}
	}
	return crc
}

// Word is the sixteen bits that begin b, checked by the CRC byte behind them.
func Word(start byte, b []byte) (uint16, error) {
	if crc := CRC8(start, b[:2]...); crc != b[2] {
		return 0, sensor.Fail(sensor.BadFrame, "sent % x, whose check is %02x: shorten the cable or slow the bus", b[:3], crc)
	}
	return uint16(b[0])<<8 | uint16(b[1]), nil
}
