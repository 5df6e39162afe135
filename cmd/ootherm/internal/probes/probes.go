// Package probes shows which probes are connected to this machine, or the readings of a
// running station. It prints text, a configuration to paste, or JSON. It must not
// know how a part is read.
package probes

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/client"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/dialer"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/catalog"
	"example.com/ootherm/sensor/ds18b20"
	"example.com/ootherm/sensor/inventory"
)

// Options say which probes to show and how.
type Options struct {
	Config   string // empty: there is none yet
	Places   inventory.Places
	Watch    bool // until the context ends
	JSON     bool
	Out      io.Writer // the probes
	Messages io.Writer // what to mend
}

// errProbeMissing is the error of a scan that did not find every configured probe.
var errProbeMissing = usererr.New("not every probe of the configuration answers")

// errNoValue is the error where a probe gives no value, or lacks its humidity.
var errNoValue = usererr.New("not every probe gives its values")

// errNoProbe is the error of a scan that found no probe.
var errNoProbe = usererr.New("no probe answers")

// Show shows the probes that the running station polls. Where none runs, it shows the
// probes that a scan of the buses finds.
func Show(ctx context.Context, o Options) error {
	c, err := config.Parse("", nil, probeconfig.Drivers())
	if o.Config != "" {
		c, err = config.Load(o.Config, probeconfig.Drivers())
	}
	if err != nil {
		return err
	}
	reader := words.Reader{Place: c.Station.Location}
	if c.Station.Fahrenheit {
		reader.Units = words.Fahrenheit
	}
	station, err := client.Running(ctx, c.Station.Data, reader)
	if err != nil {
		return err
	}
	if station != nil {
		defer station.Close()
		return showStation(ctx, station, c.Station.Every, o)
	}
	s, err := inventory.Take(ctx, o.Places, probeconfig.AllSettings(c.Probes, dialer.New()))
	if err != nil {
		return err
	}
	err = showScan(ctx, s, reader, o)
	return errors.Join(err, s.Close())
}

// showStation shows the probes of the running station, which owns the buses.
func showStation(ctx context.Context, c *client.Client, every time.Duration, o Options) error {
	for {
		n, err := c.Now(ctx)
		if err != nil {
			return err
		}
		if o.JSON {
			err = encode(o.Out, struct {
				Source string          `json:"source"`
				Zones  []snapshot.Zone `json:"zones"`
			}{"station", n.Zones})
		} else {
			err = describeZones(o.Out, n, c.Reader())
		}
		if err == nil && !o.Watch && lacksValue(n) {
			err = errNoValue
		}
		if err != nil || !o.Watch {
			return err
		}
		if o.Places.Filled().Wait(ctx, every) != nil {
			return nil // the context ended
		}
	}
}

// lacksValue reports whether a probe of the station has no value.
func lacksValue(n *snapshot.Snapshot) bool {
	return slices.ContainsFunc(n.Zones, func(z snapshot.Zone) bool {
		return slices.ContainsFunc(n.ProbesOf(z), func(p snapshot.Probe) bool { return p.Celsius == nil })
	})
}

// describeZones writes each zone's probes, for a person.
func describeZones(w io.Writer, n *snapshot.Snapshot, r words.Reader) error {
	for _, z := range n.Zones {
		line := z.Zone
		if z.SpreadK != nil {
			line += ": probes " + r.Difference(*z.SpreadK) + " apart over a day"
		}
		if _, err := fmt.Fprintln(w, line); err != nil {
			return err
		}
		for _, p := range n.ProbesOf(z) {
			line := fmt.Sprintf("  %-16s  %s", p.Probe, words.Probe(p))
			if p.Celsius != nil {
				line += ", " + r.Temperature(*p.Celsius)
			}
			if p.Humidity != nil {
				line += ", " + r.Humidity(*p.Humidity)
			}
			if p.AgeSeconds != nil {
				line += ", " + words.Ago(words.Seconds(*p.AgeSeconds))
			}
			if _, err := fmt.Fprintln(w, line); err != nil {
				return err
			}
		}
	}
	return nil
}

