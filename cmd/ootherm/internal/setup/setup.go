// Package setup is the dialogue that writes a configuration: places, probes, senders,
// passphrase, or the next season's file. It writes all of it or nothing. It must not know
// how a station runs.
package setup

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/check"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/daemon"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/cmd/ootherm/internal/probes"
	"example.com/ootherm/cmd/ootherm/internal/prompt"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/sensor/catalog"
	"example.com/ootherm/sensor/inventory"
	"example.com/ootherm/thermal/profile"
	"golang.org/x/sys/unix"
)

// Options are a conversation that ends in a configuration.
type Options struct {
	Config string // the file to write; it must not be there yet
	Last   string // the configuration of the season before, whose dams are carried over; empty: none
	Build  daemon.Build
	Places inventory.Places
	In     io.Reader
	Out    io.Writer
	Now    func() time.Time

	data  string                                   // the data folder that is offered; empty: /var/lib/ootherm
	reach func() (name string, addresses []string) // how other machines find this one; nil: as it is
}

// Run asks a few questions and writes a configuration that a check accepts. It
// never writes over a file.
func Run(ctx context.Context, o Options) error {
	if _, err := os.Lstat(o.Config); err == nil {
		return usererr.Usage(fmt.Errorf("%s is there already and stays as it is; name another file with --config", o.Config))
	}
	if err := writable(filepath.Dir(o.Config)); err != nil {
		return usererr.Usage(fmt.Errorf("this user may not write in %s: run setup with sudo, or name another file with --config: %w", filepath.Dir(o.Config), err))
	}
	t := &dialog{prompt.New(ctx, o.In, o.Out)}
	if o.Last != "" {
		return nextSeason(ctx, o, t)
	}
	d, err := interview(ctx, o, t)
	if err != nil {
		return err
	}
	c, undo, err := d.write(o.Config)
	if err != nil {
		return err
	}
	if d.passphrase != "" {
		if err := daemon.SetPassphrase(o.Config, d.passphrase); err != nil {
			return fmt.Errorf("the passphrase cannot be set: %w; nothing was written", errors.Join(err, undo()))
		}
	}
	t.Say("%s is written.", o.Config)
	if d.passphrase != "" {
		t.Say("The passphrase is set.")
	}
	if err := check.Configuration(o.Out, o.Config); err != nil {
		return err
	}
	failed := tryMessages(ctx, c, o, t)
	if errors.Is(failed, prompt.ErrNoAnswer) {
		failed = usererr.New(fmt.Sprintf("%s is written, but not every test message was offered; send them with: ootherm check --config %s --send NAME", o.Config, o.Config))
	}
	t.Say("Next: %s", startWith(o.Config))
	if err := d.door(t); err != nil {
		return err
	}
	t.Say("Then the dams: on the page under Note something else, or ootherm book add --config %s", o.Config)
	t.Say(`  {"key":"d1","at":%q,"entry":"dam","dam":"HER NAME","profile":%q}`, o.Now().UTC().Format(time.RFC3339), d.species.Name)
	return failed
}

// startWith is how a station with this configuration is started: the packaged
// service reads one file.
func startWith(file string) string {
	if file == packaged {
		return "sudo systemctl enable --now ootherm"
	}
	return "ootherm run --config " + file
}

// packaged is the configuration that the packaged service reads.
const packaged = "/etc/ootherm/ootherm.toml"

// draft is what the questions found out.
type draft struct {
	station, data string
	units         words.Units
	zone, kind    string
	set           string // with its unit; empty: none
	setC          float64
	species       profile.Profile
	probes        []catalog.Settings
	invented      bool
	ways          []way
	heartbeat     string
	listen, url   string   // of the page; an empty url is none
	addresses     []string // of this machine, as others reach it
	passphrase    string   // to be set; empty: none, or one is set already
}

// or asks with an answer that Enter alone gives.
func (t *dialog) or(question, usual string) (string, error) {
	answer, err := t.Ask(fmt.Sprintf("%s [%s]", question, usual))
	if err == nil && answer == "" {
		answer = usual
	}
	return answer, err
}

