package app

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

	"example.com/ootherm/cmd/ootherm/internal/app/now"
	"example.com/ootherm/cmd/ootherm/internal/app/words"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/ds18b20"
)

// ProbesOptions say which probes to show, and how.
type ProbesOptions struct {
	Config string // empty: none yet
	Places Places
	Watch  bool // until the context ends
	JSON   bool
	Out    io.Writer // the probes
	Words  io.Writer // what stands in the way
}

// errLost is the error of a scan that did not find all that it should.
const errLost = unable("not every probe of the configuration answers")

// errMute is the error of a look at probes of which one gives no value, or not all that
// it measures.
const errMute = unable("not every probe gives its values")

// errNoProbe is the error of a scan that found none.
const errNoProbe = unable("no probe answers")

// ShowProbes shows the probes that answer: those that the running station polls,
// or, when none runs, those that a scan of the buses finds.
func ShowProbes(ctx context.Context, o ProbesOptions) error {
	c, err := config.Parse("", nil)
	if o.Config != "" {
		c, err = config.Load(o.Config)
	}
	if err != nil {
		return err
	}
	reader := words.Reader{Place: c.Station.Location}
	if c.Station.Fahrenheit {
		reader.Units = words.Fahrenheit
	}
	station, err := running(ctx, c.Station.Data, reader)
	if err != nil {
		return err
	}
	if station != nil {
		defer station.Close()
		return polled(ctx, station, c.Station.Every, o)
	}
	s, err := scan(ctx, o.Places, c.Probes)
	if err != nil {
		return err
	}
	err = found(ctx, s, reader, o)
	return errors.Join(err, s.Close())
}

// polled shows what the running station polls; it owns the buses.
func polled(ctx context.Context, c *Client, every time.Duration, o ProbesOptions) error {
	for {
		n, err := c.Now(ctx)
		if err != nil {
			return err
		}
		if o.JSON {
			err = encode(o.Out, struct {
				Source string     `json:"source"`
				Zones  []now.Zone `json:"zones"`
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
		if o.Places.filled().wait(ctx, every) != nil {
			return nil // it was told to stop
		}
	}
}

// mute reports whether a probe of the station has no value.
func mute(n *now.Now) bool {
	return slices.ContainsFunc(n.Zones, func(z now.Zone) bool {
		return slices.ContainsFunc(z.Probes, func(p now.Probe) bool { return p.Celsius == nil })
	})
}

// describeZones writes each zone's probes, for a person.
func describeZones(w io.Writer, n *now.Now, r words.Reader) error {
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
func found(ctx context.Context, s *Scan, r words.Reader, o ProbesOptions) error {
	var err error
	if o.JSON {
		err = encode(o.Out, s)
	} else {
		err = describeScan(o.Out, o.Words, s, r)
	}
	if err == nil && len(s.Found) == 0 {
		err = errNoProbe
	}
	if err == nil && s.Lost && !o.Watch {
		err = errLost
	}
	if err == nil && !o.Watch && slices.ContainsFunc(s.Found, func(f Found) bool {
		last := f.Read[len(f.Read)-1]
		return last.Err != nil || last.Lacking != nil
	}) {
		err = errMute
	}
	for err == nil && o.Watch && o.Places.filled().wait(ctx, 2*time.Second) == nil {
		s.read(ctx)
		if ctx.Err() != nil {
			return nil
		}
		if o.JSON {
			err = encode(o.Out, s)
			continue
		}
		for _, f := range s.Found {
			last, line := f.Read[len(f.Read)-1], fmt.Sprintf("%-16s  %s", f.Name, outcome(f.Read[len(f.Read)-1], r))
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

func describeScan(w, told io.Writer, s *Scan, r words.Reader) error {
	var stanzas strings.Builder
	for _, f := range s.Found {
		var read []string
		for _, x := range f.Read {
			read = append(read, outcome(x, r))
		}
		known := "new"
		if f.Known != "" {
			known = "in the configuration"
		}
		if _, err := fmt.Fprintf(w, "%-16s  %s, %s\n    %s\n", f.Name, where(f.Probe), known, strings.Join(read, "; ")); err != nil {
			return err
		}
		if f.Known == "" {
			stanzas.WriteString("\n" + stanza(f.Probe))
		}
	}
	if stanzas.Len() > 0 {
		if _, err := fmt.Fprintf(w, "\n# To paste into the configuration; give each a name that says where it hangs.\n%s", stanzas.String()); err != nil {
			return err
		}
	}
	for _, t := range s.Troubles {
		if _, err := fmt.Fprintf(told, "%s.\n    %s\n", capital(t.What), t.Mend); err != nil {
			return err
		}
	}
	return nil
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

func outcome(x Outcome, r words.Reader) string {
	if x.Err != nil {
		return "no value: " + words.Cause(string(sensor.CauseOf(x.Err)))
	}
	s := r.Temperature(x.Celsius)
	if number(x.Humidity) != nil {
		s += " " + r.Humidity(x.Humidity)
	}
	if x.Lacking != nil {
		s += ", no humidity: " + words.Cause(string(sensor.CauseOf(x.Lacking)))
	}
	return s
}

// where says what a found probe is and where.
func where(p config.Probe) string {
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

// stanza is a probe as the configuration has it.
func stanza(p config.Probe) string {
	var b strings.Builder
	b.WriteString("[[probe]]\n")
	for _, k := range []struct{ key, value string }{
		{"name", p.Name}, {"driver", p.Driver}, {"bus", p.Bus}, {"address", p.Address}, {"device", p.Device}, {"path", p.Path},
	} {
		if k.value != "" {
			fmt.Fprintf(&b, "%-7s = %s\n", k.key, quote(k.value))
		}
	}
	return b.String()
}

// quote writes a text as TOML does.
func quote(s string) string {
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(s) + `"`
}

// MarshalJSON writes a scan; what was not measured is null.
func (s *Scan) MarshalJSON() ([]byte, error) {
	type reading struct {
		Celsius  *float64 `json:"temperature_c"`
		Humidity *float64 `json:"relative_humidity"`
		Err      *string  `json:"error"`
		Lacking  *string  `json:"humidity_error"`
	}
	type probe struct {
		Name    string    `json:"probe"`
		Driver  string    `json:"driver"`
		Bus     *string   `json:"bus"`
		Address *string   `json:"address"`
		Device  *string   `json:"device"`
		Path    *string   `json:"path"`
		Known   bool      `json:"configured"`
		Read    []reading `json:"readings"`
	}
	probes := []probe{}
	for _, f := range s.Found {
		p := probe{Name: f.Name, Driver: f.Driver, Bus: text(f.Bus), Address: text(f.Address), Device: text(f.Device), Path: text(f.Path), Known: f.Known != ""}
		for _, x := range f.Read {
			if x.Err != nil {
				p.Read = append(p.Read, reading{Err: text(x.Err.Error())})
				continue
			}
			one := reading{Celsius: number(x.Celsius), Humidity: number(x.Humidity)}
			if x.Lacking != nil {
				one.Lacking = text(x.Lacking.Error())
			}
			p.Read = append(p.Read, one)
		}
		probes = append(probes, p)
	}
	return json.Marshal(struct {
		Source   string    `json:"source"`
		Probes   []probe   `json:"probes"`
		Troubles []Trouble `json:"troubles"`
	}{"scan", probes, append([]Trouble{}, s.Troubles...)})
}

func encode(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	return e.Encode(v)
}
