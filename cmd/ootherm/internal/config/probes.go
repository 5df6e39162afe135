package config

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2/unstable"
)

// Variant is a driver of probes or a kind of sender, and the keys that it may
// have beside those that all have. The caller of [Parse] gives the drivers.
type Variant struct {
	Name        string
	Keys        []string
	Need        []string // of these, one at least; empty: none
	Thermometer bool     // a driver whose probes never measure humidity
	Address     string   // the part's usual one, where it sits on an I2C bus
	Last        string   // the last of the addresses that the part can have, which begin with the usual one
}

// neverHumidity reports whether a probe of a driver measures no humidity, by what the
// configuration says.
func (p Probe) neverHumidity(v Variant) bool {
	switch {
	case p.Remote != nil:
		return p.Remote.Humidity == ""
	case p.Column != "":
		return !strings.Contains(p.Column, ":")
	}
	return v.Thermometer
}

// probe reads a [[probe]].
func (f *file) probe(t *table) Probe {
	p := Probe{Name: t.named("probe"), Place: t.text("place"), Bus: t.text("bus")}
	p.Offset = t.kelvins("offset", 0)
	if p.Offset < -mostOffset || p.Offset > mostOffset {
		t.fault("offset", "is more than %g C; a probe that far off is broken: replace it", mostOffset)
	}
	p.SilentAfter = t.between("silent_after", defaultSilentAfter, time.Second, longestSpan)
	if f.replay && t.node.find("driver") == nil {
		p.Driver = "recording"
		t.asked = append(t.asked, "driver")
	} else {
		p.Driver = t.kind("driver", f.drivers)
	}
	at := slices.IndexFunc(f.drivers, func(v Variant) bool { return v.Name == p.Driver })
	if at < 0 { // which keys it may have is not known
		t.asked = append(t.asked, keysOf(f.drivers)...)
		t.done()
		return p
	}
	v := f.drivers[at]
	switch v.Name {
	case "simulated":
		p.Sim = t.sim()
	case "scrape":
		p.Remote = t.remote()
	default:
		for _, k := range v.Keys {
			t.own(&p, k)
		}
	}
	missing := !slices.ContainsFunc(v.Need, func(k string) bool { return t.node.find(k) != nil })
	if len(v.Need) > 0 && missing && !f.broken {
		t.polling(v.Need[0], "is missing; the driver %s needs %s", v.Name, strings.Join(v.Need, " or "))
	}
	if v.Address != "" && p.Bus == "" && t.node.find("bus") == nil && !f.broken {
		t.polling("bus", `is missing; say on which bus the part is: bus = "/dev/i2c-1"`)
	}
	t.fits(p.Address, v)
	if p.Address == "" {
		p.Address = v.Address
	}
	t.done(elsewhere(f.drivers, v.Name))
	p.Thermometer = p.neverHumidity(v)
	return p
}

// own reads one of a driver's own keys.
func (t *table) own(p *Probe, name string) {
	switch name {
	case "address":
		p.Address = t.busAddress(name)
	case "path":
		p.Path = t.text(name)
	case "device":
		p.Device = t.text(name)
	case "file":
		p.File = t.text(name)
	case "column":
		p.Column = t.text(name)
	}
}

// oneWire is family, dash, serial number, as the kernel prints it.
var oneWire = regexp.MustCompile(`^[0-9a-f]{2}-[0-9a-f]{12}$`)

// busAddress reads an I2C address, a number or a text, or a 1-Wire one.
// 0x08..0x77 are those the I2C specification leaves to parts (UM10204, table 4).
func (t *table) busAddress(name string) string {
	const how = `0x76, or "28-0123456789ab" for a part on 1-Wire`
	n := t.get(name)
	if n == nil {
		return ""
	}
	if n.kind == unstable.String && oneWire.MatchString(n.text) {
		return n.text
	}
	v, err := strconv.ParseInt(n.text, 0, 16)
	if n.kind != unstable.String && n.kind != unstable.Integer || err != nil {
		t.fault(name, "is %s; write %s", t.what(n), how)
		return ""
	}
	if v < 0x08 || v > 0x77 {
		t.fault(name, "%s is outside 0x08..0x77; write %s", n.text, how)
		return ""
	}
	return fmt.Sprintf("0x%02x", v)
}

// fits refuses an address that the driver's part cannot have.
func (t *table) fits(address string, v Variant) {
	switch wire := oneWire.MatchString(address); {
	case address == "":
	case v.Address == "" && !wire:
		t.polling("address", `%s is on I2C; a %s has one such as "28-0123456789ab"`, address, v.Name)
	case v.Address != "" && (wire || address < v.Address || address > v.Last): // all have two digits
		which := "is always at " + v.Address
		if v.Last != v.Address {
			which = "is at one of " + v.Address + " to " + v.Last
		}
		t.polling("address", "is %s; a %s %s", address, v.Name, which)
	}
}