// showScan shows what a scan found, with a stanza to paste for each probe that is not in
// the configuration.
func showScan(ctx context.Context, s *inventory.Scan, r words.Reader, o Options) error {
	var err error
	if o.JSON {
		err = encode(o.Out, scanJSON(s))
	} else {
		err = describeScan(o.Out, o.Messages, s, r)
	}
	if err != nil {
		return err
	}
	if len(s.Found) == 0 {
		return errNoProbe
	}
	if o.Watch {
		return watchScan(ctx, s, r, o)
	}
	if s.Lost {
		return errProbeMissing
	}
	if slices.ContainsFunc(s.Found, func(f inventory.Found) bool {
		last := f.Read[len(f.Read)-1]
		return last.Err != nil || last.Lacking != nil
	}) {
		return errNoValue
	}
	return nil
}

// watchInterval is the time between two readings of a scan (our choice).
const watchInterval = 2 * time.Second

// watchScan reads the probes of a scan again and again, until the context ends.
func watchScan(ctx context.Context, s *inventory.Scan, r words.Reader, o Options) error {
	for o.Places.Filled().Wait(ctx, watchInterval) == nil {
		s.Read(ctx)
		if ctx.Err() != nil {
			return nil
		}
		var err error
		if o.JSON {
			err = encode(o.Out, scanJSON(s))
		} else {
			err = describeReadings(o.Out, s, r)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// describeReadings writes the last reading of each probe, and its change since the first.
func describeReadings(w io.Writer, s *inventory.Scan, r words.Reader) error {
	for _, f := range s.Found {
		first, last := f.Read[0], f.Read[len(f.Read)-1]
		line := fmt.Sprintf("%-16s  %s", f.Name, Outcome(last, r))
		if first.Err == nil && last.Err == nil {
			line += ", " + r.Difference(last.Celsius-first.Celsius) + " since the start"
		}
		if _, err := fmt.Fprintln(w, line); err != nil {
			return err
		}
	}
	_, err := fmt.Fprintln(w)
	return err
}

// describeScan writes the probes of a scan to w, and what to mend to messages.
func describeScan(w, messages io.Writer, s *inventory.Scan, r words.Reader) error {
	var stanzas strings.Builder
	for _, f := range s.Found {
		var read []string
		for _, x := range f.Read {
			read = append(read, Outcome(x, r))
		}
		known := "new"
		if f.Known != "" {
			known = "in the configuration"
		}
		if _, err := fmt.Fprintf(w, "%-16s  %s, %s\n    %s\n", f.Name, Where(f.Settings), known, strings.Join(read, "; ")); err != nil {
			return err
		}
		if f.Known == "" {
			stanzas.WriteString("\n" + Stanza(f.Settings))
		}
	}
	if stanzas.Len() > 0 {
		if _, err := fmt.Fprintf(w, "\n# ootherm setup writes these lines. They are here for those who write the\n# configuration by hand. Give each probe a name that says where it hangs.\n%s", stanzas.String()); err != nil {
			return err
		}
	}
	for _, t := range s.Troubles {
		if _, err := fmt.Fprintf(messages, "%s.\n    %s\n", words.Capital(t.What), t.Mend); err != nil {
			return err
		}
	}
	return nil
}

// Outcome gives the result of one reading, for a person.
func Outcome(x inventory.Outcome, r words.Reader) string {
	if x.Err != nil {
		return "no value: " + words.Cause(string(sensor.CauseOf(x.Err)))
	}
	s := r.Temperature(x.Celsius)
	if snapshot.OptFloat(x.Humidity) != nil {
		s += " " + r.Humidity(x.Humidity)
	}
	if x.Lacking != nil {
		s += ", no humidity: " + words.Cause(string(sensor.CauseOf(x.Lacking)))
	}
	return s
}

// Where gives the driver and the address of a probe, for a person.
func Where(p catalog.Settings) string {
	s := p.Driver
	for _, x := range []string{p.Device, p.Address, p.MQTT.Topic} {
		if x != "" {
			s += " " + x
		}
	}
	if on := cmp.Or(p.Bus, p.Path, p.MQTT.URL); on != "" {
		s += " on " + on
	}
	if note := ds18b20.Note(p.Address); note != "" {
		s += ", " + note
	}
	return s
}

// Stanza gives a probe's section of the configuration.
func Stanza(p catalog.Settings) string {
	var b strings.Builder
	b.WriteString("[[probe]]\n")
	for _, k := range []struct{ key, value string }{
		{"name", p.Name}, {"driver", p.Driver}, {"bus", p.Bus}, {"address", p.Address}, {"device", p.Device}, {"path", p.Path},
	} {
		if k.value != "" {
			fmt.Fprintf(&b, "%-7s = %s\n", k.key, config.Quote(k.value))
		}
	}
	return b.String()
}

func encode(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	return e.Encode(v)
}
