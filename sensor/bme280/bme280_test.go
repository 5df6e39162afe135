package bme280

import (
	"math"
	"slices"
	"strings"
	"testing"
	"testing/synctest"

	"periph.io/x/conn/v3/i2c/i2ctest"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/sensortest"
)

var part = sensortest.Part[*Probe]{New: New, Addr: 0x76}

// The calibration of the worked example in the BMP280 data sheet (BST-BMP280-DS001
// revision 1.14, p. 23), whose temperature part is that of the BME280: dig_T1
// 27504, dig_T2 26435, dig_T3 -1000; and humidity figures of a common part:
// dig_H1 75, dig_H2 366, dig_H3 0, dig_H4 309, dig_H5 50, dig_H6 30.
var (
	calibration = append([]byte{0x70, 0x6B, 0x43, 0x67, 0x18, 0xFC}, append(make([]byte, 19), 75)...)
	humidity    = []byte{0x6E, 0x01, 0, 309 >> 4, 309&15 | 50&15<<4, 50 >> 4, 30}
)

// frame is the data registers for raw values of temperature and humidity.
func frame(t uint32, h uint16) []byte {
	return []byte{0x80, 0, 0, byte(t >> 12), byte(t >> 4), byte(t << 4), byte(h >> 8), byte(h)}
}

func twice(io i2ctest.IO) []i2ctest.IO { return []i2ctest.IO{io, io} }

// setUp is what a new part is asked and told: sleep, humidity, config, settings.
func setUp() []i2ctest.IO {
	ops := []i2ctest.IO{part.Register(regChip, chipBME280)}
	ops = append(ops, twice(part.Register(regCalibration, calibration...))...)
	ops = append(ops, twice(part.Register(regHumidity, humidity...))...)
	return append(ops, part.Write(0xF4, 3<<5, 0xF2, 3, 0xF5, 5<<5, 0xF4, 3<<5))
}

// forced is one measurement in forced mode.
func forced(data []byte) []i2ctest.IO {
	ops := []i2ctest.IO{part.Write(0xF4, 3<<5|1), part.Register(regStatus, 8), part.Register(regStatus, 0)}
	return append(ops, twice(part.Register(regData, data...))...)
}

