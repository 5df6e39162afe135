package config

import (
	"fmt"
	"net"
	"slices"
	"strconv"
	"time"

	// A machine without a time zone database needs the zones in the program.
	_ "time/tzdata"

	"github.com/pelletier/go-toml/v2/unstable"
)

// stationSection reads [station].
type stationSection struct{ *table }

// read reads the section. All keys are optional.
func (t stationSection) read() Station {
	s := Station{Name: defaultName}
	if t.node.find("name") != nil {
		s.Name = t.name("station")
	}
	t.asked = append(t.asked, "name")
	s.Fahrenheit = t.choice("units", "celsius", "fahrenheit") == "fahrenheit"
	s.Location = t.location("time_zone")
	s.Listen, s.Open = t.listen("listen")
	s.URL = t.address("url")
	if s.Addressed = s.URL != ""; !s.Addressed {
		s.URL = "http://" + s.Listen
	}
	if s.Data = t.text("data"); s.Data == "" {
		s.Data = defaultData
	}
	s.Every = t.between("every", DefaultEvery, minPollInterval, maxPollInterval)
	s.Flush = t.between("flush", defaultFlush, time.Second, maxPollInterval)
	s.Heartbeat = t.heartbeat("heartbeat")
	t.done()
	return s
}

// location reads a time zone. The default is the machine's own.
func (t stationSection) location(name string) *time.Location {
	s := t.text(name)
	if s == "" {
		return time.Local
	}
	l, err := time.LoadLocation(s)
	if err != nil {
		t.fault(name, `%q is not a time zone; write it as "America/New_York" or "UTC"`, s)
		return time.Local
	}
	return l
}

// listen reads host:port and reports whether it reaches beyond this machine. The station
// then requires a passphrase, which is not part of this file.
func (t stationSection) listen(name string) (listen string, open bool) {
	s := t.text(name)
	if s == "" {
		return defaultListen, false
	}
	host, port, err := net.SplitHostPort(s)
	if err != nil {
		t.fault(name, "%q is not host:port; write %q", s, defaultListen)
		return defaultListen, false
	}
	if _, err := strconv.ParseUint(port, 10, 16); err != nil {
		t.fault(name, "%q is not a port; write 1..65535, or 0 for any free port", port)
	}
	return s, !loopback(host)
}

// heartbeat reads an address alone, or a section with an address and an interval.
func (t stationSection) heartbeat(name string) *Heartbeat {
	n := t.get(name)
	if n == nil {
		return nil
	}
	if n.kind == unstable.String {
		return &Heartbeat{URL: t.address(name), Every: defaultHeartbeat}
	}
	s := t.section(name, `the address in quotes, or { url = "https://...", every = "5m" }`)
	if s == nil {
		return nil
	}
	if s.node.find("url") == nil {
		s.missing("url", "say which address to call")
	}
	h := &Heartbeat{URL: s.address("url"), Every: s.between("every", defaultHeartbeat, time.Second, 24*time.Hour)}
	s.done()
	return h
}

// zoneSection reads a [[zone]].
type zoneSection struct{ *table }

// read reads the section.
func (t zoneSection) read() Zone {
	z := Zone{Name: t.name("zone"), Kind: t.choice("kind", "room", "shelf", "incubator")}
	z.Probes = t.texts("probes")
	if len(z.Probes) == 0 && t.node.find("probes") == nil {
		t.missing("probes", `say which probes are in it: probes = ["..."]`)
	} else if n := t.node.find("probes"); n != nil && n.node.kind == unstable.Array && len(n.node.items) == 0 {
		t.fault("probes", "is empty: nothing would watch the zone; name a probe or remove the zone")
	}
	z.SetPoint = t.celsius("set_point")
	z.Wanted, z.Safe = temperatureBands(t.table, true)
	z.Humidity = humidityBands.bySpell(t.table, "humidity")
	z.Rate, z.Apart = t.kelvins("rate", defaultRate), t.kelvins("apart", defaultApart)
	for key, v := range map[string]float64{"rate": z.Rate, "apart": z.Apart} {
		if v <= 0 {
			t.fault(key, "must be above 0; it is the smallest value that raises an alarm")
		}
	}
	z.Single, z.Total = t.dose("single_event"), t.dose("cumulative")
	if w := z.Wanted; w != nil && z.SetPoint != nil {
		if w.Low != nil && *z.SetPoint < *w.Low-roundingError || w.High != nil && *z.SetPoint > *w.High+roundingError {
			t.fault("set_point", "is outside the zone's wanted band: its alarm would never end; move one of the two")
		}
	}
	t.done()
	return z
}

// dose reads the time that a zone may spend past a limit.
func (t zoneSection) dose(name string) *Dose {
	s := t.section(name, `a limit and a time: { high = "30C", for = "10h" }`)
	if s == nil {
		return nil
	}
	d := &Dose{Low: s.celsius("low"), High: s.celsius("high"), For: s.between("for", time.Hour, time.Minute, maxSpan)}
	if s.node.find("low") == nil && s.node.find("high") == nil {
		s.missing("", "write low, high or both")
	}
	if s.node.find("for") == nil {
		s.missing("for", `say how long: for = "1h"`)
	}
	if d.Low != nil && d.High != nil && *d.Low >= *d.High {
		s.fault("low", "is not below high; exchange the two")
	}
	s.done()
	return d
}

// roundingError is the largest error of a conversion between the two scales.
const roundingError = 1e-9

