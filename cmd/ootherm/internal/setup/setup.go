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
	"example.com/ootherm/cmd/ootherm/internal/permission"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/cmd/ootherm/internal/probes"
	"example.com/ootherm/cmd/ootherm/internal/prompt"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/sensor/catalog"
	"example.com/ootherm/sensor/inventory"
	"example.com/ootherm/thermal/profile"
)

// Options say which configuration to write, and where to ask and look.
type Options struct {
	Config string // the file to write; it must not be there yet
	Last   string // the configuration of the season before, whose dams are carried over; empty: none
	Build  daemon.Build
	Places inventory.Places
	In     io.Reader
	Out    io.Writer
	Now    func() time.Time

	data         string                                   // the data folder that is offered; empty: /var/lib/ootherm
	networkNames func() (name string, addresses []string) // for tests; nil: those of this machine
}

// Run asks a few questions and writes a configuration that check accepts. It does not write
// over a file.
func Run(ctx context.Context, o Options) error {
	if _, err := os.Lstat(o.Config); err == nil {
		return usererr.Usage(fmt.Errorf("%s is there already and stays as it is; to answer the questions again, move it away first: mv %s %s.old", o.Config, o.Config, o.Config))
	}
	if err := writeError(filepath.Dir(o.Config)); err != nil {
		return usererr.Usage(fmt.Errorf("this user may not write in %s: run setup with sudo, or name another file with --config: %w", filepath.Dir(o.Config), err))
	}
	t := &dialog{prompt.New(ctx, o.In, o.Out)}
	if o.Last != "" {
		return nextSeason(ctx, o, t)
	}
	if config.OutsideService(o.Config) {
		t.Say("This writes %s. The packaged service reads %s alone: sudo ootherm setup writes that one.", o.Config, config.PackagedPath)
	}
	w, err := interview(ctx, o, t)
	if err != nil {
		return err
	}
	c, undo, err := w.write(o.Config)
	if err != nil {
		return err
	}
	if w.passphrase != "" {
		if err := daemon.SetPassphrase(o.Config, w.passphrase); err != nil {
			return fmt.Errorf("the passphrase cannot be set: %w; nothing was written", errors.Join(err, undo()))
		}
	}
	t.Say("%s is written.", o.Config)
	if w.passphrase != "" {
		t.Say("The passphrase is set.")
	}
	if err := check.Configuration(o.Out, o.Config); err != nil {
		return err
	}
	failed := tryMessages(ctx, c, o, t)
	if errors.Is(failed, prompt.ErrNoAnswer) {
		failed = usererr.New(fmt.Sprintf("%s is written, but not every test message was offered; send them with: ootherm check%s --send NAME", o.Config, config.Flag(o.Config)))
	}
	t.Say("Next: %s", startCommand(o.Config))
	if err := w.showAddress(t); err != nil {
		return err
	}
	t.Say("Then the dams: on the page under Note something else, or ootherm book add%s", config.Flag(o.Config))
	t.Say(`  {"key":"d1","at":%q,"entry":"dam","dam":"HER NAME","profile":%q}`, o.Now().UTC().Format(time.RFC3339), w.species.Name)
	return failed
}

// startCommand gives the command that starts a station with this configuration. The
// packaged service starts with its own file alone.
func startCommand(file string) string {
	if file == config.PackagedPath {
		return "sudo systemctl enable --now ootherm"
	}
	return "ootherm run" + config.Flag(file)
}

// wizard holds the answers so far.
type wizard struct {
	station, data   string
	units           words.Units
	zone, zoneKind  string
	setPoint        string // with its unit; empty: none
	setPointCelsius float64
	species         profile.Profile
	probes          []catalog.Settings
	senders         []senderDraft
	heartbeat       string
	listen, url     string   // of the page; an empty url is none
	addresses       []string // URLs of the page by the addresses of this machine
	passphrase      string   // to be set; empty: none, or one is set already
}

// interview asks all questions. It writes nothing.
func interview(ctx context.Context, o Options, t *dialog) (*wizard, error) {
	w := &wizard{}
	t.Say("A few questions; Enter takes what stands in brackets. Nothing is written before the last.")
	var units string
	var err error
	ask := func(into *string, question func() (string, error)) {
		if err == nil {
			*into, err = question()
		}
	}
	ask(&units, func() (string, error) { return t.askChoice("Temperatures in", "fahrenheit", "celsius") })
	if units == "fahrenheit" {
		w.units = words.Fahrenheit
	}
	ask(&w.station, func() (string, error) { return t.askName("A name for the whole", "egg room", "station") })
	ask(&w.zone, func() (string, error) { return t.askName("A name for the place the boxes stand in", "room", "zone") })
	ask(&w.zoneKind, func() (string, error) { return t.askChoice("It is a", "room", "shelf", "incubator") })
	if err != nil {
		return nil, err
	}
	if err := w.askSetPoint(t); err != nil {
		return nil, err
	}
	if w.species, err = askSpecies(t); err != nil {
		return nil, err
	}
	if err := w.chooseProbes(ctx, o, t); err != nil {
		return nil, err
	}
	if err := w.askSenders(t, o.Config); err != nil {
		return nil, err
	}
	ask(&w.heartbeat, func() (string, error) {
		return t.askStationValue("An address to call while all is well, so that a dead station is noticed (Enter: none)", "heartbeat")
	})
	ask(&w.data, func() (string, error) {
		return t.askFolder("A folder for the data", cmp.Or(o.data, "/var/lib/ootherm"))
	})
	if err != nil {
		return nil, err
	}
	if err := w.askPage(t, o); err != nil {
		return nil, err
	}
	ok, err := t.Yes("Write " + o.Config)
	if err == nil && !ok {
		err = usererr.New("nothing was written")
	}
	return w, err
}