// one asks for one of several words.
func (t *dialog) one(question string, choices ...string) (string, error) {
	for {
		answer, err := t.or(question+" ("+strings.Join(choices, ", ")+")", choices[0])
		if err != nil || slices.Contains(choices, answer) {
			return answer, err
		}
		if i := slices.IndexFunc(choices, func(c string) bool { return strings.HasPrefix(c, strings.ToLower(answer)) }); i >= 0 {
			return choices[i], nil
		}
		t.Say("%q is none of these.", answer)
	}
}

// called asks for the name of a station, zone or probe, until it is one.
func (t *dialog) called(question, usual, section string) (string, error) {
	header := "[[" + section + "]]\n"
	if section == "station" {
		header = "[station]\n"
	}
	for {
		answer, err := t.or(question, usual)
		if err != nil || answer == "-" || !t.wrong(header+"name = "+config.Quote(answer)+"\n", section, "name") {
			return answer, err
		}
	}
}

// blocked is the file that a folder would have to be, or be made, below; empty where
// none is.
func blocked(path string) string {
	for ; path != filepath.Dir(path); path = filepath.Dir(path) {
		if info, err := os.Stat(path); err == nil && !info.IsDir() {
			return path
		}
	}
	return ""
}

// folder asks for a folder that can be made and is the same wherever it is read
// from: the station runs elsewhere than setup, and no shell reads the file.
func (t *dialog) folder(question, usual string) (string, error) {
	for {
		answer, err := t.or(question, usual)
		switch {
		case err != nil:
			return "", err
		case !filepath.IsAbs(answer):
			t.Say("%q depends on where it is read; write the whole path, as /var/lib/ootherm.", answer)
		case blocked(answer) != "":
			t.Say("%s is a file, and no folder; name another.", blocked(answer))
		case writable(answer) != nil:
			t.Say("This user may not write in %s; name another, or run setup with sudo.", answer)
		default:
			return answer, nil
		}
	}
}

func interview(ctx context.Context, o Options, t *dialog) (*draft, error) {
	d := &draft{}
	t.Say("A few questions; Enter takes what stands in brackets. Nothing is written before the last.")
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
	ask(&d.station, func() (string, error) { return t.called("A name for the whole", "egg room", "station") })
	ask(&d.zone, func() (string, error) { return t.called("A name for the place the boxes stand in", "room", "zone") })
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
	if err := d.senders(t, o.Config); err != nil {
		return nil, err
	}
	ask(&d.heartbeat, func() (string, error) {
		return t.fit("An address to call while all is well, so that a dead station is noticed (Enter: none)", "heartbeat")
	})
	ask(&d.data, func() (string, error) { return t.folder("A folder for the data", cmp.Or(o.data, "/var/lib/ootherm")) })
	if err != nil {
		return nil, err
	}
	if err := d.page(t, o); err != nil {
		return nil, err
	}
	ok, err := t.Yes("Write " + o.Config)
	if err == nil && !ok {
		err = usererr.New("nothing was written")
	}
	return d, err
}

// thermostat asks for the set point.
func (d *draft) thermostat(t *dialog) error {
	unit := "C"
	if d.units == words.Fahrenheit {
		unit = "F"
	}
	for {
		answer, err := t.Ask("Its thermostat is set to, in " + unit + " (Enter: it has none)")
		if err != nil || answer == "" {
			return err
		}
		v, err := prompt.Degrees(answer, unit)
		c := v
		if unit == "F" {
			c = (v - 32) / 1.8
		}
		if err == nil && c >= 10 && c <= 40 {
			d.set, d.setC = strconv.FormatFloat(v, 'f', -1, 64)+unit, c
			return nil
		}
		r := words.Reader{Units: d.units}
		t.Say("%q is no set point between %s and %s; is it the other unit?", answer, r.Temperature(10), r.Temperature(40))
	}
}

// kind asks for the species whose eggs will stand there.
func kind(t *dialog) (profile.Profile, error) {
	all, err := profile.Builtin()
	if err != nil {
		return profile.Profile{}, err
	}
	t.Say("Species that are built in:")
	for i, p := range all {
		t.Say("  %2d %s", i+1, p.Name)
	}
	for {
		answer, err := t.or("Whose eggs will stand there, by number or name", "crested gecko")
		if err != nil {
			return profile.Profile{}, err
		}
		for i, p := range all {
			if strings.EqualFold(p.Name, answer) || strconv.Itoa(i+1) == answer {
				return p, nil
			}
		}
		t.Say("%q is none of these; another kind is added later as a [[profile]].", answer)
	}
}

