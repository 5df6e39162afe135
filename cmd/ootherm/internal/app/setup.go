package app

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/app/words"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/thermal/profile"
)

// SetupOptions are a conversation that ends in a configuration.
type SetupOptions struct {
	Config string // the file to write; it must not be there yet
	Last   string // the configuration of the season before, whose dams are carried over; empty: none
	Build  Build
	Places Places
	In     io.Reader
	Out    io.Writer
	Now    func() time.Time
}

// Setup asks a few questions and writes a configuration that a check accepts. It
// never writes over a file.
func Setup(ctx context.Context, o SetupOptions) error {
	if _, err := os.Lstat(o.Config); err == nil {
		return misconfigured{fmt.Errorf("app: %s is there already and stays as it is; name another file with --config", o.Config)}
	}
	t := newTalk(ctx, o.In, o.Out)
	if o.Last != "" {
		return nextSeason(ctx, o, t)
	}
	d, err := interview(ctx, o, t)
	if err != nil {
		return err
	}
	c, err := d.write(o.Config)
	if err != nil {
		return err
	}
	t.say("%s is written.", o.Config)
	if err := Check(o.Out, o.Config); err != nil {
		return err
	}
	if err := tryMessage(ctx, c, t, o.Now()); err != nil {
		return err
	}
	t.say("Next: ootherm run --config %s, and open http://%s", o.Config, c.Station.Listen)
	t.say("Then the dams: ootherm book add --config %s", o.Config)
	t.say(`  {"key":"d1","at":%q,"entry":"dam","dam":"HER NAME","profile":%q}`, o.Now().UTC().Format(time.RFC3339), d.species.Name)
	return nil
}

// draft is what the questions found out.
type draft struct {
	station, data  string
	units          words.Units
	zone, kind     string
	set            string // with its unit; empty: none
	setC           float64
	species        profile.Profile
	probes         []config.Probe
	invented       bool
	host, port     string // of mail; empty: none
	user, password string
	to, heartbeat  string
}

// or asks with an answer that Enter alone gives.
func (t *talk) or(question, usual string) (string, error) {
	answer, err := t.ask(fmt.Sprintf("%s [%s]", question, usual))
	if err == nil && answer == "" {
		answer = usual
	}
	return answer, err
}

// one asks for one of several words.
func (t *talk) one(question string, choices ...string) (string, error) {
	for {
		answer, err := t.or(question+" ("+strings.Join(choices, ", ")+")", choices[0])
		if err != nil || slices.Contains(choices, answer) {
			return answer, err
		}
		if i := slices.IndexFunc(choices, func(c string) bool { return strings.HasPrefix(c, strings.ToLower(answer)) }); i >= 0 {
			return choices[i], nil
		}
		t.say("%q is none of these.", answer)
	}
}

func interview(ctx context.Context, o SetupOptions, t *talk) (*draft, error) {
	d := &draft{}
	t.say("A few questions; Enter takes what stands in brackets. Nothing is written before the last.")
	var units string
	var err error
	ask := func(into *string, how func() (string, error)) {
		if err == nil {
			*into, err = how()
		}
	}
	ask(&units, func() (string, error) { return t.one("Temperatures in", "fahrenheit", "celsius") })
	if units == "fahrenheit" {
		d.units = words.Fahrenheit
	}
	ask(&d.station, func() (string, error) { return t.or("A name for the whole", "egg room") })
	ask(&d.zone, func() (string, error) { return t.or("A name for the place the boxes stand in", "room") })
	ask(&d.kind, func() (string, error) { return t.one("It is a", "room", "shelf", "incubator") })
	if err != nil {
		return nil, err
	}
	if err := d.thermostat(t); err != nil {
		return nil, err
	}
	if d.species, err = kind(t); err != nil {
		return nil, err
	}
	if err := d.choose(ctx, o, t); err != nil {
		return nil, err
	}
	t.say("Alarms show on the page. Mail needs a server that takes yours; Enter for none.")
	if err := d.mail(t); err != nil {
		return nil, err
	}
	ask(&d.heartbeat, func() (string, error) {
		return t.ask("An address to call while all is well, so that a dead station is noticed (Enter: none)")
	})
	ask(&d.data, func() (string, error) { return t.or("A folder for the data", "/var/lib/ootherm") })
	if err != nil {
		return nil, err
	}
	ok, err := t.yes("Write " + o.Config)
	if err == nil && !ok {
		err = unable("nothing was written")
	}
	return d, err
}

