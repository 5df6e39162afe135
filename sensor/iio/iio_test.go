package iio

import (
	"context"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/sensortest"
)

// lay writes a device directory and gives its root.
func lay(t testing.TB, files map[string]string) string {
	t.Helper()
	root := t.TempDir()
	for name, text := range files {
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

func finished() map[string]string {
	return map[string]string{
		"iio:device0/name":                       "dht11@4\n",
		"iio:device0/in_temp_input":              "23400\n",
		"iio:device0/in_humidityrelative_input":  "51200\n",
		"iio:device1/name":                       "ads1015\n",
		"trigger0/name":                          "sysfstrig0\n",
		"iio:device2/name":                       "si7020\n",
		"iio:device2/in_temp_raw":                "6549\n", // the register shifted, as the kernel's si7020 has it
		"iio:device2/in_temp_offset":             "-4368\n",
		"iio:device2/in_temp_scale":              "10.725097656\n",
		"iio:device2/in_humidityrelative_raw":    "1838\n",
		"iio:device2/in_humidityrelative_offset": "-786.432000\n",
		"iio:device2/in_humidityrelative_scale":  "30.517578125\n",
		"iio:device3/name":                       "half\n",
		"iio:device3/in_temp_input":              "-1500\n",
	}
}

// faulty reads as the kernel would, save one file.
func faulty(suffix string, give func() ([]byte, error)) func(string) ([]byte, error) {
	return func(path string) ([]byte, error) {
		if strings.HasSuffix(path, suffix) {
			return give()
		}
		return os.ReadFile(path)
	}
}

func TestContract(t *testing.T) {
	broken := func(cause sensor.Cause, file, text string, err error) sensortest.Case {
		return sensortest.Case{Cause: cause, Probe: func(t testing.TB) sensor.Probe {
			return &Probe{Device: "dht11@4", Root: lay(t, finished()), Read: faulty(file, func() ([]byte, error) { return []byte(text), err })}
		}}
	}
	pathError := func(err error) error { return &fs.PathError{Op: "read", Err: err} }
	sensortest.Contract(t, sensortest.Driver{
		Good: sensortest.Case{
			Probe: func(t testing.TB) sensor.Probe { return &Probe{Device: "dht11@4", Root: lay(t, finished())} },
			Want:  sensor.Measurement{Celsius: 23.4, Humidity: .512},
		},
		Faults: map[string]sensortest.Case{
			"frame fails its check":  broken(sensor.BadFrame, "in_temp_input", "", pathError(syscall.EIO)),
			"part silent":            broken(sensor.NoAnswer, "in_temp_input", "", pathError(syscall.ETIMEDOUT)),
			"part busy":              broken(sensor.NoAnswer, "in_temp_input", "", pathError(syscall.EAGAIN)),
			"file vanished":          broken(sensor.NoAnswer, "in_temp_input", "", pathError(syscall.ENOENT)),
			"not allowed":            broken(sensor.NoAnswer, "in_temp_input", "", pathError(syscall.EACCES)),
			"empty":                  broken(sensor.NoAnswer, "in_temp_input", "", nil),
			"cut short":              broken(sensor.BadFrame, "in_temp_input", "234", nil),
			"not a number":           broken(sensor.BadFrame, "in_temp_input", "-\n", nil),
			"a number without value": broken(sensor.BadFrame, "in_temp_input", "NaN\n", nil),
			"no such name": {Cause: sensor.NoAnswer, Probe: func(t testing.TB) sensor.Probe {
				return &Probe{Device: "bme280", Root: lay(t, finished())}
			}},
			"name taken twice": {Cause: sensor.NoAnswer, Probe: func(t testing.TB) sensor.Probe {
				f := finished()
				f["iio:device4/name"] = "dht11@4\n"
				return &Probe{Device: "dht11@4", Root: lay(t, f)}
			}},
			"no temperature": {Cause: sensor.NoAnswer, Probe: func(t testing.TB) sensor.Probe {
				return &Probe{Device: "ads1015", Root: lay(t, finished())}
			}},
			"no such directory": {Cause: sensor.NoAnswer, Probe: func(t testing.TB) sensor.Probe {
				return &Probe{Device: filepath.Join(t.TempDir(), "iio:device9")}
			}},
		},
		Lacking: map[string]sensortest.Case{
			"humidity fails its check":  broken(sensor.BadFrame, "in_humidityrelative_input", "", pathError(syscall.EIO)),
			"humidity silent":           broken(sensor.NoAnswer, "in_humidityrelative_input", "", pathError(syscall.ETIMEDOUT)),
			"humidity vanished":         broken(sensor.NoAnswer, "in_humidityrelative_input", "", pathError(syscall.ENODEV)),
			"humidity empty":            broken(sensor.NoAnswer, "in_humidityrelative_input", "", nil),
			"humidity without a number": broken(sensor.BadFrame, "in_humidityrelative_input", "wet\n", nil),
		},
	})
}

func TestRawValuesWithOffsetAndScale(t *testing.T) {
	p := &Probe{Device: "si7020", Root: lay(t, finished())}
	m, err := p.Measure(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	want := sensor.Measurement{Celsius: (6549 - 4368) * 10.725097656 / 1000, Humidity: (1838 - 786.432) * 30.517578125 / 1e5}
	if !sensortest.Equal(m, want) || math.Abs(m.Celsius-23.39) > .01 || math.Abs(m.Humidity-.3209) > .0001 {
		t.Errorf("measured %+v, want %+v", m, want)
	}
}

func TestDeviceByItsDirectoryWithoutHumidity(t *testing.T) {
	p := &Probe{Device: filepath.Join(lay(t, finished()), "iio:device3")}
	m, err := p.Measure(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if !sensortest.Equal(m, sensor.Measurement{Celsius: -1.5, Humidity: math.NaN()}) {
		t.Errorf("measured %+v", m)
	}
}

func TestDeviceThatComesBackUnderAnotherNumber(t *testing.T) {
	root := lay(t, finished())
	p := &Probe{Device: "dht11@4", Root: root}
	if _, err := p.Measure(t.Context()); err != nil {
		t.Fatal(err)
	}
	gone := filepath.Join(root, "iio:device0")
	if err := os.Rename(gone, filepath.Join(root, "iio:device7")); err != nil {
		t.Fatal(err)
	}
	m, err := p.Measure(t.Context())
	sensortest.Refused(t, m, err, sensor.NoAnswer)
	if m, err = p.Measure(t.Context()); err != nil || m.Celsius != 23.4 {
		t.Errorf("after it came back: %+v, %v", m, err)
	}
}

func TestFileThatBlocksEndsWithTheContext(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		free := make(chan struct{})
		p := &Probe{Device: "dht11@4", Root: lay(t, finished()), Read: faulty("in_temp_input", func() ([]byte, error) {
			<-free
			return nil, syscall.EIO
		})}
		ctx, cancel := context.WithTimeout(t.Context(), 2*time.Second)
		defer cancel()
		began := time.Now()
		m, err := p.Measure(ctx)
		sensortest.Refused(t, m, err, sensor.NoAnswer)
		if took := time.Since(began); took != 2*time.Second {
			t.Errorf("gave up after %v, want the context's 2 s", took)
		}
		close(free)
	})
}

// A humidity that blocks costs each poll its time once, and is not read again before
// it came back; the temperature goes on.
func TestHumidityThatBlocksLeavesTheTemperatureAlone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		free, reads := make(chan struct{}), 0
		p := &Probe{Device: "dht11@4", Root: lay(t, finished()), Read: faulty("in_humidityrelative_input", func() ([]byte, error) {
			reads++
			<-free
			return []byte("51200\n"), nil
		})}
		measure := func() (sensor.Measurement, time.Duration) {
			ctx, cancel := context.WithTimeout(t.Context(), 2*time.Second)
			defer cancel()
			began := time.Now()
			m, err := p.Measure(ctx)
			if err != nil || m.Celsius != 23.4 {
				t.Fatalf("measured %+v, %v", m, err)
			}
			return m, time.Since(began)
		}
		for i := range 5 {
			m, took := measure()
			if sensor.CauseOf(m.Lacking) != sensor.NoAnswer || i == 0 && took != 2*time.Second || i > 0 && took != 0 {
				t.Errorf("poll %d: lacking %v after %v", i, m.Lacking, took)
			}
		}
		if reads != 1 {
			t.Errorf("%d reads hang, want 1", reads)
		}
		close(free)
		synctest.Wait()
		if m, _ := measure(); m.Lacking != nil || m.Humidity != .512 {
			t.Errorf("after it came back: %+v", m)
		}
	})
}

