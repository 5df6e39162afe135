// Package catalog lists the drivers of this program, one row each: how a probe is opened,
// which keys configure it, its I2C addresses, and whether it measures humidity. It groups
// probes by the bus they share. It must not know the configuration file, or what a
// reading is used for.
package catalog

import (
	"context"
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"

	"periph.io/x/conn/v3/i2c"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/aht20"
	"example.com/ootherm/sensor/bme280"
	"example.com/ootherm/sensor/ds18b20"
	"example.com/ootherm/sensor/hdc302x"
	"example.com/ootherm/sensor/htu21"
	"example.com/ootherm/sensor/hwmon"
	"example.com/ootherm/sensor/iio"
	"example.com/ootherm/sensor/mcp9808"
	"example.com/ootherm/sensor/mqtt"
	"example.com/ootherm/sensor/recording"
	"example.com/ootherm/sensor/scrape"
	"example.com/ootherm/sensor/sht3x"
	"example.com/ootherm/sensor/sht4x"
	"example.com/ootherm/sensor/simulated"
	"example.com/ootherm/sensor/tmp117"
)

// Settings say where one probe is. A driver uses those of its keys.
type Settings struct {
	Name   string // of the probe
	Driver string

	Bus     string // a device such as /dev/i2c-1, or any name; probes of one bus are polled in turn
	Address string // on that bus; an I2C address is such as 0x76, a 1-Wire one such as 28-0123456789ab
	Path    string // the kernel's directory of the device, or the one that devices are listed in
	Device  string // the name that the kernel gives the part
	File    string // of a recording
	Column  string // of a recording
	Scrape  scrape.Options
	MQTT    mqtt.Options
	Climate simulated.Climate
}

// Driver is one row of the catalog.
type Driver struct {
	Name     string
	Keys     []string // which configure it, beside those of every probe
	Need     []string // one of these keys at least; empty: none
	Humidity Humidity

	// First to Last are the addresses that the part can have on an I2C bus; the first is
	// the usual one. Zero: it is on no I2C bus.
	First, Last uint16

	open func(Settings, *Bus) (sensor.Probe, error)
	// measuresHumidity asks the device, or the settings, where Humidity is AskDevice; nil:
	// only a reading tells.
	measuresHumidity func(context.Context, Settings) (bool, error)
}

// Humidity says whether a driver's probes measure humidity.
type Humidity int

// A probe may measure humidity, never does, or always does.
const (
	AskDevice Humidity = iota
	Never
	Always
)

// Drivers gives every driver, in the order in which a scan tries them. A new driver is one
// more row.
func Drivers() []Driver {
	address, kernel := []string{"address"}, []string{"path", "device"}
	return []Driver{
		{Name: "sht4x", First: 0x44, Last: 0x46, Humidity: Always, Keys: address, open: onI2C(sht4x.New)},
		{Name: "sht3x", First: 0x44, Last: 0x45, Humidity: Always, Keys: address, open: onI2C(sht3x.New)},
		{Name: "hdc302x", First: 0x44, Last: 0x47, Humidity: Always, Keys: address, open: onI2C(hdc302x.New)},
		{Name: "htu21", First: 0x40, Last: 0x40, Humidity: Always, Keys: address, open: onI2C(htu21.New)},
		{Name: "aht20", First: 0x38, Last: 0x38, Humidity: Always, Keys: address, open: onI2C(aht20.New)},
		{Name: "mcp9808", First: 0x18, Last: 0x1f, Humidity: Never, Keys: address, open: onI2C(mcp9808.New)},
		{Name: "tmp117", First: 0x48, Last: 0x4b, Humidity: Never, Keys: address, open: onI2C(tmp117.New)},
		{Name: "bme280", First: 0x76, Last: 0x77, Keys: address, open: onI2C(bme280.New)}, // a BMP280 has no humidity
		{Name: "ds18b20", Humidity: Never, Keys: []string{"address", "path"}, Need: address, open: openDS18B20},
		{Name: "iio", Keys: kernel, Need: kernel, open: openIIO, measuresHumidity: iioHumidity},
		{Name: "hwmon", Keys: kernel, Need: kernel, open: openHwmon, measuresHumidity: hwmonHumidity},
		{
			Name: "scrape", Need: []string{"url"}, open: openScrape, measuresHumidity: scrapeHumidity,
			Keys: []string{"url", "temperature", "humidity", "success", "labels", "units", "percent", "max_age", "user", "password_file"},
		},
		{
			Name: "mqtt", Need: []string{"url"}, open: openMQTT, measuresHumidity: mqttHumidity,
			Keys: []string{"url", "topic", "humidity_topic", "temperature", "humidity", "time", "units", "percent", "max_age", "user", "password_file", "ca_file"},
		},
		{Name: "recording", Keys: []string{"file", "column"}, Need: []string{"file"}, open: openRecording, measuresHumidity: recordingHumidity},
		{Name: "simulated", Humidity: Always, Keys: []string{"celsius", "swing", "noise", "humidity"}, open: openSimulated},
	}
}