// thermostat asks for the set point.
func (d *draft) thermostat(t *talk) error {
	unit := "C"
	if d.units == words.Fahrenheit {
		unit = "F"
	}
	for {
		answer, err := t.ask("Its thermostat is set to, in " + unit + " (Enter: it has none)")
		if err != nil || answer == "" {
			return err
		}
		v, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(strings.ToUpper(answer), unit)), 64)
		c := v
		if unit == "F" {
			c = (v - 32) / 1.8
		}
		if err == nil && c >= 10 && c <= 40 {
			d.set, d.setC = strconv.FormatFloat(v, 'f', -1, 64)+unit, c
			return nil
		}
		r := words.Reader{Units: d.units}
		t.say("%q is no set point between %s and %s; is it the other unit?", answer, r.Temperature(10), r.Temperature(40))
	}
}

// kind asks for the species whose eggs will stand there.
func kind(t *talk) (profile.Profile, error) {
	all, err := profile.Builtin()
	if err != nil {
		return profile.Profile{}, err
	}
	t.say("Species that are built in:")
	for i, p := range all {
		t.say("  %2d %s", i+1, p.Name)
	}
	for {
		answer, err := t.or("Whose eggs will stand there, by number or name", "crested gecko")
		if err != nil {
			return profile.Profile{}, err
		}
		for i, p := range all {
			if p.Name == answer || strconv.Itoa(i+1) == answer {
				return p, nil
			}
		}
		t.say("%q is none of these; another kind is added later as a [[profile]].", answer)
	}
}

// choose scans for probes and asks which to use, and by what names.
func (d *draft) choose(ctx context.Context, o SetupOptions, t *talk) (err error) {
	t.say("Looking for probes ...")
	s, err := scan(ctx, o.Places, nil)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	r := words.Reader{Units: d.units}
	for _, f := range s.Found {
		t.say("%s reads %s", where(f.Probe), outcome(f.Read[len(f.Read)-1], r))
		for {
			name, err := t.or("  its name, by where it hangs (- leaves it out)", f.Name)
			if err != nil {
				return err
			}
			if name == "-" {
				break
			}
			if slices.ContainsFunc(d.probes, func(p config.Probe) bool { return p.Name == name }) {
				t.say("  %q is another's name already.", name)
				continue
			}
			f.Probe.Name = name
			d.probes = append(d.probes, f.Probe)
			break
		}
	}
	if len(d.probes) > 0 {
		return nil
	}
	for _, x := range s.Troubles {
		t.say("%s.\n    %s", capital(x.What), x.Mend)
	}
	if d.invented, err = t.yes("No probe is chosen. Begin with an invented one, to try it all"); err != nil {
		return err
	}
	if !d.invented {
		return unable("nothing was written: a station without a probe watches nothing; see ootherm probes, then run setup again")
	}
	d.probes = append(d.probes, config.Probe{Name: "invented", Driver: "simulated"})
	return nil
}

// mail asks where messages go.
func (d *draft) mail(t *talk) error {
	server, err := t.ask("Mail server, as smtp.example.org or with :port (Enter: no mail)")
	if err != nil || server == "" {
		return err
	}
	if d.host, d.port, err = net.SplitHostPort(server); err != nil {
		d.host, d.port = server, "587"
	}
	if d.to, err = t.ask("  to whom, as keeper@example.org"); err != nil {
		return err
	}
	if d.user, err = t.ask("  the server's user (Enter: it asks for none)"); err != nil || d.user == "" {
		return err
	}
	d.password, err = t.or("  a file that holds the password alone, readable by the station", "/etc/ootherm/mail.password")
	return err
}

// write makes the file, once its text is known to be a configuration.
func (d *draft) write(path string) (config.Config, error) {
	text := d.text()
	c, err := config.Parse(path, []byte(text))
	if err == nil {
		_, err = PlanOf(c)
	}
	if err != nil {
		return config.Config{}, fmt.Errorf("%w\nnothing was written; run setup again and mend these answers", err)
	}
	return c, create(path, text)
}

// create writes a file that must not be there.
func create(path, text string) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return fmt.Errorf("app: the configuration: %w", err)
	}
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o640)
	if err != nil {
		return fmt.Errorf("app: the configuration: %w; run setup as who may write there, or name another file with --config", err)
	}
	_, err = f.WriteString(text)
	if err := errors.Join(err, f.Sync(), f.Close()); err != nil {
		return fmt.Errorf("app: the configuration: %w", err)
	}
	return nil
}

