package config

import (
	"errors"
	"fmt"
	"strings"
	"testing"
)

// Each key in turn has a wrong value. The parser reports one fault, with that key and its
// line.
func TestEveryKeyWrong(t *testing.T) {
	const probe, zone, profile = `name = "more"` + "\n" + `driver = "simulated"`, `name = "more"` + "\n" + `probes = ["p"]`, `name = "more"` + "\n" + `family = "F"`
	const mail = `name = "more"
kind = "email"
host = "h.example.org"
to = ["a@example.org"]`
	const hook = `name = "more"
kind = "webhook"
url = "https://h.example.org/"`
	const radio = `name = "more"` + "\n" + `driver = "mqtt"` + "\n" + `url = "mqtt://hub"` + "\n" + `topic = "hub/shelf"`
	const line = `name = "more"
base = "15C"
degree_days = 800`
	const known = `reference = [{ celsius = 23.3, days = 100, `
	for _, c := range []struct{ section, base, line, key, why string }{
		{"[station]", "", `name = ""`, "station.name", "is empty"},
		{"[station]", "", `name = " a"`, "station.name", "spaces at an end"},
		{"[station]", "", `name = 5`, "station.name", "the bare number 5"},
		{"[station]", "", `units = "Fahrenheit"`, "station.units", `did you mean "fahrenheit"?`},
		{"[station]", "", `time_zone = "Moon/Base"`, "station.time_zone", `write it as "America/New_York"`},
		{"[station]", "", `listen = "8080"`, "station.listen", "is not host:port"},
		{"[station]", "", `listen = "127.0.0.1:x"`, "station.listen", "is not a port"},
		{"[station]", "", `listen = "127.0.0.1:70000"`, "station.listen", "is not a port"},
		{"[station]", "", `url = "eggroom.local"`, "station.url", "write it whole"},
		{"[station]", "", `data = true`, "station.data", "is true; write it in quotes"},
		{"[station]", "", `every = "10"`, "station.every", "has no unit"},
		{"[station]", "", `every = 10`, "station.every", "has no unit"},
		{"[station]", "", `every = "1ms"`, "station.every", "write 100ms to 1h"},
		{"[station]", "", `every = "-5s"`, "station.every", "is negative"},
		{"[station]", "", `every = "soon"`, "station.every", "not a span of time"},
		{"[station]", "", `flush = "2h"`, "station.flush", "write 1s to 1h"},
		{"[station]", "", `heartbeat = "x"`, "station.heartbeat", "write it whole"},
		{"[station]", "", `heartbeat = 5`, "station.heartbeat", "the address in quotes"},
		{"[station]", "", `heartbeat = { every = "5m" }`, "station.heartbeat.url", "is missing"},
		{"[station]", "", `heartbeat = { url = "https://h.example.org", evry = "5m" }`, "station.heartbeat.evry", `did you mean "every"?`},
		{"[station]", "", `polls = 3`, "station.polls", "is not known here"},

		{"[[sender]]", "name = \"more\"\nkind = \"lamp\"", `output = "GPIO28"`, "sender.output", `"GPIO28" is not an output of the board; write GPIO0 to GPIO27`},
		{"[[sender]]", "name = \"more\"\nkind = \"buzzer\"", `output = "GPIO-1"`, "sender.output", "is not an output of the board"},
		{"[[sender]]", "name = \"more\"\nkind = \"buzzer\"", `output = "pin 11"`, "sender.output", "is not an output of the board"},
		{"[[sender]]", "name = \"more\"\nkind = \"buzzer\"", `output = 17`, "sender.output", "in quotes"},
		{"[[sender]]", "name = \"one\"\nkind = \"lamp\"\noutput = \"GPIO4\"\n[[sender]]\nname = \"more\"\nkind = \"buzzer\"", `output = "GPIO04"`, "sender.output", `GPIO4 is taken by the sender "one"`},

		{"[[probe]]", `driver = "simulated"`, `# no name`, "probe.name", "give the probe one"},
		{"[[probe]]", `driver = "simulated"`, `name = "p"`, "probe.name", "give one of them another"},
		{"[[probe]]", `name = "more"`, `driver = "bme208"`, "probe.driver", `did you mean "bme280"?`},
		{"[[probe]]", `name = "more"`, `# none`, "probe.driver", "write one of"},
		{"[[probe]]", `name = "more"`, `driver = "sht4x"`, "probe.bus", `bus = "/dev/i2c-1"`},
		{"[[probe]]", `name = "more"`, `driver = "ds18b20"`, "probe.address", "needs address"},
		{"[[probe]]", "name = \"more\"\ndriver = \"ds18b20\"", `address = 0x48`, "probe.address", "is on I2C"},
		{"[[probe]]", "name = \"more\"\ndriver = \"sht4x\"\nbus = \"/dev/i2c-1\"", `address = 0x77`, "probe.address", "at one of 0x44 to 0x46"},
		{"[[probe]]", "name = \"more\"\ndriver = \"aht20\"\nbus = \"/dev/i2c-1\"", `address = "28-0123456789ab"`, "probe.address", "is always at 0x38"},
		{"[[probe]]", "name = \"one\"\ndriver = \"hwmon\"\ndevice = \"sht4x\"\n[[probe]]\nname = \"more\"\ndriver = \"hwmon\"", `device = "sht4x"`, "probe.device", `"sht4x" is read by the probe of line`},
		{"[[probe]]", "name = \"one\"\ndriver = \"iio\"\npath = \"/d\"\n[[probe]]\nname = \"more\"\ndriver = \"iio\"", `path = "/d"`, "probe.path", "would never disagree"},
		{"[[probe]]", "name = \"one\"\ndriver = \"scrape\"\nurl = \"http://h/m\"\ntemperature = \"t\"\nlabels = { a = \"1\", b = \"2\" }\n[[probe]]\nname = \"more\"\ndriver = \"scrape\"\ntemperature = \"t\"\nlabels = { b = \"2\", a = \"1\" }", `url = "http://h/m"`, "probe.url", "this metric is read by the probe of line"},
		{"[[probe]]", `name = "more"`, `driver = "scrape"`, "probe.url", "needs url"},
		{"[[probe]]", "name = \"more\"\ndriver = \"scrape\"", `url = "http://pi.local/metrics"`, "probe.temperature", "say which metric"},
		{"[[probe]]", "name = \"more\"\ndriver = \"scrape\"\nurl = \"http://pi.local/metrics\"\ntemperature = \"t\"", `max_age = "0s"`, "probe.max_age", "write 1s to"},
		{"[[probe]]", "name = \"more\"\ndriver = \"scrape\"\nurl = \"http://pi.local/metrics\"\ntemperature = \"t\"", `labels = "x"`, "probe.labels", "a section"},
		{"[[probe]]", `name = "more"`, `driver = "mqtt"`, "probe.url", "needs url"},
		{"[[probe]]", "name = \"more\"\ndriver = \"mqtt\"", `url = "mqtt://hub"`, "probe.topic", "under which topic"},
		{"[[probe]]", "name = \"more\"\ndriver = \"mqtt\"\ntopic = \"t\"", `url = "http://hub"`, "probe.url", "is not a broker's address"},
		{"[[probe]]", radio, `bus = "hub"`, "probe.bus", "share the connection"},
		{"[[probe]]", radio, `humidity_topic = "hub/+"`, "probe.humidity_topic", "a wildcard"},
		{"[[probe]]", radio, `humidity = "rh"`, "probe.temperature", "name the field of the temperature too"},
		{"[[probe]]", radio, `time = "at"`, "probe.time", "a plain number has none"},
		{"[[probe]]", radio, `user = "keeper"`, "probe.password_file", "a user has a password"},
		{"[[probe]]", radio, `password_file = "/p"`, "probe.user", "a password belongs to a user"},
		{"[[probe]]", radio, `ca_file = "/p"`, "probe.ca_file", "mqtts://"},
		{"[[probe]]", radio, `labels = { a = "b" }`, "probe.labels", "labels belongs to scrape"},
		{"[[probe]]", "name = \"one\"\ndriver = \"mqtt\"\nurl = \"mqtt://hub\"\ntopic = \"t\"\n[[probe]]\nname = \"more\"\ndriver = \"mqtt\"\nurl = \"mqtt://hub\"", `topic = "t"`, "probe.topic", "this value is read by the probe of line"},
		{"[[probe]]", `name = "more"`, `driver = "hwmon"`, "probe.path", "needs path or device"},
		{"[[probe]]", `name = "more"`, `driver = "iio"`, "probe.path", "needs path or device"},
		{"[[probe]]", `name = "more"`, `driver = "recording"`, "probe.file", "needs file"},
		{"[[probe]]", probe, `offset = "-0.2"`, "probe.offset", `write "-0.2F" or "-0.2C"`},
		{"[[probe]]", probe, `offset = "40F"`, "probe.offset", "replace it"},
		{"[[probe]]", probe, `place = ["a"]`, "probe.place", "a list"},
		{"[[probe]]", probe, `silent_after = "0s"`, "probe.silent_after", "write 1s to"},
		{"[[probe]]", probe, `address = 0x76`, "probe.address", "belongs to"},
		{"[[probe]]", probe, `celsius = "24C"`, "probe.celsius", "without a unit"},
		{"[[probe]]", probe, `swing = -1`, "probe.swing", "is outside 0..100"},
		{"[[probe]]", probe, `noise = nan`, "probe.noise", "is outside"},
		{"[[probe]]", probe, `humidity = 0.5`, "probe.humidity", `write it as "45%"`},
		{"[[probe]]", "name = \"more\"\ndriver = \"bme280\"\nbus = \"b\"", `address = 0x80`, "probe.address", "outside 0x08..0x77"},
		{"[[probe]]", "name = \"more\"\ndriver = \"bme280\"\nbus = \"b\"", `address = "28-01"`, "probe.address", "write 0x76"},
		{"[[probe]]", "name = \"more\"\ndriver = \"bme280\"\nbus = \"b\"", `file = "x"`, "probe.file", "belongs to recording"},
		{"[[probe]]", "name = \"more\"\ndriver = \"bme280\"\nbus = \"/dev/i2c-1\"", `address = 0x76`, "probe.address", "two names for one part"},

		{"[[zone]]", `name = "more"`, `# no probes`, "zone.probes", "say which probes are in it"},
		{"[[zone]]", `name = "more"`, `probes = []`, "zone.probes", "nothing would watch the zone"},
		{"[[zone]]", `name = "more"`, `probes = "p"`, "zone.probes", "write a list"},
		{"[[zone]]", `name = "more"`, `probes = ["q", 5]`, "zone.probes", "the bare number 5 in it"},
		{"[[zone]]", `name = "more"`, `probes = ["q", "q"]`, "zone.probes", "twice"},
		{"[[zone]]", `name = "more"`, `probes = ["qq"]`, "zone.probes", `did you mean "q"?`},
		{"[[zone]]", `name = "more"`, `probes = ["cellar"]`, "zone.probes", "add a [[probe]]"},
		{"[[zone]]", `name = "more"`, `probes = ["taken"]`, "zone.probes", "a probe can be in one zone only"},
		{"[[zone]]", zone, `kind = "incubatr"`, "zone.kind", `did you mean "incubator"?`},
		{"[[zone]]", zone, `set_point = "74"`, "zone.set_point", `write "74F" or "74C"`},
		{"[[zone]]", zone, `set_point = "74C"`, "zone.set_point", "is it the other unit?"},
		{"[[zone]]", zone, `set_point = "23,3C"`, "zone.set_point", "write a decimal point"},
		{"[[zone]]", zone, `set_point = "nanC"`, "zone.set_point", "is not a number with a unit"},
		{"[[zone]]", zone, `set_point = "300K"`, "zone.set_point", "the unit is F or C"},
		{"[[zone]]", zone + "\nwanted = { low = \"72F\" }", `set_point = "70F"`, "zone.set_point", "outside the zone's wanted band"},
		{"[[zone]]", zone, `wanted = "72F"`, "zone.wanted", "{ low = ..., high = ... }"},
		{"[[zone]]", zone, `wanted = {}`, "zone.wanted", "write low, high or both"},
		{"[[zone]]", zone, `wanted = { low = "76F", high = "72F" }`, "zone.wanted.low", "exchange the two"},
		{"[[zone]]", zone, `wanted = { low = "72F", high = "72F" }`, "zone.wanted.low", "is not below high"},
		{"[[zone]]", zone, `wanted = { low = "72F", high = "73F", deadband = "1F" }`, "zone.wanted.deadband", "narrow it"},
		{"[[zone]]", zone, `wanted = { low = "72F", deadband = "-1F" }`, "zone.wanted.deadband", "is negative"},
		{"[[zone]]", zone, `wanted = { low = "72F", deadband = 1 }`, "zone.wanted.deadband", "has no unit"},
		{"[[zone]]", zone, `wanted = { low = "72F", on_delay = 10 }`, "zone.wanted.on_delay", "has no unit"},
		{"[[zone]]", zone, `wanted = { low = "72F", off_delay = "1y" }`, "zone.wanted.off_delay", "not a span of time"},
		{"[[zone]]", zone, `wanted = { lo = "72F", high = "80F" }`, "zone.wanted.lo", `did you mean "low"?`},
		{"[[zone]]", zone + "\nsafe = { low = \"68F\", high = \"80F\" }", `wanted = { low = "60F" }`, "zone.wanted", "below the low of safe"},
		{"[[zone]]", zone + "\nsafe = { low = \"68F\", high = \"80F\" }", `wanted = { high = "90F" }`, "zone.wanted", "above the high of safe"},
		{"[[zone]]", zone, `humidity = { low = 45 }`, "zone.humidity.low", `write it as "45%"`},
		{"[[zone]]", zone, `humidity = { low = "45" }`, "zone.humidity.low", `write "45%"`},
		{"[[zone]]", zone, `humidity = { low = "45F" }`, "zone.humidity.low", "in percent"},
		{"[[zone]]", zone, `humidity = { high = "101%" }`, "zone.humidity.high", "outside 0..100"},
		{"[[zone]]", zone, `humidity = { high = "70%", deadband = "2" }`, "zone.humidity.deadband", `write "2%"`},

		{"[[profile]]", `name = "more"`, `species = "S"`, "profile", "needs a reference, a family, or base"},
		{"[[profile]]", `name = "more"`, `base = "15C"`, "profile.degree_days", "is missing"},
		{"[[profile]]", `name = "more"`, `degree_days = 800`, "profile.base", "is missing"},
		{"[[profile]]", profile, `usual = 23.3`, "profile.usual", "has no unit"},
		{"[[profile]]", profile, `upper = "90C"`, "profile.upper", "is it the other unit?"},
		{"[[profile]]", profile + "\nusual = \"28C\"", `upper = "27C"`, "profile.upper", "is below usual or base"},
		{"[[profile]]", profile + "\nusual = \"28C\"", `lower = "29C"`, "profile.lower", "is above usual or upper"},
		{"[[profile]]", profile, `egg_g = { low = 3, high = 1 }`, "profile.egg_g", "not below its high"},
		{"[[profile]]", profile, `egg_g = { low = 3 }`, "profile.egg_g.high", "egg_g = {"},
		{"[[profile]]", profile, `egg_g = "3 g"`, "profile.egg_g", "egg_g = {"},
		{"[[profile]]", profile, `egg_g = { low = "3g", high = 5 }`, "profile.egg_g.low", "without a unit"},
		{"[[profile]]", profile, `model = "line"`, "profile.model", "one of degree-days, curve"},
		{"[[profile]]", profile, `familly = "F"`, "profile.familly", `did you mean "family"?`},
		{"[[profile]]", line, `usual = "14C"`, "profile.base", "nothing would develop there"},
		{"[[profile]]", profile + "\nbase = \"15C\"", `degree_days = "800"`, "profile.degree_days", "without a unit"},
		{"[[profile]]", profile + "\nbase = \"15C\"", `degree_days = 0`, "profile.degree_days", "is outside 1.."},
		{"[[profile]]", profile, `reference = [{ days = 100 }]`, "profile.reference.celsius", "at which temperature"},
		{"[[profile]]", profile, `reference = [{ celsius = 23.3 }]`, "profile.reference.days", "how long it took"},
		{"[[profile]]", profile, `reference = [{ celsius = 74, days = 100 }]`, "profile.reference.celsius", "is outside 5..45"},
		{"[[profile]]", profile, `reference = [{ celsius = 23.3, days = "100d" }]`, "profile.reference.days", "without a unit"},
		{"[[profile]]", profile, `reference = [5]`, "profile.reference", "a list: reference ="},
		{"[[profile]]", profile, known + `daily_range = -1 }]`, "profile.reference.daily_range", "is outside"},
		{"[[profile]]", profile, known + `sd_days = "3" }]`, "profile.reference.sd_days", "without a unit"},
		{"[[profile]]", profile, known + `n = 2.5 }]`, "profile.reference.n", "the number of eggs"},
		{"[[profile]]", profile, known + `n = 0 }]`, "profile.reference.n", "is outside 1.."},
		{"[[profile]]", profile, known + `study = 5 }]`, "profile.reference.study", "in quotes"},
		{"[[profile]]", profile, known + `source = true }]`, "profile.reference.source", "in quotes"},
		{"[[profile]]", profile, known + `practice = "yes" }]`, "profile.reference.practice", "true or false"},
		{"[[profile]]", profile, known + `sd = 5 }]`, "profile.reference.sd", "is not known here"},

		{"[[sender]]", mail, `after = 15`, "sender.after", "has no unit"},
		{"[[sender]]", mail, `priorities = ["urgent"]`, "sender.priorities", "known are critical, warning, notice"},
		{"[[sender]]", mail, `port = "587"`, "sender.port", "often 587"},
		{"[[sender]]", mail, `port = 0`, "sender.port", "is outside 1..65535"},
		{"[[sender]]", mail, `user = "keeper"`, "sender.password_file", "name the file"},
		{"[[sender]]", mail, `password_file = "/p"`, "sender.user", "name the user"},
		{"[[sender]]", mail, `password = "secret"`, "sender.password", "name that file with password_file"},
		{"[[sender]]", mail, `from = "keeper"`, "sender.from", "is not a mail address"},
		{"[[sender]]", mail, `tls = "none"`, "sender.tls", "in the clear"},
		{"[[sender]]", mail, `tls = "ssl"`, "sender.tls", "one of starttls, tls, none"},
		{"[[sender]]", mail, `url = "https://x.example.org"`, "sender.url", "belongs to webhook"},
		{"[[sender]]", "name = \"more\"\nkind = \"email\"\nhost = \"h\"", `to = ["keeper"]`, "sender.to", "is not a mail address"},
		{"[[sender]]", "name = \"more\"\nkind = \"email\"\nhost = \"h\"", `to = []`, "sender.to", "say who reads it"},
		{"[[sender]]", "name = \"more\"\nkind = \"email\"\nto = [\"a@example.org\"]", `# no host`, "sender.host", "which server"},
		{"[[sender]]", `name = "more"`, `kind = "pigeon"`, "sender.kind", "known are email, webhook"},
		{"[[sender]]", `name = "more"`, `kind = "webhook"`, "sender.url", "say where to post"},
		{"[[sender]]", hook, `headers = "x"`, "sender.headers", "a section"},
		{"[[sender]]", hook, `headers = { X = 5 }`, "sender.headers.X", "in quotes"},
		{"[[sender]]", hook, `to = ["a@example.org"]`, "sender.to", "belongs to email"},
		{"[[senders]]", "", `name = "more"`, "senders", `did you mean "sender"?`},
	} {
		t.Run(c.section+" "+c.line, func(t *testing.T) {
			data := `[[probe]]
name = "p"
driver = "simulated"
[[probe]]
name = "q"
driver = "simulated"
[[probe]]
name = "taken"
driver = "bme280"
bus = "/dev/i2c-1"
[[zone]]
name = "first"
probes = ["taken"]
`
			head := strings.Count(data, "\n") + 1
			data += c.section + "\n" + c.base + "\n" + c.line + "\n"
			_, err := Parse("e", []byte(data), drivers())
			var faults Faults
			if !errors.As(err, &faults) {
				t.Fatalf("accepted; Parse = %v", err)
			}
			for _, f := range faults {
				if f.Key != c.key || !strings.Contains(f.Why, c.why) {
					t.Errorf("reported: %v; want %s: ... %s", f, c.key, c.why)
				}
				if f.Line < head {
					t.Errorf("%v: the fault is from line %d on", f, head)
				}
			}
			if len(faults) != 1 {
				t.Errorf("%d faults for one mistake", len(faults))
			}
		})
	}
}

