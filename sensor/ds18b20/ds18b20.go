// Package ds18b20 reads the thermometers DS18B20, DS1822, DS28EA00 and the older
// DS18S20 on a 1-Wire bus, through the files of the kernel's w1_therm driver.
//
// Pages are those of the DS18B20 data sheet, 19-7487 revision 6 (from memory).
package ds18b20

import (
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/sysfile"
)

// Root is where the kernel lists the parts of its 1-Wire buses.
const Root = "/sys/bus/w1/devices"

// Probe is one part.
type Probe struct {
	id, dir string
	read    sysfile.Reader
}

var _ sensor.Probe = (*Probe)(nil)

// New is the part with an id such as 28-0316a2795aff, listed below root ([Root]
// when empty) and read by reader (nil but in tests). Nothing is read yet.
func New(id, root string, reader sysfile.Reader) (*Probe, error) {
	if other := Other(id); other != "" {
		return nil, fmt.Errorf("%s is %s: name a thermometer that %s lists", id, other, Root)
	}
	if !oneWire.MatchString(id) || !read(id) {
		return nil, fmt.Errorf("%q is no such part: give it as the kernel lists it in %s, like 28-0316a2795aff", id, Root)
	}
	if root == "" {
		root = Root
	}
	return &Probe{id: id, dir: filepath.Join(root, id), read: reader}, nil
}

func (p *Probe) String() string { return "ds18b20 " + p.id }

// Measure has the part convert, which takes up to 750 ms (p. 3), and reads it.
//
// It reads w1_slave, which shows the frame, and only where that is missing the
// file temperature, which does not. Refused are: a frame whose check fails,
// whatever the kernel makes of it; 85.000 C, which the part holds when power
// comes (p. 4); 127.94 C, the largest positive value that a line with a bad
// contact gives; and zeros, which have a valid check.
func (p *Probe) Measure(ctx context.Context) (sensor.Measurement, error) {
	c, err := p.celsius(ctx)
	if err != nil {
		return sensor.None(), err
	}
	return sensor.Measurement{Celsius: c, Humidity: math.NaN()}, nil
}

func (p *Probe) celsius(ctx context.Context) (float64, error) {
	path := filepath.Join(p.dir, "w1_slave")
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		path = filepath.Join(p.dir, "temperature")
		milli, err := p.read.Number(ctx, path)
		if err != nil {
			return math.NaN(), err
		}
		if milli == 0 {
			return math.NaN(), sensor.Fail(sensor.BadFrame, "%s: exactly 0 C may be a line held low: see the probe's wiring", path)
		}
		return believable(path, milli/1000)
	}
	text, err := p.read.Text(ctx, path)
	if err != nil {
		return math.NaN(), err
	}
	frame, err := parse(path, text)
	if err != nil {
		return math.NaN(), err
	}
	if p.id[:2] == familyS20 {
		return count(path, frame)
	}
	return decode(path, frame)
}

// parse takes the frame out of w1_slave, whose first line is like
//
//	72 01 4b 46 7f ff 0e 10 57 : crc=57 YES
//
// and whose second repeats the bytes and adds t=, a value even of a bad frame.
func parse(path, text string) ([]byte, error) {
	line, _, _ := strings.Cut(text, "\n")
	digits, verdict, ok := strings.Cut(line, ":")
	frame, err := hex.DecodeString(strings.ReplaceAll(digits, " ", ""))
	if !ok || err != nil || len(frame) != 9 {
		return nil, sensor.Fail(sensor.BadFrame, "%s: %.60q is no frame of nine bytes: it will be read again", path, line)
	}
	if crc := CRC8(frame[:8]...); crc != frame[8] || !strings.HasSuffix(verdict, "YES") {
		return nil, sensor.Fail(sensor.BadFrame, "%s: the frame % x fails its check (%02x): shorten the cable or use a smaller pull-up resistor", path, frame, crc)
	}
	return frame, nil
}

// decode is the scratchpad (p. 8): temperature in sixteenths (p. 6), two alarm
// bytes, a configuration whose lowest five bits are ones (p. 9), three bytes
// without use.
func decode(path string, frame []byte) (float64, error) {
	config := frame[4]
	if config&0x1F != 0x1F || config&0x80 != 0 {
		return math.NaN(), sensor.Fail(sensor.BadFrame, "%s: the frame % x is none of this part: see the probe's wiring", path, frame)
	}
	raw := int16(uint16(frame[1])<<8 | uint16(frame[0]))
	raw &^= 1<<(3-config>>5) - 1 // bits below the resolution are undefined (p. 6)
	return believable(path, float64(raw)/16)
}

// believable refuses the values that stand for a fault.
func believable(path string, celsius float64) (float64, error) {
	switch {
	case celsius == 85:
		return math.NaN(), sensor.Fail(sensor.PowerOn, "%s: 85 C is what the part holds when power comes: see its supply", path)
	case celsius > 125 || celsius < -55: // p. 1
		return math.NaN(), sensor.Fail(sensor.BadFrame, "%s: %.4f C is more than the part can measure: see the probe's wiring", path, celsius)
	}
	return celsius, nil
}

// CRC8 is the check of 1-Wire parts: polynomial x^8 + x^5 + x^4 + 1, least
// significant bit first, from 0 (p. 9).
func CRC8(b ...byte) byte {
	var crc byte
	for _, v := range b {
		crc ^= v
		for range 8 {
			if crc&1 != 0 {
				crc = crc>>1 ^ 0x8C
			} else {
				crc >>= 1
			}
		}
	}
	return crc
}
