package sensor_test

import (
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"testing"
	"testing/synctest"
	"time"

	"periph.io/x/conn/v3/i2c"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/aht20"
	"example.com/ootherm/sensor/bme280"
	"example.com/ootherm/sensor/ds18b20"
	"example.com/ootherm/sensor/hdc302x"
	"example.com/ootherm/sensor/htu21"
	"example.com/ootherm/sensor/i2cbus"
	"example.com/ootherm/sensor/mcp9808"
	"example.com/ootherm/sensor/sensortest"
	"example.com/ootherm/sensor/sht3x"
	"example.com/ootherm/sensor/sht4x"
	"example.com/ootherm/sensor/tmp117"
)

// truth is what the simulated parts feel.
type truth struct{ celsius, humidity float64 }

// part is a simulated part: how it answers, and whether a frame as read has
// checks that hold (nil where the part has none).
type part struct {
	driver string
	addr   uint16
	open   func(b i2c.Bus, addr uint16) (sensor.Probe, error)
	answer func(now truth) func(w, r []byte) error
	holds  func(r []byte) bool
}

// opened adapts a driver's New to give a probe.
func opened[P sensor.Probe](open func(i2c.Bus, uint16) (P, error)) func(i2c.Bus, uint16) (sensor.Probe, error) {
	return func(b i2c.Bus, addr uint16) (sensor.Probe, error) { return open(b, addr) }
}

func put(start byte, r []byte, words ...float64) {
	for i, w := range words {
		b := r[3*i:]
		binary.BigEndian.PutUint16(b, uint16(math.Round(w)))
		b[2] = i2cbus.CRC8(start, b[:2]...)
	}
}

func checked(start byte) func([]byte) bool {
	return func(r []byte) bool {
		for ; len(r) >= 3; r = r[3:] {
			if i2cbus.CRC8(start, r[:2]...) != r[2] {
				return false
			}
		}
		return true
	}
}

func parts() []part {
	word := func(driver string, open func(i2c.Bus, uint16) (sensor.Probe, error), low, span float64) part {
		return part{driver, 0x44, open, func(now truth) func(w, r []byte) error {
			return func(_, r []byte) error {
				if len(r) == 6 {
					put(0xFF, r, (now.celsius+45)/175*65535, (now.humidity-low)/span*65535)
				}
				return nil
			}
		}, checked(0xFF)}
	}
	htu := func(now truth) func(w, r []byte) error {
		first := true
		return func(w, r []byte) error {
			if len(w) > 0 {
				first = w[0] == 0xF3
			} else if first {
				put(0, r, math.Round((now.celsius+46.85)/175.72*16384)*4)
			} else {
				put(0, r, math.Round((now.humidity+.06)/1.25*16384)*4+2)
			}
			return nil
		}
	}
	aht := func(now truth) func(w, r []byte) error {
		return func(_, r []byte) error {
			if len(r) == 7 {
				h, t := uint32(now.humidity*(1<<20)), uint32((now.celsius+50)/200*(1<<20))
				copy(r, []byte{0x1C, byte(h >> 12), byte(h >> 4), byte(h<<4) | byte(t>>16), byte(t >> 8), byte(t)})
				r[6] = i2cbus.CRC8(0xFF, r[:6]...)
			}
			return nil
		}
	}
	register := func(id, idValue, reg byte, high byte, step float64) func(now truth) func(w, r []byte) error {
		return func(now truth) func(w, r []byte) error {
			return func(w, r []byte) error {
				switch {
				case len(r) == 2 && w[0] == id:
					r[0], r[1] = high, idValue
				case len(r) == 2 && w[0] == reg:
					binary.BigEndian.PutUint16(r, uint16(int16(math.Round(now.celsius/step))))
				}
				return nil
			}
		}
	}
	return []part{
		word("sht4x", opened(sht4x.New), -.06, 1.25),
		word("sht3x", opened(sht3x.New), 0, 1),
		word("hdc302x", opened(hdc302x.New), 0, 1),
		{"htu21", htu21.Address, opened(htu21.New), htu, checked(0)},
		{"aht20", aht20.Address, opened(aht20.New), aht, func(r []byte) bool { return i2cbus.CRC8(0xFF, r[:6]...) == r[6] }},
		{"mcp9808", 0x18, opened(mcp9808.New), register(6, 0x54, 5, 0, .0625), nil},
		{"tmp117", 0x48, opened(tmp117.New), register(0x0F, 0x17, 0, 1, .0078125), nil},
		{"bme280", 0x76, opened(bme280.New), bme, nil},
	}
}

// bme is a BME280 with the calibration of the data sheet's example, whose slope
// about 25.08 C is 5034.3 steps of the raw value to 1.58 C.
func bme(now truth) func(w, r []byte) error {
	calibration := append([]byte{0x70, 0x6B, 0x43, 0x67, 0x18, 0xFC}, append(make([]byte, 19), 75)...)
	return func(w, r []byte) error {
		if len(r) == 0 {
			return nil
		}
		switch w[0] {
		case 0xD0:
			r[0] = 0x60
		case 0x88:
			copy(r, calibration)
		case 0xE1:
			copy(r, []byte{0x6E, 0x01, 0, 0x13, 0x25, 0x03, 30})
		case 0xF3:
			r[0] = 0
		case 0xF7:
			raw := uint32(519888 + math.Round((now.celsius-25.08)*3184))
			copy(r, []byte{0x80, 0, 0, byte(raw >> 12), byte(raw >> 4), byte(raw << 4), 0x6D, byte(raw)})
		}
		return nil
	}
}