// These values are accepted, and those at the end are not.
func TestAcceptedValues(t *testing.T) {
	for s, want := range map[string]float64{"74F": 23.3333, "74 F": 23.3333, "74°F": 23.3333, "23.3C": 23.3, "23.3 °c": 23.3, "-0.5C": -0.5, "+20C": 20} {
		if got, err := Celsius(s); err != nil || got < want-1e-3 || got > want+1e-3 {
			t.Errorf("Celsius(%q) = %v, %v; want %v", s, got, err, want)
		}
	}
	for s, want := range map[string]float64{"0.5F": 0.27778, "-0.2C": -0.2, "0C": 0, "9F": 5} {
		if got, err := kelvins(s); err != nil || got < want-1e-4 || got > want+1e-4 {
			t.Errorf("kelvins(%q) = %v, %v; want %v", s, got, err, want)
		}
	}
	for s, want := range map[string]string{"10s": "10s", "2d12h": "60h0m0s", "1.5d": "36h0m0s", "1d": "24h0m0s", "0s": "0s", "0": "0s", "90m": "1h30m0s"} {
		if got, err := span(s); err != nil || fmt.Sprint(got) != want {
			t.Errorf("span(%q) = %v, %v; want %s", s, got, err, want)
		}
	}
	for s, want := range map[string]float64{"45%": 0.45, "2 %": 0.02, "0%": 0, "100%": 1} {
		if got, err := ratio(s); err != nil || got != want {
			t.Errorf("ratio(%q) = %v, %v; want %v", s, got, err, want)
		}
	}
	for _, s := range []string{"", "d", "1d-5h", "1d2d", "1000d", "999999d", "9999999999h", "1e9d", "٣d"} {
		if got, err := span(s); err == nil {
			t.Errorf("span(%q) = %v, accepted", s, got)
		}
	}
	for _, s := range []string{"", "F", "C", "--5C", "0x10C", "1e1C", "InfC", "1.C", "5 % C", "11111111111111111111111C"} {
		if got, err := Celsius(s); err == nil {
			t.Errorf("Celsius(%q) = %v, accepted", s, got)
		}
	}
}