// askSetPoint asks for the thermostat's set point.
func (w *wizard) askSetPoint(t *dialog) error {
	unit := "C"
	if w.units == words.Fahrenheit {
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
			w.setPoint, w.setPointCelsius = strconv.FormatFloat(v, 'f', -1, 64)+unit, c
			return nil
		}
		r := words.Reader{Units: w.units}
		t.Say("%q is no set point between %s and %s; is it the other unit?", answer, r.Temperature(10), r.Temperature(40))
	}
}

// askSpecies asks for the species whose eggs will stand there.
func askSpecies(t *dialog) (profile.Profile, error) {
	all, err := profile.Builtin()
	if err != nil {
		return profile.Profile{}, err
	}
	t.Say("Species that are built in:")
	for i, p := range all {
		t.Say("  %2d %s", i+1, p.Name)
	}
	for {
		answer, err := t.askOr("Whose eggs will stand there, by number or name", "crested gecko")
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

// chooseProbes scans for probes, and asks which to use and how to name them. Where none is
// chosen, it offers an invented one.
func (w *wizard) chooseProbes(ctx context.Context, o Options, t *dialog) (err error) {
	t.Say("Looking for probes ...")
	s, err := inventory.Take(ctx, o.Places, nil)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	r := words.Reader{Units: w.units}
	for _, f := range s.Found {
		t.Say("%s reads %s", probes.Where(f.Settings), probes.Outcome(f.Read[len(f.Read)-1], r))
		for {
			name, err := t.askName("  its name, by where it hangs (- leaves it out)", f.Name, "probe")
			if err != nil {
				return err
			}
			if name == "-" {
				break
			}
			if slices.ContainsFunc(w.probes, func(p catalog.Settings) bool { return p.Name == name }) {
				t.Say("  %q is another's name already.", name)
				continue
			}
			f.Settings.Name = name
			w.probes = append(w.probes, f.Settings)
			break
		}
	}
	if len(w.probes) > 0 {
		return nil
	}
	for _, x := range s.Troubles {
		t.Say("%s.\n    %s", words.Capital(x.What), x.Mend)
	}
	invented, err := t.Yes("No probe is chosen. Begin with an invented one, to try it all")
	if err != nil {
		return err
	}
	if !invented {
		return usererr.New("nothing was written: a station without a probe watches nothing; see ootherm probes, then run setup again")
	}
	w.probes = append(w.probes, catalog.Settings{Name: "invented", Driver: "simulated"})
	return nil
}

// write creates the files of the secrets and then the configuration, once its text is
// known to be valid. Where one cannot be created, it leaves none. undo removes the files
// that it created.
func (w *wizard) write(path string) (c config.Config, undo func() error, err error) {
	text := w.text()
	c, err = config.Parse(path, []byte(text), probeconfig.Drivers())
	if err == nil {
		_, err = plan.FromConfig(c)
	}
	if err != nil {
		return config.Config{}, nil, fmt.Errorf("%w\nnothing was written; run setup again and mend these answers", err)
	}
	var created []string
	undo = func() (err error) {
		for _, path := range created {
			err = errors.Join(err, os.Remove(path))
		}
		return err
	}
	for _, s := range w.senders {
		if s.secret == "" || err != nil {
			continue
		}
		if s.fileIsEmpty {
			err = os.Remove(s.file)
		}
		if err == nil {
			err = createFile(s.file, s.secret+"\n", 0o600)
		}
		if err == nil {
			created = append(created, s.file)
		}
	}
	if err == nil {
		err = createFile(path, text, 0o640)
	}
	if err != nil {
		return config.Config{}, nil, fmt.Errorf("%w; nothing was written", errors.Join(err, undo()))
	}
	created = append(created, path)
	return c, undo, nil
}

// createFile writes a file that does not exist yet. The file gets its name once all of it
// is on the card. Where root creates it, the packaged service can read it: a secret
// belongs to the service's user, any other file to its group.
func createFile(path, text string, mode fs.FileMode) error {
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
	if uid, gid, ok := permission.ServiceUser(); ok {
		if mode&0o040 != 0 {
			uid = 0
		}
		err = errors.Join(err, f.Chown(uid, gid))
	}
	err = errors.Join(err, f.Sync(), f.Close())
	if err == nil {
		err = os.Link(f.Name(), path) // unlike a rename, it replaces no file
	}
	if err := errors.Join(err, os.Remove(f.Name())); err != nil {
		return fmt.Errorf("%s cannot be written: %w", path, err)
	}
	return nil
}