// A device whose humidity is gone from the kernel has lost it, though another of its
// kind never had one.
func TestHumidityThatIsGoneIsLacking(t *testing.T) {
	root := lay(t, finished())
	p := &Probe{Device: "dht11@4", Root: root}
	if m, err := p.Measure(t.Context()); err != nil || m.Humidity != .512 {
		t.Fatalf("measured %+v, %v", m, err)
	}
	if err := os.Remove(filepath.Join(root, "iio:device0", "in_humidityrelative_input")); err != nil {
		t.Fatal(err)
	}
	for range 3 {
		if m, err := p.Measure(t.Context()); err != nil || m.Celsius != 23.4 || sensor.CauseOf(m.Lacking) != sensor.NoAnswer {
			t.Errorf("measured %+v, %v", m, err)
		}
	}
	other := &Probe{Device: "half", Root: root}
	if m, err := other.Measure(t.Context()); err != nil || m.Lacking != nil || !math.IsNaN(m.Humidity) {
		t.Errorf("of one without: %+v, %v", m, err)
	}
	for _, d := range []string{"iio:device0", "iio:device3"} {
		if err := os.WriteFile(filepath.Join(root, d, "in_humidityrelative_input"), []byte("40000\n"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for _, x := range []*Probe{p, other} {
		if m, err := x.Measure(t.Context()); err != nil || m.Humidity != .4 {
			t.Errorf("back again: %+v, %v", m, err)
		}
	}
}

// testdata/linux-6.1 is what the kernel's bme280 driver showed of a simulated part
// whose registers are the data sheet's example (.ci/kernel): 25.080 C.
func TestFilesOfATrueKernel(t *testing.T) {
	p := &Probe{Device: "bme280", Root: "testdata/linux-6.1"}
	if m, err := p.Measure(t.Context()); err != nil || !sensortest.Equal(m, sensor.Measurement{Celsius: 25.08, Humidity: .4524}) {
		t.Errorf("measured %+v, %v", m, err)
	}
}

// Whatever the files hold, a value is finite or an error without one.
func FuzzFiles(f *testing.F) {
	for _, s := range []string{"23400\n", "", "\n", "-", "1e309\n", "0x1p-2\n", "NaN\n"} {
		f.Add([]byte(s), []byte("-4368\n"), []byte("10.725097656\n"))
		f.Add([]byte("6549\n"), []byte(s), []byte(s))
	}
	f.Add([]byte("1e300\n"), []byte("0\n"), []byte("1e300\n"))
	root := lay(f, finished())
	f.Fuzz(func(t *testing.T, raw, offset, scale []byte) {
		read := func(path string) ([]byte, error) {
			switch name := filepath.Base(path); {
			case strings.HasSuffix(name, "_input"), strings.HasSuffix(name, "_raw"):
				return raw, nil
			case strings.HasSuffix(name, "_offset"):
				return offset, nil
			case strings.HasSuffix(name, "_scale"):
				return scale, nil
			}
			return os.ReadFile(path)
		}
		for _, device := range []string{"half", "dht11@4", "si7020"} {
			p := &Probe{Device: device, Root: root, Read: read}
			m, err := p.Measure(t.Context())
			if err != nil && !(math.IsNaN(m.Celsius) && math.IsNaN(m.Humidity)) {
				t.Fatalf("%s: %v travels with %v", device, m, err)
			}
			if err == nil && (math.IsNaN(m.Celsius) || math.IsInf(m.Celsius, 0) || math.IsInf(m.Humidity, 0)) {
				t.Fatalf("%s: %q, %q, %q were read as %v", device, raw, offset, scale, m)
			}
		}
	})
}
