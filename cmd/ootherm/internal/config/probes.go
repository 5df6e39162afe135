package config

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/spelling"
	"github.com/pelletier/go-toml/v2/unstable"
)

// Variant is a driver of probes or a kind of sender, with its own keys. The caller of
// [Parse] gives the drivers.
type Variant struct {
	Name        string
	Keys        []string
	Need        []string // at least one of these is required; empty: none
	Thermometer bool     // a driver whose probes never measure humidity
	Address     string   // of an I2C part: its default and lowest address
	Last        string   // of an I2C part: its highest address
}

// neverHumidity reports whether the configuration says that a probe of a driver measures no
// humidity.
func (p Probe) neverHumidity(v Variant) bool {
	switch {
	case p.Remote != nil:
		return p.Remote.Humidity == ""
	case p.Topics != nil:
		return p.Topics.Humidity == "" && p.Topics.HumidityTopic == ""
	case p.Column != "":
		return !strings.Contains(p.Column, ":")
	}
	return v.Thermometer
}

// probeSection reads a [[probe]].
type probeSection struct{ *table }

// read reads the section.
func (t probeSection) read() Probe {
	p := Probe{Name: t.name("probe"), Place: t.text("place"), Bus: t.text("bus")}
	p.Offset = t.kelvins("offset", 0)
	if p.Offset < -maxOffsetK || p.Offset > maxOffsetK {
		t.fault("offset", "is more than %g C; a probe that far off is broken: replace it", maxOffsetK)
	}
	p.SilentAfter = t.between("silent_after", defaultSilentAfter, time.Second, maxSpan)
	if t.replay && t.node.find("driver") == nil {
		p.Driver = "recording"
		t.asked = append(t.asked, "driver")
	} else {
		p.Driver = t.kind("driver", t.drivers)
	}
	i := slices.IndexFunc(t.drivers, func(v Variant) bool { return v.Name == p.Driver })
	if i < 0 { // an unknown driver: accept the keys of all
		t.asked = append(t.asked, keysOf(t.drivers)...)
		t.done()
		return p
	}
	v := t.drivers[i]
	switch v.Name {
	case "simulated":
		p.Sim = t.sim()
	case "scrape":
		p.Remote = t.remote()
	case "mqtt":
		p.Topics = t.topics()
		if p.Bus != "" {
			t.fault("bus", "does not apply to mqtt, whose probes share the connection to their broker; remove this line")
		}
	default:
		for _, k := range v.Keys {
			t.driverKey(&p, k)
		}
	}
	missing := !slices.ContainsFunc(v.Need, func(k string) bool { return t.node.find(k) != nil })
	if len(v.Need) > 0 && missing && !t.broken {
		t.pollFault(v.Need[0], "is missing; the driver %s needs %s", v.Name, strings.Join(v.Need, " or "))
	}
	if v.Address != "" && p.Bus == "" && t.node.find("bus") == nil && !t.broken {
		t.pollFault("bus", `is missing; say on which bus the part is: bus = "/dev/i2c-1"`)
	}
	t.checkAddress(p.Address, v)
	if p.Address == "" {
		p.Address = v.Address
	}
	t.done(otherVariantKeys(t.drivers, v.Name))
	p.Thermometer = p.neverHumidity(v)
	return p
}

// driverKey reads one of a driver's own keys.
func (t probeSection) driverKey(p *Probe, name string) {
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

// oneWire matches a 1-Wire address as the kernel prints it: family, dash, serial number.
var oneWire = regexp.MustCompile(`^[0-9a-f]{2}-[0-9a-f]{12}$`)

// busAddress reads an I2C address, as a number or a text, or a 1-Wire address. The I2C
// specification leaves 0x08 to 0x77 to parts (UM10204, table 4).
func (t probeSection) busAddress(name string) string {
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
		t.fault(name, "is %s; write %s", t.describe(n), how)
		return ""
	}
	if v < 0x08 || v > 0x77 {
		t.fault(name, "%s is outside 0x08..0x77; write %s", n.text, how)
		return ""
	}
	return fmt.Sprintf("0x%02x", v)
}