// All ways to write a table give the same configuration.
func TestTableNotations(t *testing.T) {
	const head = "[[probe]]\nname = \"p\"\ndriver = \"simulated\"\n[[zone]]\nname = \"z\"\nprobes = [\"p\"]\n"
	for name, data := range map[string]string{
		"inline":  head + `wanted = { low = "20C", high = "24C" }`,
		"section": head + "[zone.wanted]\nlow = \"20C\"\nhigh = \"24C\"",
		"dotted":  head + "wanted.low = \"20C\"\nwanted.high = \"24C\"",
	} {
		c, err := Parse("e", []byte(data), drivers())
		if err != nil || *c.Zones[0].Wanted.Low != 20 || *c.Zones[0].Wanted.High != 24 {
			t.Errorf("%s: %+v, %v", name, c, err)
		}
	}
}

// FuzzParse checks that the parser does not panic, that no value comes beside an error, and
// that every fault has a place in the file and a text.
func FuzzParse(f *testing.F) {
	f.Add([]byte(whole(f)))
	f.Add([]byte("[station]\nevery = 10s\nlisten = \":80\"\n"))
	f.Add([]byte("[[zone]]\nwanted = { low = 72F, high = \"76\" }\n[zone]\n= 5"))
	f.Add([]byte("a.b.c = [1, {d = 2}]\n[a]\n[[a.b]]\n"))
	known := drivers()
	f.Fuzz(func(t *testing.T, data []byte) {
		for _, parse := range []func(string, []byte, []Variant) (Config, error){Parse, ParseReplay} {
			c, err := parse("f", data, known)
			if err != nil {
				wantFaults(t, data, c, err)
			} else if c.Station.Location == nil || c.Station.Every <= 0 {
				t.Errorf("a value without its default: %+v", c.Station)
			}
		}
	})
}

// wantFaults checks that an error consists of faults in the file and comes without values.
func wantFaults(t *testing.T, data []byte, c Config, err error) {
	var faults Faults
	if !errors.As(err, &faults) || len(faults) == 0 {
		t.Fatalf("an error without faults: %v", err)
	}
	if c.Station.Location != nil || c.Probes != nil || c.Zones != nil {
		t.Errorf("a value beside an error: %+v", c)
	}
	lines := strings.Count(string(data), "\n") + 1
	for _, fault := range faults {
		if fault.Line < 1 || fault.Line > lines || fault.Column < 1 || fault.Why == "" {
			t.Errorf("%+v is not in the %d lines of the file", fault, lines)
		}
	}
}