// choose scans for probes and asks which to use, and by what names.
func (d *draft) choose(ctx context.Context, o Options, t *dialog) (err error) {
	t.Say("Looking for probes ...")
	s, err := inventory.Take(ctx, o.Places, nil)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	r := words.Reader{Units: d.units}
	for _, f := range s.Found {
		t.Say("%s reads %s", probes.Where(f.Settings), probes.Outcome(f.Read[len(f.Read)-1], r))
		for {
			name, err := t.called("  its name, by where it hangs (- leaves it out)", f.Name, "probe")
			if err != nil {
				return err
			}
			if name == "-" {
				break
			}
			if slices.ContainsFunc(d.probes, func(p catalog.Settings) bool { return p.Name == name }) {
				t.Say("  %q is another's name already.", name)
				continue
			}
			f.Settings.Name = name
			d.probes = append(d.probes, f.Settings)
			break
		}
	}
	if len(d.probes) > 0 {
		return nil
	}
	for _, x := range s.Troubles {
		t.Say("%s.\n    %s", words.Capital(x.What), x.Mend)
	}
	if d.invented, err = t.Yes("No probe is chosen. Begin with an invented one, to try it all"); err != nil {
		return err
	}
	if !d.invented {
		return usererr.New("nothing was written: a station without a probe watches nothing; see ootherm probes, then run setup again")
	}
	d.probes = append(d.probes, catalog.Settings{Name: "invented", Driver: "simulated"})
	return nil
}

// write makes the file, once its text is known to be a configuration, after the
// files of its secrets. What it made undo takes away again; where one cannot be made
// none is left.
func (d *draft) write(path string) (c config.Config, undo func() error, err error) {
	text := d.text()
	c, err = config.Parse(path, []byte(text), probeconfig.Drivers())
	if err == nil {
		_, err = plan.FromConfig(c)
	}
	if err != nil {
		return config.Config{}, nil, fmt.Errorf("%w\nnothing was written; run setup again and mend these answers", err)
	}
	var made []string
	undo = func() (err error) {
		for _, path := range made {
			err = errors.Join(err, os.Remove(path))
		}
		return err
	}
	for _, w := range d.ways {
		if w.secret == "" || err != nil {
			continue
		}
		if w.empty {
			err = os.Remove(w.file)
		}
		if err == nil {
			err = create(w.file, w.secret+"\n", 0o600)
		}
		if err == nil {
			made = append(made, w.file)
		}
	}
	if err == nil {
		err = create(path, text, 0o640)
	}
	if err != nil {
		return config.Config{}, nil, fmt.Errorf("%w; nothing was written", errors.Join(err, undo()))
	}
	made = append(made, path)
	return c, undo, nil
}

// create writes a file that must not be there, and whole: it has its name once all of
// it is on the card. Where root makes it, it is made so that the packaged service can
// read it: a secret belongs to the service's user, anything else to its group.
func create(path, text string, mode fs.FileMode) error {
	dir := filepath.Dir(path)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	f, err := os.CreateTemp(dir, ".part-")
	if err != nil {
		return err
	}
	_, err = f.WriteString(text)
	err = errors.Join(err, f.Chmod(mode))
	if uid, gid, ok := daemon.ServiceUser(); ok {
		if mode&0o040 != 0 {
			uid = 0
		}
		err = errors.Join(err, f.Chown(uid, gid))
	}
	err = errors.Join(err, f.Sync(), f.Close())
	if err == nil {
		err = os.Link(f.Name(), path) // unlike a renaming it takes nothing's place
	}
	if err := errors.Join(err, os.Remove(f.Name())); err != nil {
		return fmt.Errorf("%s cannot be written: %w", path, err)
	}
	return nil
}

// writable is why a folder, or the one that it would be made in, may not be written.
func writable(path string) error {
	err := unix.Access(path, unix.W_OK)
	for errors.Is(err, unix.ENOENT) && path != filepath.Dir(path) {
		path = filepath.Dir(path)
		err = unix.Access(path, unix.W_OK)
	}
	return err
}
