// Package restore puts a station's data back after a loss: from a backup of its records, a
// copy of its book, or the data folder of another card. It owns how a source is recognised
// and what is told of it. It must not know how a file is stored or an entry is kept.
package restore

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/atomicfile"
	"example.com/ootherm/cmd/ootherm/internal/client"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/configpath"
	"example.com/ootherm/cmd/ootherm/internal/daemon"
	"example.com/ootherm/cmd/ootherm/internal/permission"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/cmd/ootherm/internal/storage"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// Options say what to restore, and for which station.
type Options struct {
	Config string // path of the station's configuration
	Source string // a file or a folder
	Build  daemon.Build
	Out    io.Writer // one line for each thing that was found or done
}

// secrets are the files of a data folder, beside the two stores, that a card's folder
// brings along: the page's passphrase (hashed) and the calendar's address.
var secrets = []string{"passphrase", "calendar-secret"}

// Run restores the data of a station from a source. Files that it replaces are kept under
// another name. A damaged source changes nothing.
func Run(ctx context.Context, o Options) error {
	c, err := config.Load(o.Config, probeconfig.Drivers())
	if err != nil {
		return err
	}
	info, err := os.Stat(o.Source)
	if err != nil {
		return fmt.Errorf("the source: %w", err)
	}
	if running, err := client.DialRunning(ctx, o.Config); err != nil || running == nil {
		if err := errors.Join(err, daemon.RefuseMoved(c.Station.Data)); err != nil {
			return err
		}
	}
	r := &restoration{Options: o, config: c}
	switch {
	case info.IsDir():
		err = r.folder(ctx)
	case !info.Mode().IsRegular():
		err = usererr.Usage(fmt.Errorf("%s is neither a file nor a folder", o.Source))
	default:
		err = r.file(ctx)
	}
	if err != nil {
		return err
	}
	return errors.Join(r.tellBook(ctx), r.tellNext(ctx))
}

// restoration is one run.
type restoration struct {
	Options
	config config.Config
}

func (r *restoration) say(format string, a ...any) {
	fmt.Fprintf(r.Out, format+"\n", a...)
}

// file restores from a file: a backup of the records, or a copy of the book.
func (r *restoration) file(ctx context.Context) error {
	f, err := os.Open(r.Source)
	if err != nil {
		return fmt.Errorf("the source: %w", err)
	}
	defer f.Close()
	first := make([]byte, 1)
	switch _, err := io.ReadFull(f, first); {
	case errors.Is(err, io.EOF):
		return usererr.Usage(fmt.Errorf("%s is empty", r.Source))
	case err != nil:
		return fmt.Errorf("the source: %w", err)
	case first[0] == '{':
		return r.bookCopy(ctx)
	}
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return err
	}
	kept, err := storage.Restore(ctx, r.config.Station.Data, []storage.Replacement{{Name: storage.RecordsName, Content: f}}, storage.Options{})
	if err != nil {
		return r.explain(err)
	}
	r.say("Found a backup of the records. The book, the alarms and the windows are back; the readings are not in it.")
	r.tellKept(kept)
	return nil
}

// explain adds what to do about an error of the stores.
func (r *restoration) explain(err error) error {
	if errors.Is(err, storage.ErrBusy) {
		return usererr.Reword(err, fmt.Sprintf("another ootherm is running on %s; stop it first: sudo systemctl stop ootherm", r.config.Station.Data))
	}
	return err
}

// bookCopy adds the entries of a copy of the book that the book does not hold yet. It works
// beside a running station too.
func (r *restoration) bookCopy(ctx context.Context) (err error) {
	lines, err := os.ReadFile(r.Source)
	if err != nil {
		return fmt.Errorf("the source: %w", err)
	}
	c, err := client.DialBook(ctx, r.Config, r.Build)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, c.Close()) }()
	report, err := c.Add(ctx, lines, r.Source)
	if err != nil {
		return err
	}
	r.say("Found a copy of the book. %s. Alarms, windows and readings are not in it.", words.Capital(report))
	return nil
}