// Of gives the driver of a name.
func Of(name string) (Driver, bool) {
	all := Drivers()
	i := slices.IndexFunc(all, func(d Driver) bool { return d.Name == name })
	if i < 0 {
		return Driver{}, false
	}
	return all[i], true
}

// Open opens one probe on its bus.
func Open(s Settings, b *Bus) (sensor.Probe, error) {
	d, ok := Of(s.Driver)
	if !ok {
		return nil, unknownDriver(s)
	}
	return d.open(s, b)
}

func unknownDriver(s Settings) error {
	return fmt.Errorf("probe %s: this build cannot read the driver %s", s.Name, s.Driver)
}

// MeasuresHumidity reports whether a probe measures humidity. Where the settings leave that
// open, it reads the kernel's files or a recording's header; it measures nothing. A probe
// that cannot be asked may measure it: that is true, beside the error if there is one.
func MeasuresHumidity(ctx context.Context, s Settings) (bool, error) {
	d, ok := Of(s.Driver)
	switch {
	case !ok || d.Humidity == AskDevice && d.measuresHumidity == nil:
		return true, nil
	case d.Humidity != AskDevice:
		return d.Humidity == Always, nil
	}
	does, err := d.measuresHumidity(ctx, s)
	return does || err != nil, err
}

// onI2C opens a part at its address on an I2C bus.
func onI2C[P sensor.Probe](part func(i2c.Bus, uint16) (P, error)) func(Settings, *Bus) (sensor.Probe, error) {
	return func(s Settings, b *Bus) (sensor.Probe, error) {
		bus, err := b.i2c(s.Bus)
		if err != nil {
			return nil, err
		}
		address, err := strconv.ParseUint(s.Address, 0, 7)
		if err != nil {
			return nil, fmt.Errorf("probe %s: address: %w", s.Name, err)
		}
		return part(bus, uint16(address))
	}
}

func openDS18B20(s Settings, _ *Bus) (sensor.Probe, error) {
	return ds18b20.New(s.Address, s.Path, nil)
}

// iioProbe is the device of a directory, or the one of a name: among all of the kernel's,
// or among those below the path.
func iioProbe(s Settings) *iio.Probe {
	if s.Device == "" {
		return &iio.Probe{Device: s.Path}
	}
	return &iio.Probe{Device: s.Device, Root: s.Path}
}

func openIIO(s Settings, _ *Bus) (sensor.Probe, error) { return iioProbe(s), nil }

func iioHumidity(ctx context.Context, s Settings) (bool, error) { return iioProbe(s).Moist(ctx) }

// hwmonProbe is found as iioProbe is.
func hwmonProbe(s Settings) *hwmon.Probe {
	if s.Device == "" {
		return &hwmon.Probe{Device: s.Path}
	}
	return &hwmon.Probe{Device: s.Device, Root: s.Path}
}

func openHwmon(s Settings, _ *Bus) (sensor.Probe, error) { return hwmonProbe(s), nil }

func hwmonHumidity(ctx context.Context, s Settings) (bool, error) { return hwmonProbe(s).Moist(ctx) }

func openScrape(s Settings, b *Bus) (sensor.Probe, error) {
	o := s.Scrape
	o.Now = b.Now
	return scrape.New(o)
}

func scrapeHumidity(_ context.Context, s Settings) (bool, error) {
	return s.Scrape.Humidity.Name != "", nil
}

// openMQTT reads topics of the bus's broker.
func openMQTT(s Settings, b *Bus) (sensor.Probe, error) { return mqtt.New(s.MQTT, b.hub(s.MQTT)) }

func mqttHumidity(_ context.Context, s Settings) (bool, error) {
	return s.MQTT.MeasuresHumidity(), nil
}

// openRecording plays a recording, from its first row when the bus was first opened.
func openRecording(s Settings, b *Bus) (sensor.Probe, error) {
	file, err := os.Open(s.File)
	if err != nil {
		return nil, fmt.Errorf("probe %s: %w", s.Name, err)
	}
	b.closes = append(b.closes, file.Close)
	var o recording.Options
	if s.Column != "" {
		column, err := recording.ParseColumn(s.Name + "=" + s.Column)
		if err != nil {
			return nil, err
		}
		o.Columns = append(o.Columns, column)
	}
	rows, err := recording.Open(file, s.File, o)
	if err != nil {
		return nil, err
	}
	return recording.Play(rows, s.Name, b.Elapsed), nil
}

// recordingHumidity reports whether a column of humidity is named, or, where none is named,
// whether a long recording has one.
func recordingHumidity(_ context.Context, s Settings) (bool, error) {
	if s.Column != "" {
		return strings.Contains(s.Column, ":"), nil
	}
	file, err := os.Open(s.File)
	if err != nil {
		return false, err
	}
	defer file.Close()
	rows, err := recording.Open(file, s.File, recording.Options{})
	if err != nil {
		return false, err
	}
	return rows.Moist(), nil
}

func openSimulated(s Settings, b *Bus) (sensor.Probe, error) {
	return simulated.New(s.Name, s.Climate.At, b.Now), nil
}