// text is the configuration with its comments.
func (d *draft) text() string {
	var b strings.Builder
	line := func(format string, a ...any) { fmt.Fprintf(&b, format+"\n", a...) }
	units := "celsius"
	if d.units == words.Fahrenheit {
		units = "fahrenheit"
	}
	line("# The station. All that is wrong in this file is told by: ootherm check --config FILE")
	line("[station]")
	line("name   = %s", quote(d.station))
	line("units  = %q     # what people read", units)
	line(`listen = "127.0.0.1:8080" # the page; this machine alone`)
	line("data   = %s", quote(d.data))
	line(`every  = "10s"            # between two polls`)
	if d.heartbeat != "" {
		line("heartbeat = %s # called while all is well", quote(d.heartbeat))
	}
	line("")
	line("# Probes. A name is an identity: it stays when the part is replaced.")
	line(`# offset = "-0.2C" is added to each reading; ootherm calibrate finds it for you.`)
	var names []string
	for _, p := range d.probes {
		b.WriteString(stanza(p) + "\n")
		names = append(names, quote(p.Name))
	}
	line("# Alarms go by the worst probe of a zone, its warmth by their middle.")
	line("[[zone]]")
	line("name   = %s", quote(d.zone))
	line("kind   = %q", d.kind)
	line("probes = [%s]", strings.Join(names, ", "))
	if d.set != "" {
		line("set_point = %q", d.set)
	}
	line("# wanted: outside it a warning. Safe, outside which it is critical, is that of the")
	line("# eggs that stand there unless it is written here.")
	if ends := d.band(d.species.Wanted); ends != "" {
		line(`wanted = { %s, on_delay = "10m", off_delay = "5m" } # usual for %s`, ends, d.species.Name)
	} else {
		line(`# wanted = { low = "72F", high = "76F" }`)
	}
	line("")
	if d.host == "" {
		line("# [[sender]] # where alarms go")
		line(`# name = "mail"`)
		line(`# kind = "email"`)
		line(`# host = "smtp.example.org"`)
		line(`# to   = ["keeper@example.org"]`)
		return b.String()
	}
	line("[[sender]]")
	line(`name = "mail"`)
	line(`kind = "email"`)
	line("host = %s", quote(d.host))
	line("port = %s", d.port)
	line("to   = [%s]", quote(d.to))
	if d.user != "" {
		line("user = %s", quote(d.user))
		line("password_file = %s", quote(d.password))
	}
	if ip := net.ParseIP(d.host); d.host == "localhost" || ip != nil && ip.IsLoopback() {
		line(`tls  = "none" # it is this machine`)
	}
	return b.String()
}

// band is the ends of a band in the reader's unit, to a tenth; empty when it is
// open at both, or when the set point is outside it: then the breeder knows better.
func (d *draft) band(x profile.Band) string {
	if x == (profile.Band{}) || d.set != "" && (d.setC < x.Low || d.setC > x.High) {
		return ""
	}
	var ends []string
	for _, e := range []struct {
		name string
		c    float64
	}{{"low", x.Low}, {"high", x.High}} {
		if math.IsInf(e.c, 0) {
			continue
		}
		v, unit := e.c, "C"
		if d.units == words.Fahrenheit {
			v, unit = e.c*1.8+32, "F"
		}
		ends = append(ends, fmt.Sprintf("%s = %q", e.name, strconv.FormatFloat(math.Round(v*10)/10, 'f', -1, 64)+unit))
	}
	return strings.Join(ends, ", ")
}

// tryMessage offers to send a message by each sender.
func tryMessage(ctx context.Context, c config.Config, t *talk, at time.Time) error {
	if len(c.Senders) == 0 {
		return nil
	}
	plan, err := PlanOf(c)
	if err != nil {
		return err
	}
	ways, err := routes(c, plan, func() time.Time { return at })
	if err != nil {
		return err
	}
	for _, w := range ways {
		ok, err := t.yes("Send a test message by " + w.Name + " now")
		if err != nil || !ok {
			return err
		}
		ctx, cancel := context.WithTimeout(ctx, time.Minute)
		err = w.Sender.Send(ctx, alert.Message{
			ID: "setup/" + strconv.FormatInt(at.Unix(), 10), At: at, Priority: alert.Notice, Sender: w.Name,
			Subject: "A test from " + plan.Name, Body: "Messages from " + plan.Name + " arrive. Nothing is wrong.\n",
		})
		cancel()
		if err != nil {
			return fmt.Errorf("app: the file is written, but the test message did not go out: %w", err)
		}
		t.say("It went out; see that it arrived.")
	}
	return nil
}