// folder restores from the data folder of another card.
func (r *restoration) folder(ctx context.Context) error {
	from, err := r.find()
	if err != nil {
		return err
	}
	if same, err := sameFolder(from, r.config.Station.Data); err != nil || same {
		return errors.Join(err, usererr.Usage(fmt.Errorf("%s is the station's own data folder; name the folder of the old card", from)))
	}
	r.say("Found a data folder: %s.", from)
	names := []string{storage.RecordsName}
	for _, name := range append([]string{storage.RecordsName, storage.ReadingsName}, secrets...) {
		// A link of another card names a file of this machine.
		if info, err := os.Lstat(filepath.Join(from, name)); err == nil && !info.Mode().IsRegular() {
			return usererr.Usage(fmt.Errorf("%s is not a file of the old card", filepath.Join(from, name)))
		}
	}
	switch err := storage.Sound(ctx, storage.ReadingsName, filepath.Join(from, storage.ReadingsName)); {
	case err == nil:
		names = append(names, storage.ReadingsName)
	case errors.Is(err, fs.ErrNotExist):
		r.say("It has no readings. The time before counts as not measured.")
	case errors.Is(err, storage.ErrBusy):
		return fmt.Errorf("a station is running in %s: stop it first: %w", from, err)
	default:
		r.say("Its readings are left out, because they cannot be read: %v. The time before counts as not measured.", err)
	}
	var all []storage.Replacement
	for _, name := range names {
		f, err := os.Open(filepath.Join(from, name))
		if err != nil {
			return err
		}
		defer f.Close()
		all = append(all, storage.Replacement{Name: name, Content: f})
	}
	kept, err := storage.Restore(ctx, r.config.Station.Data, all, storage.Options{})
	if err != nil {
		return r.explain(err)
	}
	if len(names) > 1 {
		r.say("The book, the alarms, the windows and the readings are back.")
	} else {
		r.say("The book, the alarms and the windows are back.")
	}
	r.tellKept(kept)
	return r.secrets(from)
}

// find looks for a data folder in the folder that was named: in it, and where the
// configuration and the package keep the data of a whole card.
func (r *restoration) find() (string, error) {
	var looked []string
	for _, in := range []string{"", r.config.Station.Data, "/var/lib/ootherm"} {
		dir := filepath.Join(r.Source, in)
		if _, err := os.Stat(filepath.Join(dir, storage.RecordsName)); err == nil {
			return dir, nil
		} else if !errors.Is(err, fs.ErrNotExist) {
			return "", err
		}
		if !slices.Contains(looked, dir) {
			looked = append(looked, dir)
		}
	}
	return "", usererr.Usage(fmt.Errorf("there is no %s in %s: name a backup, a copy of the book, or the data folder of the old card", storage.RecordsName, words.List(looked)))
}

// sameFolder reports whether two paths are one folder.
func sameFolder(a, b string) (bool, error) {
	x, err := os.Stat(a)
	if err != nil {
		return false, err
	}
	y, err := os.Stat(b)
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	return os.SameFile(x, y), err
}

// secrets copies the small files of another card that this one does not have.
func (r *restoration) secrets(from string) error {
	for _, name := range secrets {
		to := filepath.Join(r.config.Station.Data, name)
		content, err := os.ReadFile(filepath.Join(from, name))
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return err
		}
		if _, err := os.Stat(to); err == nil {
			r.say("This card has a %s of its own, and keeps it.", name)
			continue
		}
		if err := errors.Join(atomicfile.WriteBytes(to, content), permission.Give(to)); err != nil {
			return err
		}
		r.say("The %s is back.", name)
	}
	return nil
}

func (r *restoration) tellKept(kept []string) {
	for _, name := range kept {
		r.say("What was there is kept as %s.", name)
	}
}

// tellNext says how to start a station that does not run.
func (r *restoration) tellNext(ctx context.Context) error {
	running, err := client.DialRunning(ctx, r.Config)
	if err != nil || running != nil {
		return err
	}
	needs, err := daemon.NeedsPassphrase(r.config)
	if needs {
		r.say("The page is open to the network, and its passphrase is not in what was restored. Without one the station does not start.")
		r.say("Next: %s", daemon.PassphraseCommand(r.Config))
		r.say("Then: %s", configpath.StartCommand(r.Config))
		return err
	}
	r.say("Next: %s", configpath.StartCommand(r.Config))
	return err
}

// tellBook says what the book holds now, and what of it the configuration does not have.
func (r *restoration) tellBook(ctx context.Context) error {
	b, err := client.BookOf(ctx, r.Config, r.Build)
	if err != nil {
		return fmt.Errorf("the data is restored; reading it: %w", err)
	}
	if b.Len() == 0 {
		r.say("The book is empty.")
		return nil
	}
	eggs, used := 0, 0
	for _, c := range b.Clutches() {
		eggs += len(c.Eggs)
	}
	var unknown []string
	for _, x := range b.Boxes() {
		if !x.InUse {
			continue
		}
		used++
		if !slices.ContainsFunc(r.config.Zones, func(z config.Zone) bool { return z.Name == x.Zone }) {
			unknown = append(unknown, fmt.Sprintf("box %s stands in zone %q", x.ID, x.Zone))
		}
		if x.Probe != "" && !slices.ContainsFunc(r.config.Probes, func(p config.Probe) bool { return p.Name == x.Probe }) {
			unknown = append(unknown, fmt.Sprintf("box %s has the probe %q", x.ID, x.Probe))
		}
	}
	r.say("The book: %s with %s, %s, %s in use.", words.Count(len(b.Clutches()), "clutch", "clutches"), words.Count(eggs, "egg", "eggs"),
		words.Count(len(b.Dams()), "dam", "dams"), words.Count(used, "box", "boxes"))
	if len(unknown) > 0 {
		r.say("The configuration has no such zone or probe: %s. Give zones and probes the names that they had, or note where the boxes stand now.", strings.Join(unknown, "; "))
	}
	return nil
}
