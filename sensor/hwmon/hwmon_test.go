package hwmon

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/sensortest"
)

// lay writes three devices and gives their root.
func lay(t testing.TB) string {
	t.Helper()
	root := t.TempDir()
	for name, text := range map[string]string{
		"hwmon0/name": "cpu_thermal\n", "hwmon0/temp1_input": "48312\n",
		"hwmon1/name": "sht4x\n", "hwmon1/temp1_input": "23456\n", "hwmon1/humidity1_input": "51234\n",
		"hwmon2/name": "dry\n", "hwmon2/temp1_input": "-250\n",
		"hwmon3/name": "fan\n",
	} {
		path := filepath.Join(root, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return root
}

func TestContract(t *testing.T) {
	device := func(name, file string, text string, err error) func(testing.TB) sensor.Probe {
		return func(t testing.TB) sensor.Probe {
			return &Probe{Device: name, Root: lay(t), Read: func(path string) ([]byte, error) {
				if file != "" && strings.HasSuffix(path, file) {
					return []byte(text), err
				}
				return os.ReadFile(path)
			}}
		}
	}
	sensortest.Contract(t, sensortest.Driver{
		Good: sensortest.Case{Probe: device("sht4x", "", "", nil), Want: sensor.Measurement{Celsius: 23.456, Humidity: .51234}},
		Faults: map[string]sensortest.Case{
			"frame fails its check": {Probe: device("sht4x", "temp1_input", "", syscall.EIO), Cause: sensor.BadFrame},
			"part silent":           {Probe: device("sht4x", "temp1_input", "", syscall.ETIMEDOUT), Cause: sensor.NoAnswer},
			"file vanished":         {Probe: device("sht4x", "temp1_input", "", syscall.ENODEV), Cause: sensor.NoAnswer},
			"empty":                 {Probe: device("sht4x", "temp1_input", "", nil), Cause: sensor.NoAnswer},
			"cut short":             {Probe: device("sht4x", "temp1_input", "234", nil), Cause: sensor.BadFrame},
			"no such name":          {Probe: device("sht3x", "", "", nil), Cause: sensor.NoAnswer},
			"no temperature":        {Probe: device("fan", "", "", nil), Cause: sensor.NoAnswer},
		},
		Lacking: map[string]sensortest.Case{
			"humidity empty":        {Probe: device("sht4x", "humidity1_input", "", nil), Cause: sensor.NoAnswer},
			"humidity not a number": {Probe: device("sht4x", "humidity1_input", "wet\n", nil), Cause: sensor.BadFrame},
			"humidity silent":       {Probe: device("sht4x", "humidity1_input", "", syscall.ETIMEDOUT), Cause: sensor.NoAnswer},
		},
	})
}

func TestADeviceByItsDirectoryWithoutHumidity(t *testing.T) {
	p := &Probe{Device: filepath.Join(lay(t), "hwmon2")}
	if m, err := p.Measure(t.Context()); err != nil || !sensortest.Equal(m, sensor.Measurement{Celsius: -.25, Humidity: math.NaN()}) {
		t.Errorf("measured %+v, %v", m, err)
	}
}

func TestADeviceThatComesBackUnderAnotherNumber(t *testing.T) {
	root := lay(t)
	p := &Probe{Device: "sht4x", Root: root}
	for i, fails := range []bool{false, true, false} {
		if i == 1 {
			if err := os.Rename(filepath.Join(root, "hwmon1"), filepath.Join(root, "hwmon9")); err != nil {
				t.Fatal(err)
			}
		}
		if m, err := p.Measure(t.Context()); (err != nil) != fails {
			t.Errorf("measurement %d: %+v, %v", i, m, err)
		}
	}
}

// A part with an open line goes on giving a temperature, and says beside it that it
// is none.
func TestAFaultIsHeeded(t *testing.T) {
	root := lay(t)
	file := filepath.Join(root, "hwmon1", "temp1_fault")
	p := &Probe{Device: "sht4x", Root: root}
	for _, fault := range []string{"0", "1", "0"} {
		if err := os.WriteFile(file, []byte(fault+"\n"), 0o600); err != nil {
			t.Fatal(err)
		}
		m, err := p.Measure(t.Context())
		if fault == "1" {
			sensortest.Refused(t, m, err, sensor.NoAnswer)
		} else if err != nil {
			t.Errorf("without a fault: %v", err)
		}
	}
}

// A device whose humidity is gone has lost it; one that never had any has not.
func TestHumidityThatIsGoneIsLacking(t *testing.T) {
	root := lay(t)
	p, dry := &Probe{Device: "sht4x", Root: root}, &Probe{Device: "dry", Root: root}
	for i := range 3 {
		m, err := p.Measure(t.Context())
		if err != nil || m.Celsius != 23.456 || (m.Lacking != nil) != (i > 0) {
			t.Errorf("measurement %d: %+v, %v", i, m, err)
		}
		if m, err := dry.Measure(t.Context()); err != nil || m.Lacking != nil {
			t.Errorf("one that measures none: %+v, %v", m, err)
		}
		if i == 2 { // and is there again, as it may be at another that never had one
			for _, d := range []string{"hwmon1", "hwmon2"} {
				if err := os.WriteFile(filepath.Join(root, d, "humidity1_input"), []byte("40000\n"), 0o600); err != nil {
					t.Fatal(err)
				}
			}
			for _, x := range []*Probe{p, dry} {
				if m, err := x.Measure(t.Context()); err != nil || m.Humidity != .4 {
					t.Errorf("back again: %+v, %v", m, err)
				}
			}
		}
		if i == 0 {
			if err := os.Remove(filepath.Join(root, "hwmon1", "humidity1_input")); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// Whatever the two files hold, a value is finite or an error without one.
func FuzzFiles(f *testing.F) {
	for _, s := range []string{"23400\n", "", "\n", "-", "1e309\n", "0x1p-2\n", "NaN\n"} {
		f.Add([]byte(s), []byte("51234\n"))
		f.Add([]byte("23400\n"), []byte(s))
	}
	root := lay(f)
	f.Fuzz(func(t *testing.T, celsius, humidity []byte) {
		p := &Probe{Device: "sht4x", Root: root, Read: func(path string) ([]byte, error) {
			switch filepath.Base(path) {
			case "temp1_input":
				return celsius, nil
			case "humidity1_input":
				return humidity, nil
			}
			return os.ReadFile(path)
		}}
		m, err := p.Measure(t.Context())
		if err != nil && !(math.IsNaN(m.Celsius) && math.IsNaN(m.Humidity)) {
			t.Fatalf("%v travels with %v", err, m)
		}
		if err == nil && (math.IsNaN(m.Celsius) || math.IsInf(m.Celsius, 0) || math.IsInf(m.Humidity, 0)) {
			t.Fatalf("%q and %q were read as %v", celsius, humidity, m)
		}
	})
}

// testdata/linux-6.1 is what the kernel's tmp102 driver showed of a simulated part
// at 24.5 C (.ci/kernel), which for a moment after it started was EAGAIN.
func TestFilesOfATrueKernel(t *testing.T) {
	early := true
	p := &Probe{Device: "tmp102", Root: "testdata/linux-6.1", Read: func(path string) ([]byte, error) {
		if filepath.Base(path) == "temp1_input" && early {
			return nil, &os.PathError{Op: "read", Path: path, Err: syscall.EAGAIN}
		}
		return os.ReadFile(path)
	}}
	m, err := p.Measure(t.Context())
	sensortest.Refused(t, m, err, sensor.NoAnswer)
	early = false
	if m, err := p.Measure(t.Context()); err != nil || !sensortest.Equal(m, sensor.Measurement{Celsius: 24.5, Humidity: math.NaN()}) {
		t.Errorf("measured %+v, %v", m, err)
	}
}