// Bounds of a reference. The longest incubation of a reptile is over a year (from memory).
const (
	minReferenceDays, maxReferenceDays       = 5, 1000
	minReferenceCelsius, maxReferenceCelsius = 5, 45
)

// profileSection reads a [[profile]].
type profileSection struct{ *table }

// read reads the section.
func (t profileSection) read() Profile {
	p := Profile{Name: t.name("profile"), Species: t.text("species"), Order: t.text("order"), Family: t.text("family")}
	p.Usual, p.Lower, p.Upper = t.celsius("usual"), t.celsius("lower"), t.celsius("upper")
	for _, s := range t.sections("reference") {
		p.References = append(p.References, referenceSection{s}.read())
	}
	p.Base = t.celsius("base")
	p.DegreeDays = t.number("degree_days", "a number of Celsius days without a unit", 1, 100_000)
	if t.node.find("model") != nil {
		p.Model = t.choice("model", "degree-days", "curve")
	}
	t.asked = append(t.asked, "model")
	p.Wanted, p.Safe = temperatureBands(t.table, false)
	p.EggG = t.eggMass("egg_g")
	p.SexByTemperature, p.ArrestedDevelopment = t.boolean("sex_by_temperature"), t.boolean("arrested_development")
	line, base := t.node.find("degree_days") != nil, t.node.find("base") != nil
	switch {
	case line && !base:
		t.missing("base", `degree_days are counted above a base: base = "15C"`)
	case base && !line:
		t.missing("degree_days", "base needs the sum above it: degree_days = 800")
	case !line && t.node.find("reference") == nil && t.node.find("family") == nil:
		t.missing("", "a profile needs a reference, a family, or base and degree_days")
	}
	if p.Base != nil && p.Usual != nil && *p.Base >= *p.Usual {
		t.fault("base", "is not below usual: nothing would develop there")
	}
	if p.Lower != nil && (p.Usual != nil && *p.Lower > *p.Usual || p.Upper != nil && *p.Lower >= *p.Upper) {
		t.fault("lower", "is above usual or upper; colder than it a window is wider")
	}
	if p.Upper != nil && (p.Usual != nil && *p.Upper < *p.Usual || p.Base != nil && *p.Upper <= *p.Base) {
		t.fault("upper", "is below usual or base; above it no more heat is counted")
	}
	t.done()
	return p
}

// eggMass reads the range of an egg's mass from laying to hatch, in grams.
func (t profileSection) eggMass(name string) EggMass {
	const how = "both ends in grams without a unit: egg_g = { low = 1.0, high = 3.0 }"
	s := t.section(name, how)
	if s == nil {
		return EggMass{}
	}
	ends := map[string]*float64{}
	for _, end := range []string{"low", "high"} {
		if s.node.find(end) == nil {
			s.missing(end, "give %s", how)
		}
		ends[end] = s.number(end, "a number of grams without a unit", 0.05, 1000)
	}
	s.done()
	low, high := ends["low"], ends["high"]
	if low == nil || high == nil {
		return EggMass{}
	}
	if *low >= *high {
		t.fault(name, "its low is not below its high; give %s", how)
	}
	return EggMass{*low, *high}
}

// referenceSection reads a [[profile.reference]], a known duration of incubation.
type referenceSection struct{ *table }

// read reads the section.
func (t referenceSection) read() Reference {
	var r Reference
	if v := t.number("celsius", "a number of degrees Celsius without a unit", minReferenceCelsius, maxReferenceCelsius); v != nil {
		r.Celsius = *v
	} else if t.node.find("celsius") == nil {
		t.missing("celsius", "say at which temperature: celsius = 23.3")
	}
	if v := t.number("days", "a number of days without a unit", minReferenceDays, maxReferenceDays); v != nil {
		r.Days = *v
	} else if t.node.find("days") == nil {
		t.missing("days", "say how long it took: days = 100")
	}
	if v := t.number("daily_range", "a number of degrees Celsius, the day's warmest less its coolest", 0, maxReferenceCelsius-minReferenceCelsius); v != nil {
		r.DailyRange = *v
	}
	r.SDDays = t.number("sd_days", "a number of days without a unit", 0, maxReferenceDays)
	r.N = t.integer("n", "the number of eggs", 1, 1_000_000)
	r.Study, r.Source, r.Practice = t.text("study"), t.text("source"), t.boolean("practice")
	t.done()
	return r
}

// kind reads the name of a variant, which decides the other keys.
func (t *table) kind(name string, known []Variant) string {
	s := t.text(name)
	var names []string
	for _, v := range known {
		names = append(names, v.Name)
	}
	switch {
	case s == "" && t.node.find(name) == nil:
		t.missing(name, "write one of %s", list(names))
	case s != "" && !slices.Contains(names, s):
		t.fault(name, "%q is not known; %s", s, suggestion(s, names))
		return ""
	}
	return s
}

// otherVariantKeys returns advice for keys that belong to other variants than the chosen.
func otherVariantKeys(known []Variant, chosen string) map[string]string {
	advice := map[string]string{}
	for _, v := range known {
		for _, k := range v.Keys {
			switch {
			case v.Name == chosen:
			case advice[k] == "":
				advice[k] = fmt.Sprintf("%s belongs to %s", k, v.Name)
			default:
				advice[k] += ", " + v.Name
			}
		}
	}
	return advice
}

// keysOf returns the keys of all variants.
func keysOf(known []Variant) []string {
	var all []string
	for _, v := range known {
		all = append(all, v.Keys...)
	}
	return all
}