func probe(t testing.TB, ops ...[]i2ctest.IO) *Probe {
	t.Helper()
	p, err := New(sensortest.Playback(t, slices.Concat(ops...)...), part.Addr)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// percent is the humidity in percent by the data sheet's formula in floating
// point (p. 23, section 8.1).
func percent(raw, tFine float64) float64 {
	const h1, h2, h3, h4, h5, h6 = 75, 366, 0, 309, 50, 30
	h := tFine - 76800
	h = (raw - (h4*64 + h5/16384.0*h)) * (h2 / 65536.0 * (1 + h6/67108864.0*h*(1+h3/67108864.0*h)))
	return h * (1 - h1*h/524288)
}

// The example's raw temperature 519888 is 25.08 C, t_fine 128422.
const exampleRaw, exampleCelsius, exampleFine = 519888, 25.08, 128422

func TestContract(t *testing.T) {
	on := func(cause sensor.Cause, ops ...[]i2ctest.IO) sensortest.Case {
		return part.On(cause, slices.Concat(ops...)...)
	}
	good := slices.Concat(setUp(), forced(frame(exampleRaw, 28000)))
	measured := sensor.Measurement{Celsius: exampleCelsius, Humidity: .457812}
	if want := percent(28000, exampleFine) / 100; math.Abs(want-measured.Humidity) > 5e-5 {
		t.Fatalf("the data sheet's formula gives %v", want)
	}
	chip := []i2ctest.IO{part.Register(regChip, chipBME280)}
	torn := forced(frame(exampleRaw, 28000))
	torn[4] = part.Register(regData, frame(exampleRaw, 28001)...)
	part.Contract(t, good, measured, map[string]sensortest.Case{
		"another part":          on(sensor.BadFrame, []i2ctest.IO{part.Register(regChip, 0x61)}),
		"calibration of ones":   on(sensor.BadFrame, chip, twice(part.Register(regCalibration, ones(26)...))),
		"calibration of zeros":  on(sensor.BadFrame, chip, twice(part.Register(regCalibration, make([]byte, 26)...))),
		"torn calibration":      on(sensor.BadFrame, chip, []i2ctest.IO{part.Register(regCalibration, calibration...), part.Register(regCalibration, ones(26)...)}),
		"torn data":             on(sensor.BadFrame, setUp(), torn),
		"humidity not measured": on(sensor.PowerOn, setUp(), forced(frame(exampleRaw, 0x8000))),
		"nothing measured yet":  on(sensor.PowerOn, setUp(), forced(frame(0x80000, 28000))),
		"signed H4": on(sensor.BadFrame, chip, twice(part.Register(regCalibration, calibration...)),
			twice(part.Register(regHumidity, 0x6E, 1, 0, 0x80, 0, 0, 30))),
	})
}

func ones(n int) []byte {
	b := make([]byte, n)
	for i := range b {
		b[i] = 0xFF
	}
	return b
}

func TestSettingsAreMadeOnceAndAgainAfterAFault(t *testing.T) {
	p := probe(t,
		setUp(), forced(frame(exampleRaw, 28000)), forced(frame(exampleRaw, 28000)),
		forced(frame(exampleRaw, 0x8000)), // lost its power
		setUp(), forced(frame(exampleRaw, 28000)))
	for i, fails := range []bool{false, false, true, false} {
		m, err := p.Measure(t.Context())
		if (err != nil) != fails {
			t.Errorf("measurement %d: %+v, %v", i, m, err)
		}
	}
}

func TestAPartThatStaysBusyIsNotWaitedFor(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		busy := forced(nil)[:1]
		for range maxStatus + 1 {
			busy = append(busy, part.Register(regStatus, 8))
		}
		m, err := probe(t, setUp(), busy).Measure(t.Context())
		sensortest.Refused(t, m, err, sensor.NoAnswer)
		if !strings.Contains(err.Error(), "stays busy") {
			t.Errorf("it ended with %v", err)
		}
	})
}

// The kernel's driver makes 25.080 C and 45.240 % of the same calibration and the
// same registers: .ci/kernel.
func TestAsTheKernelReckons(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m, err := probe(t, setUp(), forced(frame(exampleRaw, 0x6D00))).Measure(t.Context())
		if err != nil || math.Abs(m.Celsius-25.080) > .0051 || math.Abs(m.Humidity-.45240) > .0001 {
			t.Errorf("measured %+v, %v; the kernel has 25.080 and 0.45240", m, err)
		}
	})
}

func TestADryBrotherHasNoHumidity(t *testing.T) {
	ops := []i2ctest.IO{part.Register(regChip, chipBMP280)}
	ops = append(ops, twice(part.Register(regCalibration, calibration...))...)
	ops = append(ops, part.Write(0xF4, 3<<5, 0xF5, 5<<5, 0xF4, 3<<5))
	ops = append(ops, part.Write(0xF4, 3<<5|1), part.Register(regStatus, 0))
	ops = append(ops, twice(part.Register(regData, frame(exampleRaw, 0)[:6]...))...)
	m, err := probe(t, ops).Measure(t.Context())
	if err != nil || !sensortest.Equal(m, sensor.Measurement{Celsius: exampleCelsius, Humidity: math.NaN()}) {
		t.Errorf("measured %+v, %v", m, err)
	}
}

func FuzzFrame(f *testing.F) {
	f.Add(frame(exampleRaw, 28000))
	f.Add(make([]byte, 8))
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) != 8 {
			return
		}
		synctest.Test(t, func(t *testing.T) { // the wait for the part is simulated
			p, err := New(&i2ctest.Playback{DontPanic: true, Ops: append(setUp(), forced(b)...)}, part.Addr)
			if err != nil {
				t.Fatal(err)
			}
			m, err := p.Measure(t.Context())
			if (err != nil) != math.IsNaN(m.Celsius) {
				t.Fatalf("%+v, %v", m, err)
			}
		})
	})
}