// checkAddress reports an address that the driver's part cannot have.
func (t probeSection) checkAddress(address string, v Variant) {
	switch wire := oneWire.MatchString(address); {
	case address == "":
	case v.Address == "" && !wire:
		t.pollFault("address", `%s is on I2C; a %s has one such as "28-0123456789ab"`, address, v.Name)
	case v.Address != "" && (wire || address < v.Address || address > v.Last): // comparing texts works: all have two digits
		which := "is always at " + v.Address
		if v.Last != v.Address {
			which = "is at one of " + v.Address + " to " + v.Last
		}
		t.pollFault("address", "is %s; a %s %s", address, v.Name, which)
	}
}

// remote reads the metrics of another device that give a probe's values.
func (t probeSection) remote() *Remote {
	r := &Remote{
		URL: t.address("url"), Temperature: t.text("temperature"), Humidity: t.text("humidity"), Success: t.text("success"),
		Fahrenheit: t.choice("units", "celsius", "fahrenheit") == "fahrenheit", Percent: t.boolean("percent"),
		MaxAge: t.between("max_age", defaultMaxAge, time.Second, maxSpan),
	}
	r.User, r.PasswordFile = t.text("user"), t.text("password_file")
	if r.User != "" && t.node.find("password_file") == nil {
		t.missing("password_file", "a user has a password: name the file that holds it")
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

// sim reads the air of a simulated probe.
func (t probeSection) sim() *SimAir {
	s := &SimAir{Celsius: defaultSimCelsius, Swing: defaultSimSwing, Noise: defaultSimNoise, Humidity: defaultSimHumidity}
	for _, key := range []struct {
		name     string
		to       *float64
		min, max float64
	}{
		{"celsius", &s.Celsius, minCelsius, maxCelsius},
		{"swing", &s.Swing, 0, maxCelsius - minCelsius},
		{"noise", &s.Noise, 0, maxCelsius - minCelsius},
	} {
		if v := t.number(key.name, "a number of degrees Celsius without a unit", key.min, key.max); v != nil {
			*key.to = *v
		}
	}
	if v := t.ratio("humidity"); v != nil {
		s.Humidity = *v
	}
	return s
}

// checkNames reports a name that two sections of a kind share.
func (f *file) checkNames(root *table) {
	for _, section := range []string{"probe", "zone", "profile", "sender"} {
		first := map[string]int{}
		for _, t := range root.sectionsAgain(section) {
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

// sectionsAgain returns the tables of a key, without reporting their faults again.
func (t *table) sectionsAgain(name string) []*table {
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

// checkZoneProbes reports unknown probes of zones and probes in two zones. In a replay an
// unknown probe is a column of the recording, so it is added to the returned probes.
func (f *file) checkZoneProbes(root *table, c Config) []Probe {
	probes := c.Probes
	var names []string
	for _, p := range probes {
		names = append(names, p.Name)
	}
	first := map[string]int{}
	for _, t := range root.sectionsAgain("zone") {
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
				f.add(item.at, t.join("probes"), fmt.Sprintf("%q is in the zone of line %d already; a probe can be in one zone only", item.text, f.line(at)))
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
			if k := spelling.Nearest(item.text, names); k != "" {
				advice = fmt.Sprintf("did you mean %q? Or %s", k, advice)
			}
			f.add(item.at, t.join("probes"), fmt.Sprintf("no probe is named %q; %s", item.text, advice))
		}
	}
	return probes
}

// checkParts reports two probes that read the same part.
func (f *file) checkParts(root *table, probes []Probe) {
	first := map[string]int{}
	for i, t := range root.sectionsAgain("probe") {
		if i >= len(probes) {
			continue
		}
		key, what, part := probes[i].part()
		if part == "" {
			continue
		}
		if at, ok := first[part]; ok {
			t.pollFault(key, "%s is read by the probe of line %d already; two names for one part would never disagree", what, f.line(at))
			continue
		}
		first[part] = t.node.at
	}
}

// part returns an identity of the part that a probe reads, the key that selects it, and its
// description for people. They are empty if several probes may read it.
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
	case p.Topics != nil:
		return "topic", "this value", fmt.Sprintf("%q %q %q", p.Topics.URL, p.Topics.Topic, p.Topics.Temperature)
	}
	return "", "", ""
}
