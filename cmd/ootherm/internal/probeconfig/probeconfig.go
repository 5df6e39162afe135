// Package probeconfig joins the configuration to the catalog of drivers: it tells the
// configuration which drivers there are, and a driver what the configuration says of a
// probe. It must not read a file or open a probe itself, nor know what is measured.
package probeconfig

import (
	"context"
	"fmt"
	"time"

	"example.com/ootherm/alert/mqtt"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/dialer"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/catalog"
	topicprobe "example.com/ootherm/sensor/mqtt"
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

// Settings gives a probe of the configuration as its driver takes it. A probe of another
// device connects with a dialer.
func Settings(p config.Probe, d *dialer.Dialer) catalog.Settings {
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
			Client: d.Client(dialer.MaxMetricsReply),
		}
	}
	if p.Topics != nil {
		s.MQTT = topics(*p.Topics, d)
	}
	return s
}

// topics gives what the driver mqtt takes.
func topics(p config.Topics, d *dialer.Dialer) topicprobe.Options {
	return topicprobe.Options{
		Connection: topicprobe.Connection{URL: p.URL, User: p.User, PasswordFile: p.PasswordFile, CAFile: p.CAFile},
		Topic:      p.Topic, HumidityTopic: p.HumidityTopic, Temperature: p.Temperature, Humidity: p.Humidity, Time: p.Time,
		Fahrenheit: p.Fahrenheit, Percent: p.Percent, MaxAge: p.MaxAge,
		Subscribe: func(ctx context.Context, c topicprobe.Connection, all []string, ready func(), received func(topicprobe.Message)) error {
			r, err := mqtt.NewReader(mqtt.Config{URL: c.URL, User: c.User, PasswordFile: c.PasswordFile, CAFile: c.CAFile, Dial: d.Dial(dialer.MaxReply)})
			if err != nil {
				return err
			}
			return r.Read(ctx, all, ready, func(m mqtt.Received) {
				received(topicprobe.Message{Topic: m.Topic, Payload: m.Payload, Kept: m.Retained})
			})
		},
	}
}

// AllSettings gives all probes as [Settings] does.
func AllSettings(probes []config.Probe, d *dialer.Dialer) []catalog.Settings {
	all := make([]catalog.Settings, len(probes))
	for i, p := range probes {
		all[i] = Settings(p, d)
	}
	return all
}

// Buses groups the probes of the configuration by their bus, as [catalog.Buses] does. The
// probes of other devices connect with a dialer.
func Buses(probes []config.Probe, now func() time.Time, d *dialer.Dialer) ([]sensor.Bus, error) {
	all, err := catalog.Buses(AllSettings(probes, d), now)
	if err != nil {
		return nil, usererr.Usage(err)
	}
	return all, nil
}