// tally is what came of a campaign of reads.
type tally struct{ reads, corrupted, refused, wrong int }

// reads is how many of each part: a million before a release.
func reads() int {
	if os.Getenv("OOTHERM_FULL") != "" {
		return 1_000_000
	}
	return 100_000
}

// campaign reads a probe every ten seconds, in simulated time, through a screen.
// Before each read now is set and spoiled says afterwards whether a frame of it
// was corrupted, and whether a check in it failed.
func campaign(t *testing.T, rng *rand.Rand, p sensor.Probe, set func(truth), spoiled func() (corrupted, failed bool)) tally {
	var (
		s     sensor.Screen
		sum   tally
		clean int
	)
	for i := range reads() {
		at := time.Duration(i) * 10 * time.Second
		now := truth{
			celsius:  24 + 1.5*math.Sin(2*math.Pi*at.Hours()/24) + .02*rng.NormFloat64(),
			humidity: .5 + .01*rng.NormFloat64(),
		}
		set(now)
		m, err := p.Measure(t.Context())
		corrupted, failed := spoiled()
		sum.reads++
		if failed && err == nil {
			t.Errorf("read %d: a frame whose check fails is taken as %+v", i, m)
		}
		if err != nil && !math.IsNaN(m.Celsius) {
			t.Errorf("read %d: %+v travels with %v", i, m, err)
		}
		r := s.Judge(sensor.Reading{Stamp: sensor.Stamp{Uptime: at}, Measurement: m, Cause: sensor.CauseOf(err)})
		clean++
		if corrupted {
			sum.corrupted++
			clean = 0
		}
		switch {
		case r.Cause != "":
			sum.refused++
			if clean >= 3 {
				t.Errorf("read %d: refused as %s though the third without a fault", i, r.Cause)
			}
		case math.Abs(r.Celsius-now.celsius) > .5:
			sum.wrong++
		}
		if t.Failed() {
			break
		}
	}
	return sum
}

func TestCorruptedFrames(t *testing.T) {
	var all tally
	add := func(name string, c tally) {
		t.Logf("%s: %d reads, %d corrupted, %d refused, %d off by more than 0.5 K", name, c.reads, c.corrupted, c.refused, c.wrong)
		if c.corrupted < c.reads/200 {
			t.Errorf("%s: only %d of %d reads were corrupted: nothing is tested", name, c.corrupted, c.reads)
		}
		if c.wrong*100_000 > c.reads {
			t.Errorf("%s: %d of %d readings are believed and off by more than 0.5 K", name, c.wrong, c.reads)
		}
		all.reads += c.reads
		all.wrong += c.wrong
	}
	for i, part := range parts() {
		t.Run(part.driver, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				rng := rand.New(rand.NewPCG(uint64(i), 11))
				wire := &sensortest.Wire{Parts: map[uint16]func(w, r []byte) error{}}
				var corrupted, failed bool
				corrupt := sensortest.Corrupt(rng, .01, func() { corrupted = true })
				wire.Spoil = func(w, r []byte) error {
					if err := corrupt(w, r); err != nil {
						return err
					}
					failed = failed || len(r) > 0 && part.holds != nil && !part.holds(r)
					return nil
				}
				p, err := part.open(wire, part.addr)
				if err != nil {
					t.Fatal(err)
				}
				add(part.driver, campaign(t, rng, p,
					func(now truth) {
						corrupted, failed = false, false
						wire.Parts[part.addr] = part.answer(now)
					},
					func() (bool, bool) { return corrupted, failed }))
			})
		})
	}
	t.Run("ds18b20", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(99, 11))
			const id = "28-0316a2795aff"
			root := t.TempDir()
			if err := os.MkdirAll(root+"/"+id, 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(root+"/"+id+"/w1_slave", nil, 0o644); err != nil {
				t.Fatal(err)
			}
			var frame []byte
			var corrupted bool
			corrupt := sensortest.Corrupt(rng, .01, func() { corrupted = true })
			failed := func() bool { return ds18b20.CRC8(frame[:8]...) != frame[8] }
			p, err := ds18b20.New(id, root, func(string) ([]byte, error) {
				verdict := "YES"
				if failed() {
					verdict = "NO"
				}
				return fmt.Appendf(nil, "% x : crc=%02x %s\n% x t=%d\n", frame, frame[8], verdict, frame, int(int16(binary.LittleEndian.Uint16(frame)))*1000/16), nil
			})
			if err != nil {
				t.Fatal(err)
			}
			add("ds18b20", campaign(t, rng, p,
				func(now truth) {
					frame = binary.LittleEndian.AppendUint16(nil, uint16(math.Round(now.celsius*16)))
					frame = append(frame, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10)
					frame = append(frame, ds18b20.CRC8(frame...))
					corrupted = false
					if err := corrupt(nil, frame); err != nil {
						t.Fatal(err)
					}
				},
				func() (bool, bool) { return corrupted, failed() }))
		})
	})
	t.Logf("in all %d reads, %d off by more than 0.5 K past all screens", all.reads, all.wrong)
}
