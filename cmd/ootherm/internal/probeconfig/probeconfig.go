// Package probeconfig joins the configuration to the catalog of drivers: it tells the
// configuration which drivers there are, and a driver what the configuration says of a
// probe. It must not read a file or open a probe itself, nor know what is measured.
package probeconfig

import (
	"fmt"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/dialer"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/catalog"
	"example.com/ootherm/sensor/scrape"
	"example.com/ootherm/sensor/simulated"
)

// Drivers gives the catalog's drivers as the configuration takes them.
func Drivers() []config.Variant {
	var all []config.Variant
	for _, d := range catalog.Drivers() {
		v := config.Variant{Name: d.Name, Keys: d.Keys, Need: d.Need, Thermometer: d.Humidity == catalog.Never}
		if d.First != 0 {
			v.Address, v.Last = fmt.Sprintf("0x%02x", d.First), fmt.Sprintf("0x%02x", d.Last)
		}
		all = append(all, v)
	}
	return all
}

// Settings gives a probe of the configuration as its driver takes it.
func Settings(p config.Probe) catalog.Settings {
	s := catalog.Settings{
		Name: p.Name, Driver: p.Driver, Bus: p.Bus, Address: p.Address,
		Path: p.Path, Device: p.Device, File: p.File, Column: p.Column,
	}
	if p.Sim != nil {
		s.Climate = simulated.Climate{SetPoint: p.Sim.Celsius, Swing: p.Sim.Swing, Noise: p.Sim.Noise, Humidity: p.Sim.Humidity}
	}
	if p.Remote != nil {
		metric := func(name string) scrape.Metric {
			if name == "" {
				return scrape.Metric{}
			}
			return scrape.Metric{Name: name, Labels: p.Remote.Labels}
		}
		s.Scrape = scrape.Options{
			URL: p.Remote.URL, Temperature: metric(p.Remote.Temperature), Humidity: metric(p.Remote.Humidity),
			Fahrenheit: p.Remote.Fahrenheit, Percent: p.Remote.Percent,
			Success: metric(p.Remote.Success), MaxAge: p.Remote.MaxAge,
			User: p.Remote.User, PasswordFile: p.Remote.PasswordFile,
		}
	}
	return s
}

// AllSettings gives all probes as their drivers take them.
func AllSettings(probes []config.Probe) []catalog.Settings {
	all := make([]catalog.Settings, len(probes))
	for i, p := range probes {
		all[i] = Settings(p)
	}
	return all
}

// Buses groups the probes of the configuration by their bus, as [catalog.Buses] does. The
// probes of other devices connect with a dialer.
func Buses(probes []config.Probe, now func() time.Time, d *dialer.Dialer) ([]sensor.Bus, error) {
	settings := AllSettings(probes)
	for i := range settings {
		settings[i].Scrape.Client = d.Client(dialer.MaxMetricsReply)
	}
	all, err := catalog.Buses(settings, now)
	if err != nil {
		return nil, usererr.Usage(err)
	}
	return all, nil
}
