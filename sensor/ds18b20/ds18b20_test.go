package ds18b20

import (
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/sensortest"
	"example.com/ootherm/sensor/sysfile"
)

const id = "28-0316a2795aff"

// lay writes the files of one part and gives their root.
func lay(t testing.TB, files map[string]string) string {
	t.Helper()
	root := t.TempDir()
	if err := os.Mkdir(filepath.Join(root, id), 0o755); err != nil {
		t.Fatal(err)
	}
	for name, text := range files {
		if err := os.WriteFile(filepath.Join(root, id, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return root
}

func probe(t testing.TB, root string, read sysfile.Reader) sensor.Probe {
	t.Helper()
	p, err := New(id, root, read)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// scratchpad is a frame at full resolution with its check.
func scratchpad(raw uint16) []byte {
	b := binary.LittleEndian.AppendUint16(nil, raw)
	b = append(b, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10)
	return append(b, CRC8(b...))
}

// slave is w1_slave as the kernel words a frame.
func slave(frame []byte) string {
	verdict := "NO"
	if CRC8(frame[:8]...) == frame[8] {
		verdict = "YES"
	}
	t := int(int16(binary.LittleEndian.Uint16(frame))) * 1000 / 16
	return fmt.Sprintf("% x : crc=%02x %s\n% x t=%d\n", frame, frame[8], verdict, frame, t)
}

func TestContract(t *testing.T) {
	file := func(name, text string) func(testing.TB) sensor.Probe {
		return func(t testing.TB) sensor.Probe { return probe(t, lay(t, map[string]string{name: text}), nil) }
	}
	fails := func(err error) func(testing.TB) sensor.Probe {
		return func(t testing.TB) sensor.Probe {
			return probe(t, lay(t, map[string]string{"w1_slave": ""}), func(string) ([]byte, error) { return nil, err })
		}
	}
	bad := scratchpad(0x0191)
	bad[0] ^= 2
	zeros := make([]byte, 9)
	ones := []byte(strings.Repeat("\xFF", 9))
	sensortest.Contract(t, sensortest.Driver{
		// A frame as seen in the kernel's documentation of w1_therm.
		Good: sensortest.Case{Probe: file("w1_slave", "72 01 4b 46 7f ff 0e 10 57 : crc=57 YES\n72 01 4b 46 7f ff 0e 10 57 t=23125\n"), Want: sensor.Measurement{Celsius: 23.125, Humidity: math.NaN()}},
		Faults: map[string]sensortest.Case{
			"a bad check whose value is shown nevertheless": {Probe: file("w1_slave", slave(bad)), Cause: sensor.BadFrame},
			"a bad check that the kernel passed":            {Probe: file("w1_slave", strings.ReplaceAll(slave(bad), "NO", "YES")), Cause: sensor.BadFrame},
			"a check that the kernel failed":                {Probe: file("w1_slave", strings.ReplaceAll(slave(scratchpad(0x0191)), "YES", "NO")), Cause: sensor.BadFrame},
			"power just came":                               {Probe: file("w1_slave", slave(scratchpad(0x0550))), Cause: sensor.PowerOn},
			"a bad contact":                                 {Probe: file("w1_slave", slave(scratchpad(0x07FF))), Cause: sensor.BadFrame},
			"zeros with a valid check":                      {Probe: file("w1_slave", slave(zeros)), Cause: sensor.BadFrame},
			"held high":                                     {Probe: file("w1_slave", slave(ones)), Cause: sensor.BadFrame},
			"not a frame":                                   {Probe: file("w1_slave", "nothing\n"), Cause: sensor.BadFrame},
			"cut short":                                     {Probe: file("w1_slave", "72 01 4b 46 7f"), Cause: sensor.BadFrame},
			"empty":                                         {Probe: file("w1_slave", ""), Cause: sensor.NoAnswer},
			"taken off the bus":                             {Probe: fails(syscall.ENODEV), Cause: sensor.NoAnswer},
			"frame refused by the kernel":                   {Probe: fails(syscall.EIO), Cause: sensor.BadFrame},
			"temperature: empty":                            {Probe: file("temperature", ""), Cause: sensor.NoAnswer},
			"temperature: power just came":                  {Probe: file("temperature", "85000\n"), Cause: sensor.PowerOn},
			"temperature: a bad contact":                    {Probe: file("temperature", "127937\n"), Cause: sensor.BadFrame},
			"temperature: exactly nothing":                  {Probe: file("temperature", "0\n"), Cause: sensor.BadFrame},
			"neither file":                                  {Probe: file("name", id+"\n"), Cause: sensor.NoAnswer},
		},
	})
}

func TestTheFileTemperatureServesWhereTheFrameIsNotShown(t *testing.T) {
	m, err := probe(t, lay(t, map[string]string{"temperature": "23125\n"}), nil).Measure(t.Context())
	if err != nil || m.Celsius != 23.125 {
		t.Errorf("measured %+v, %v", m, err)
	}
}

func TestTemperatureTable(t *testing.T) {
	// Data sheet p. 6, and the neighbours of the values that are refused.
	for raw, want := range map[uint16]float64{
		0x07D0: 125, 0x0191: 25.0625, 0x00A2: 10.125, 0x0008: .5, 0x0000: 0, 0xFFF8: -.5, 0xFF5E: -10.125, 0xFE6F: -25.0625, 0xFC90: -55,
		0x054F: 84.9375, 0x0551: 85.0625,
	} {
		m, err := probe(t, lay(t, map[string]string{"w1_slave": slave(scratchpad(raw))}), nil).Measure(t.Context())
		if err != nil || m.Celsius != want {
			t.Errorf("%04x is %v C, %v, want %v", raw, m.Celsius, err, want)
		}
	}
}

func TestUndefinedBitsOfCoarseResolutions(t *testing.T) {
	for config, want := range map[byte]float64{0x1F: 25.5, 0x3F: 25.75, 0x5F: 25.875, 0x7F: 25.9375} {
		b := scratchpad(0x019F)
		b[4] = config
		b[8] = CRC8(b[:8]...)
		if got, err := decode("w1_slave", b); err != nil || got != want {
			t.Errorf("configuration %02x: %v C, %v, want %v", config, got, err, want)
		}
	}
}

func TestIDs(t *testing.T) {
	for _, s := range []string{"", "28", "29-0316a2795aff", "3b-0316a2795aff", "28-0316A2795AFF", "28-0316a2795aff/../x", "w1_bus_master1"} {
		if _, err := New(s, "", nil); err == nil {
			t.Errorf("%q is taken for a part", s)
		}
	}
}

const old = "10-000802be5de1"

// counters is a frame of a DS18S20, with its check: half degrees, what remains of the
// count, and the count of a degree.
func counters(raw uint16, remain, perDegree byte) []byte {
	b := binary.LittleEndian.AppendUint16(nil, raw)
	b = append(b, 0x4B, 0x46, 0xFF, 0xFF, remain, perDegree)
	return append(b, CRC8(b...))
}

// A DS18S20 counts half degrees, and the counters beside them give sixteenths.
func TestAnOlderPart(t *testing.T) {
	root := t.TempDir()
	if err := os.Mkdir(filepath.Join(root, old), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(root, old, "w1_slave"), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	measure := func(frame []byte) (sensor.Measurement, error) {
		p, err := New(old, root, func(string) ([]byte, error) { return []byte(slave(frame)), nil })
		if err != nil {
			t.Fatal(err)
		}
		return p.Measure(t.Context())
	}
	for _, c := range []struct {
		raw    uint16
		remain byte
		want   float64
	}{
		{0x0032, 12, 25}, {0x0033, 5, 25.4375}, {0x0032, 16, 24.75}, {0x0032, 1, 25.6875},
		{0xFFFF, 4, -0.5}, {0xFFCE, 12, -25}, {0x00FA, 12, 125}, {0x00AA, 11, 85.0625}, {0, 12, 0},
	} {
		if m, err := measure(counters(c.raw, c.remain, 16)); err != nil || m.Celsius != c.want || !math.IsNaN(m.Humidity) {
			t.Errorf("%04x and %d: %v, %v; want %v", c.raw, c.remain, m.Celsius, err, c.want)
		}
	}
	bad := counters(0x0032, 12, 16)
	bad[0] ^= 1
	for name, c := range map[string]struct {
		frame []byte
		cause sensor.Cause
	}{
		"power just came":      {counters(0x00AA, 12, 16), sensor.PowerOn},
		"its check fails":      {bad, sensor.BadFrame},
		"zeros":                {make([]byte, 9), sensor.BadFrame},
		"more remains than is": {counters(0x0032, 17, 16), sensor.BadFrame},
		"past what it can":     {counters(0x01FE, 12, 16), sensor.BadFrame},
	} {
		m, err := measure(c.frame)
		sensortest.Refused(t, m, err, c.cause)
		if err == nil {
			t.Errorf("%s passed", name)
		}
	}
}

// What else is on a bus is called by what it is.
func TestWhatElseIsOnTheBus(t *testing.T) {
	for id, want := range map[string]string{
		"29-0000001234ab": "a switch (DS2408) and no thermometer", "01-0000001234ab": "a serial number (DS2401) and no thermometer",
		"3b-0000001234ab": "a thermometer (DS1825, or a MAX31850) that this program does not read", "e7-0000001234ab": "a part of family e7 that this program does not know",
	} {
		_, err := New(id, "", nil)
		if got := Other(id); got != want || err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s is %q, %v; want %q", id, got, err, want)
		}
	}
	for _, id := range []string{id, old, "w1_bus_master1", "00-400000000000", "29-12"} {
		if got := Other(id); got != "" {
			t.Errorf("%s is %q", id, got)
		}
	}
}

// Whatever the kernel shows in its own figures, a value is one that is believable.
func FuzzTemperature(f *testing.F) {
	for _, s := range []string{"23125\n", "85000\n", "0\n", "", "-", "1e309\n", "NaN\n"} {
		f.Add([]byte(s))
	}
	root := lay(f, map[string]string{"temperature": ""})
	f.Fuzz(func(t *testing.T, text []byte) {
		m, err := probe(t, root, func(string) ([]byte, error) { return text, nil }).Measure(t.Context())
		if (err != nil) != math.IsNaN(m.Celsius) || m.Celsius == 85 || m.Celsius == 0 || math.Abs(m.Celsius) > 125 {
			t.Fatalf("%q is %v, %v", text, m, err)
		}
	})
}

func FuzzSlave(f *testing.F) {
	f.Add(slave(scratchpad(0x0191)))
	f.Add(slave(make([]byte, 9)))
	f.Add("")
	f.Fuzz(func(t *testing.T, text string) {
		frame, err := parse("w1_slave", text)
		if err != nil {
			return
		}
		c, err := decode("w1_slave", frame)
		if (err != nil) != math.IsNaN(c) || c == 85 || c > 125 {
			t.Fatalf("%q is %v, %v", text, c, err)
		}
		if c, err = count("w1_slave", frame); (err != nil) != math.IsNaN(c) || c == 85 || c > 125 {
			t.Fatalf("%q is, of a DS18S20, %v, %v", text, c, err)
		}
	})
}
