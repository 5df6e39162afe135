// Package probes shows which probes are connected to this machine, or what the probes of
// a running station give. It prints text, a configuration to paste, or JSON. It must not
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
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/catalog"
	"example.com/ootherm/sensor/ds18b20"
	"example.com/ootherm/sensor/inventory"
)

// Options say which probes to show, and how.
type Options struct {
	Config string // empty: none yet
	Places inventory.Places
	Watch  bool // until the context ends
	JSON   bool
	Out    io.Writer // the probes
	Words  io.Writer // what stands in the way
}

// errLost is the error of a scan that did not find all that it should.
var errLost = usererr.New("not every probe of the configuration answers")

// errMute is the error of a look at probes of which one gives no value, or not all that
// it measures.
var errMute = usererr.New("not every probe gives its values")

// errNoProbe is the error of a scan that found none.
var errNoProbe = usererr.New("no probe answers")

// Show shows the probes that answer: those that the running station polls,
// or, when none runs, those that a scan of the buses finds.
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
		return polled(ctx, station, c.Station.Every, o)
	}
	s, err := inventory.Take(ctx, o.Places, probeconfig.AllSettings(c.Probes))
	if err != nil {
		return err
	}
	err = found(ctx, s, reader, o)
	return errors.Join(err, s.Close())
}

// polled shows what the running station polls; it owns the buses.
func polled(ctx context.Context, c *client.Client, every time.Duration, o Options) error {
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
		if err == nil && !o.Watch && mute(n) {
			err = errMute
		}
		if err != nil || !o.Watch {
			return err
		}
		if o.Places.Filled().Wait(ctx, every) != nil {
			return nil // it was told to stop
		}
	}
}

// mute reports whether a probe of the station has no value.
func mute(n *snapshot.Snapshot) bool {
	return slices.ContainsFunc(n.Zones, func(z snapshot.Zone) bool {
		return slices.ContainsFunc(z.Probes, func(p snapshot.Probe) bool { return p.Celsius == nil })
	})
}

// describeZones writes each zone's probes, for a person.
func describeZones(w io.Writer, n *snapshot.Snapshot, r words.Reader) error {
	for _, z := range n.Zones {
		line := z.Zone
		if z.Spread != nil {
			line += ": probes " + r.Difference(*z.Spread) + " apart over a day"
		}
		if _, err := fmt.Fprintln(w, line); err != nil {
			return err
		}
		for _, p := range z.Probes {
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

// found shows what a scan found, with a stanza to paste for each probe that the
// configuration has not.
func found(ctx context.Context, s *inventory.Scan, r words.Reader, o Options) error {
	var err error
	if o.JSON {
		err = encode(o.Out, scanJSON(s))
	} else {
		err = describeScan(o.Out, o.Words, s, r)
	}
	if err == nil && len(s.Found) == 0 {
		err = errNoProbe
	}
	if err == nil && s.Lost && !o.Watch {
		err = errLost
	}
	if err == nil && !o.Watch && slices.ContainsFunc(s.Found, func(f inventory.Found) bool {
		last := f.Read[len(f.Read)-1]
		return last.Err != nil || last.Lacking != nil
	}) {
		err = errMute
	}
	for err == nil && o.Watch && o.Places.Filled().Wait(ctx, 2*time.Second) == nil {
		s.Read(ctx)
		if ctx.Err() != nil {
			return nil
		}
		if o.JSON {
			err = encode(o.Out, scanJSON(s))
			continue
		}
		for _, f := range s.Found {
			last, line := f.Read[len(f.Read)-1], fmt.Sprintf("%-16s  %s", f.Name, Outcome(f.Read[len(f.Read)-1], r))
			if first := f.Read[0]; first.Err == nil && last.Err == nil {
				line += ", " + r.Difference(last.Celsius-first.Celsius) + " since the start"
			}
			if _, err = fmt.Fprintln(o.Out, line); err != nil {
				break
			}
		}
		if err == nil {
			_, err = fmt.Fprintln(o.Out)
		}
	}
	return err
}

func describeScan(w, told io.Writer, s *inventory.Scan, r words.Reader) error {
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
		if _, err := fmt.Fprintf(w, "\n# To paste into the configuration; give each a name that says where it hangs.\n%s", stanzas.String()); err != nil {
			return err
		}
	}
	for _, t := range s.Troubles {
		if _, err := fmt.Fprintf(told, "%s.\n    %s\n", words.Capital(t.What), t.Mend); err != nil {
			return err
		}
	}
	return nil
}

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

// Where says what a found probe is and where.
func Where(p catalog.Settings) string {
	s := p.Driver
	for _, x := range []string{p.Device, p.Address} {
		if x != "" {
			s += " " + x
		}
	}
	if on := cmp.Or(p.Bus, p.Path); on != "" {
		s += " on " + on
	}
	if note := ds18b20.Note(p.Address); note != "" {
		s += ", " + note
	}
	return s
}

// Stanza is a probe as the configuration has it.
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
