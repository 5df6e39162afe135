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
	"sync"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/check"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/configpath"
	"example.com/ootherm/cmd/ootherm/internal/daemon"
	"example.com/ootherm/cmd/ootherm/internal/permission"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/cmd/ootherm/internal/prompt"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/sensor/catalog"
	"example.com/ootherm/sensor/inventory"
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
	Sudo   string // the user who called setup with sudo; empty: none

	data         string                                   // the data folder that is offered; empty: /var/lib/ootherm
	networkNames func() (name string, addresses []string) // for tests; nil: those of this machine
}

// Run asks a few questions and writes a configuration that check accepts. It does not write
// over a file.
func Run(ctx context.Context, o Options) error {
	switch info, err := os.Lstat(o.Config); {
	case err != nil: // there is none, or writing tells why not
	case info.IsDir():
		return usererr.Usage(fmt.Errorf("%s is a folder; name the file of the configuration, like %s", o.Config, filepath.Join(o.Config, "ootherm.toml")))
	default:
		return usererr.Usage(fmt.Errorf("%s is there already and stays as it is; to answer the questions again, move it away first: %smv %s %s.old", o.Config, configpath.Sudo(o.Config), o.Config, o.Config))
	}
	if err := writeError(filepath.Dir(o.Config)); err != nil {
		return usererr.Usage(fmt.Errorf("this user may not write in %s: run setup with sudo, or name another file with --config: %w", filepath.Dir(o.Config), err))
	}
	t := &dialog{prompt.New(ctx, o.In, o.Out)}
	if o.Last != "" {
		return nextSeason(ctx, o, t)
	}
	if configpath.OutsideService(o.Config) {
		t.Say("This writes %s. The packaged service reads %s alone: sudo ootherm setup writes that one.", o.Config, configpath.Packaged)
	}
	var w *wizard
	scan := sync.OnceValues(func() (scanned, error) { return scanProbes(ctx, o.Places) })
	err := t.WithBack(func() (err error) {
		w, err = interview(o, t, scan)
		return err
	})
	if errors.Is(err, prompt.ErrStopped) {
		return usererr.New("setup stopped; nothing was changed")
	}
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
	if errors.Is(failed, prompt.ErrNoAnswer) || errors.Is(failed, prompt.ErrStopped) {
		failed = usererr.New(fmt.Sprintf("%s is written, but not every test message was offered; send them with: ootherm check%s --send NAME", o.Config, configpath.Flag(o.Config)))
	}
	if err := w.noteFirstEggs(ctx, o, t); err != nil {
		failed = errors.Join(failed, err)
	}
	t.Say("%s", startStation(ctx, o.Config, w.data))
	if hint := groupHint(o.Sudo, o.Config); hint != "" {
		t.Say("%s", hint)
	}
	if err := w.showAddress(t); err != nil {
		return err
	}
	if w.eggs.dam == "" {
		t.Say("Then the first dam, box and eggs: on the page, or")
		t.Say("  ootherm book note dam%s --name HER-NAME --profile %q", configpath.Flag(o.Config), w.places[0].species.Name)
	}
	return failed
}

// groupHint says how the user who called setup with sudo may use the commands without it.
// It is empty where the packaged service does not read this file.
func groupHint(sudo, file string) string {
	if sudo == "" || sudo == "root" || file != configpath.Packaged {
		return ""
	}
	return "To use ootherm without sudo, from your next login on: sudo adduser " + sudo + " ootherm"
}

// wizard holds the answers so far.
type wizard struct {
	station, data string
	units         words.Units
	places        []place
	probes        []catalog.Settings
	hub           hub
	readings      map[string]float64 // of the probes that gave a value, by name, Celsius
	eggs          firstEggs
	senders       []senderDraft
	heartbeat     string
	listen, url   string   // of the page; an empty url is none
	addresses     []string // URLs of the page by the addresses of this machine
	passphrase    string   // to be set; empty: none, or one is set already
}

// interview asks all questions. It writes nothing.
func interview(o Options, t *dialog, scan func() (scanned, error)) (*wizard, error) {
	w := &wizard{readings: map[string]float64{}}
	t.Say("A few questions. Enter takes what stands in brackets; < goes back to the question before.")
	t.Say("Nothing is written before the last.")
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
	ask(&w.station, func() (string, error) { return t.askName("A name for this station", "egg room", "station") })
	if err != nil {
		return nil, err
	}
	if err := w.askPlaces(t); err != nil {
		return nil, err
	}
	if err := w.chooseProbes(t, scan, o.Config); err != nil {
		return nil, err
	}
	if err := w.askSenders(t, o.Config); err != nil {
		return nil, err
	}
	ask(&w.heartbeat, func() (string, error) {
		t.Say("A station that is dead sends no alarm. A monitoring service notices it: the station calls")
		t.Say("the web address that the service gives you, and the service writes when the calls stop.")
		return t.askStationValue("An address to call while all is well, as https://monitor.example.org/your-key (Enter: none)", "heartbeat")
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
	if err := w.askFirstEggs(t, o.Now()); err != nil {
		return nil, err
	}
	w.showAnswers(t)
	ok, err := t.YesUnlessRefused("Write " + o.Config)
	for err == nil && !ok {
		var discard bool
		if discard, err = t.Yes("Discard all these answers"); discard {
			return w, usererr.New("nothing was written")
		}
		ok = err == nil
	}
	return w, err
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
		return config.Config{}, nil, fmt.Errorf("%w\nnothing was written; run setup again and change these answers", err)
	}
	var created []string
	undo = func() (err error) {
		for _, path := range created {
			err = errors.Join(err, os.Remove(path))
		}
		return err
	}
	secrets := []secretFile{w.hub.secret}
	for _, s := range w.senders {
		secrets = append(secrets, s.secret)
	}
	for _, s := range secrets {
		if s.text == "" || err != nil {
			continue
		}
		if s.isEmpty {
			err = os.Remove(s.path)
		}
		if err == nil {
			err = createFile(s.path, s.text+"\n", 0o600)
		}
		if err == nil {
			created = append(created, s.path)
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
