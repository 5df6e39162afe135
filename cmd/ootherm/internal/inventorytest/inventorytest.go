// Package inventorytest simulates a board with parts on its buses, for tests. It owns the
// folders and the buses of that board. It must not know what a test does with them.
package inventorytest

import (
	"context"
	"encoding/binary"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/benchtest"
	"example.com/ootherm/sensor/i2cbus"
	"example.com/ootherm/sensor/inventory"
	"example.com/ootherm/sensor/sensortest"
	"periph.io/x/conn/v3/i2c"
)

// countingBus is a simulated bus that counts its closings.
type countingBus struct {
	*sensortest.Wire
	closed *int
}

func (b countingBus) Close() error { *b.closed++; return nil }

// measuringPart answers one command with raw values and their checksums. It acknowledges no
// other command.
func measuringPart(command []byte, raw ...uint16) func(w, r []byte) error {
	return func(w, r []byte) error {
		if len(w) > 0 && string(w) != string(command) {
			return sensortest.NotAcknowledged()
		}
		var frame []byte
		for _, v := range raw {
			b := binary.BigEndian.AppendUint16(nil, v)
			frame = append(frame, b[0], b[1], i2cbus.CRC8(0xFF, b...))
		}
		copy(r, frame)
		return nil
	}
}

// hdc302x answers as an HDC302x: the commands of an SHT3x and the manufacturer's number.
func hdc302x(w, r []byte) error {
	measured := measuringPart(nil, 26000, 32768)
	switch string(w) {
	case "\x30\x93", "\x30\x66", "\x24\x00":
		return nil
	case "\x37\x81":
		return measuringPart(w, 0x3000)(w, r)
	case "":
		return measured(nil, r)
	}
	return sensortest.NotAcknowledged()
}

// NoWait waits for nothing.
func NoWait(context.Context, time.Duration) error { return nil }

// Board simulates a Pi. Its bus has two known parts, an unknown one and one that a kernel
// driver uses. It also has a bus without permission, a monitor's bus, and 1-Wire. The
// returned counter counts closed buses.
func Board(t *testing.T) (inventory.Places, *int) {
	root := t.TempDir()
	benchtest.Lay(t, root, map[string]string{
		"dev/i2c-1": "", "dev/i2c-3": "", "dev/i2c-20": "",
		"sys/i2c-1/name": "bcm2835 (i2c@7e804000)\n", "sys/i2c-20/name": "fef04500.i2c HDMI\n",
		"w1/28-0416a2795aff/w1_slave": "82 01 4b 46 7f ff 0e 10 70 : crc=70 YES\n82 01 4b 46 7f ff 0e 10 70 t=24125\n",
		"w1/w1_bus_master1/name":      "w1_bus_master1\n",
		"iio/iio:device0/name":        "dht11\n", "iio/iio:device0/in_temp_input": "23500\n", "iio/iio:device0/in_humidityrelative_input": "51000\n",
		"iio/iio:device1/name": "ads1015\n",
		"hwmon/hwmon0/name":    "cpu_thermal\n", "hwmon/hwmon0/temp1_input": "48000\n",
		"cupboard/temp1_input": "19500\n",
		"hwmon/hwmon1/name":    "tmp102\n", "hwmon/hwmon1/temp1_input": "22500\n",
		"hwmon/hwmon2/name": "tmp102\n", "hwmon/hwmon2/temp1_input": "22600\n",
	})
	if err := os.MkdirAll(filepath.Join(root, "sys/1-0048"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("../../drivers/tmp102", filepath.Join(root, "sys/1-0048/driver")); err != nil {
		t.Fatal(err)
	}
	closed := new(int)
	bus := countingBus{&sensortest.Wire{Parts: map[uint16]func(w, r []byte) error{
		0x45: measuringPart([]byte{0xFD}, 26000, 32768),
		0x44: hdc302x,
		0x40: func(_, r []byte) error { clear(r); return nil }, // answers with a wrong checksum
		0x48: func(_, r []byte) error { t.Error("the scan wrote to a part of a kernel driver"); return nil },
	}}, closed}
	return inventory.Places{
		I2C: filepath.Join(root, "dev"), I2CSys: filepath.Join(root, "sys"), W1: filepath.Join(root, "w1"),
		IIO: filepath.Join(root, "iio"), Hwmon: filepath.Join(root, "hwmon"), Wait: NoWait,
		Open: func(device string) (i2c.BusCloser, error) {
			switch filepath.Base(device) {
			case "i2c-1":
				return bus, nil
			case "i2c-3":
				return nil, fmt.Errorf("open %s: %w", device, fs.ErrPermission)
			}
			t.Errorf("the monitor's bus %s was opened", device)
			return nil, fs.ErrNotExist
		},
	}, closed
}