// remote reads where a probe's values are in another device's metrics.
func (t *table) remote() *Remote {
	r := &Remote{
		URL: t.address("url"), Temperature: t.text("temperature"), Humidity: t.text("humidity"), Success: t.text("success"),
		Fahrenheit: t.choice("units", "celsius", "fahrenheit") == "fahrenheit", Percent: t.truth("percent"),
		MaxAge: t.between("max_age", defaultMaxAge, time.Second, longestSpan),
	}
	if r.URL != "" && t.node.find("temperature") == nil {
		t.missing("temperature", "say which metric it is: temperature = \"room_temperature_celsius\"")
	}
	if s := t.section("labels", `a section: { sensor = "shelf" }`); s != nil {
		r.Labels = map[string]string{}
		for _, k := range s.node.keys {
			r.Labels[k.name] = s.text(k.name)
		}
	}
	return r
}

func (t *table) sim() *SimAir {
	s := &SimAir{Celsius: defaultSimCelsius, Swing: defaultSimSwing, Noise: defaultSimNoise, Humidity: defaultSimHumidity}
	for _, key := range []struct {
		name        string
		to          *float64
		least, most float64
	}{
		{"celsius", &s.Celsius, coldest, hottest},
		{"swing", &s.Swing, 0, hottest - coldest},
		{"noise", &s.Noise, 0, hottest - coldest},
	} {
		if v := t.number(key.name, "a number of degrees Celsius without a unit", key.least, key.most); v != nil {
			*key.to = *v
		}
	}
	if v := t.ratio("humidity"); v != nil {
		s.Humidity = *v
	}
	return s
}

// names refuses a name that two sections of a kind share.
func (f *file) names(root *table) {
	for _, section := range []string{"probe", "zone", "profile", "sender"} {
		first := map[string]int{}
		for _, t := range root.again(section) {
			n := t.node.find("name")
			if n == nil || n.node.kind != unstable.String || n.node.text == "" {
				continue
			}
			if at, ok := first[n.node.text]; ok {
				t.fault("name", "%q is the name of the %s on line %d already; give one of them another", n.node.text, section, f.line(at))
				continue
			}
			first[n.node.text] = n.node.at
		}
	}
}

// again gives the sections once more, without telling their faults twice.
func (t *table) again(name string) []*table {
	k := t.node.find(name)
	if k == nil {
		return nil
	}
	var all []*table
	for _, item := range k.node.items {
		if item.kind == unstable.InlineTable {
			all = append(all, t.table(item, name))
		}
	}
	return all
}

// places holds every zone's probes against those there are: none unknown, none
// in two zones. In a replay an unknown one is a column of the recording.
func (f *file) places(root *table, c Config) []Probe {
	probes := c.Probes
	var names []string
	for _, p := range probes {
		names = append(names, p.Name)
	}
	first := map[string]int{}
	for _, t := range root.again("zone") {
		n := t.node.find("probes")
		if n == nil || n.node.kind != unstable.Array {
			continue
		}
		here := map[string]bool{}
		for _, item := range n.node.items {
			if item.kind != unstable.String || strings.TrimSpace(item.text) == "" || here[item.text] {
				continue
			}
			here[item.text] = true
			if at, ok := first[item.text]; ok {
				f.add(item.at, t.join("probes"), fmt.Sprintf("%q is in the zone of line %d already; a probe stands in one", item.text, f.line(at)))
				continue
			}
			first[item.text] = item.at
			if slices.Contains(names, item.text) {
				continue
			}
			if f.replay {
				probes = append(probes, Probe{Name: item.text, Driver: "recording", SilentAfter: defaultSilentAfter})
				continue
			}
			advice := fmt.Sprintf("add a [[probe]] with name = %q", item.text)
			if k := nearest(item.text, names); k != "" {
				advice = fmt.Sprintf("did you mean %q? Or %s", k, advice)
			}
			f.add(item.at, t.join("probes"), fmt.Sprintf("no probe is named %q; %s", item.text, advice))
		}
	}
	return probes
}

// parts refuses two probes that would read one and the same part.
func (f *file) parts(root *table, probes []Probe) {
	first := map[string]int{}
	for i, t := range root.again("probe") {
		if i >= len(probes) {
			continue
		}
		key, what, part := probes[i].part()
		if part == "" {
			continue
		}
		if at, ok := first[part]; ok {
			t.polling(key, "%s is read by the probe of line %d already; two names for one part would never disagree", what, f.line(at))
			continue
		}
		first[part] = t.node.at
	}
}

// part tells apart what a probe reads, by which key, and what that is called; empty where
// any number of probes may read it.
func (p Probe) part() (key, what, part string) {
	switch {
	case p.Address != "":
		return "address", p.Address + " on this bus", fmt.Sprintf("%q %q", p.Bus, p.Address)
	case p.Device != "":
		return "device", fmt.Sprintf("%q", p.Device), fmt.Sprintf("%q %q %q", p.Driver, p.Path, p.Device)
	case p.Path != "":
		return "path", fmt.Sprintf("%q", p.Path), fmt.Sprintf("%q %q", p.Driver, p.Path)
	case p.Remote != nil:
		return "url", "this metric", fmt.Sprintf("%q %q %q", p.Remote.URL, p.Remote.Temperature, p.Remote.Labels)
	}
	return "", "", ""
}
