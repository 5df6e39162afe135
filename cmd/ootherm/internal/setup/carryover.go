package setup

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/client"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/configpath"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
)

// nextSeason writes the configuration of a new season: the last one's with another data
// folder. The new book begins with the dams that are not retired and with the probes'
// calibrations.
func nextSeason(ctx context.Context, o Options, t *dialog) error {
	text, err := os.ReadFile(o.Last)
	if err != nil {
		return fmt.Errorf("the last season: %w", err)
	}
	last, err := config.Load(o.Last, probeconfig.Drivers())
	if err != nil {
		return err
	}
	data, err := t.askFolder("A new folder for the new season's data", seasonFolder(last.Station.Data, o.Now()))
	if err != nil {
		return err
	}
	if files, err := os.ReadDir(data); err == nil && len(files) > 0 || filepath.Clean(data) == filepath.Clean(last.Station.Data) {
		return usererr.Usage(fmt.Errorf("%s is not empty; a season begins in a folder of its own, so that the last one stays whole", data))
	}
	next, err := withDataFolder(string(text), data)
	if err != nil {
		return err
	}
	old, err := client.BookOf(ctx, o.Last, o.Build)
	if err != nil {
		return err
	}
	lines, dams, err := carriedEntries(old, last, o.Now().UTC().Truncate(time.Second))
	if err != nil {
		return err
	}
	if err := createFile(o.Config, next, 0o640); err != nil {
		return err
	}
	if err := noteEntries(ctx, o, lines); err != nil {
		return fmt.Errorf("%w; nothing was written", errors.Join(err, os.Remove(o.Config), emptyFolder(data)))
	}
	t.Say("%s is written; its book begins with %d dams: %s.", o.Config, len(dams), words.List(dams))
	t.Say("The last season stays as it is in %s. Stop its station, then: %s", last.Station.Data, configpath.StartCommand(o.Config))
	return nil
}

// seasonFolder proposes a folder for the data of the season to come: a folder named by
// its year, inside the first season's folder, since the packaged service may write
// nowhere else. From July on the season to come is the next year's (our choice).
func seasonFolder(last string, now time.Time) string {
	base, year := filepath.Clean(last), now.Year()
	if now.Month() >= time.July {
		year++
	}
	if of, err := strconv.Atoi(filepath.Base(base)); err == nil && of > 2000 && of < 10000 {
		base, year = filepath.Dir(base), max(year, of+1)
	}
	return filepath.Join(base, strconv.Itoa(year))
}

// noteEntries notes the first entries of the new season's book.
func noteEntries(ctx context.Context, o Options, lines []byte) error {
	c, err := client.DialBook(ctx, o.Config, o.Build)
	if err != nil {
		return err
	}
	if len(lines) > 0 {
		err = c.Note(ctx, lines)
	}
	return errors.Join(err, c.Close())
}

// emptyFolder removes everything in a folder. It is called for a folder that was empty
// before this setup filled it.
func emptyFolder(folder string) error {
	files, err := os.ReadDir(folder)
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	for _, f := range files {
		err = errors.Join(err, os.RemoveAll(filepath.Join(folder, f.Name())))
	}
	return err
}

// withDataFolder gives a configuration's text with another data folder. The rest of the
// text stays as it is, comments included. The error says that the folder cannot be
// replaced.
func withDataFolder(text, data string) (string, error) {
	line := "data = " + config.Quote(data)
	next := "[station]\n" + line + "\n\n" + text
	if section := regexp.MustCompile(`(?m)^\s*\[station\].*\n`).FindStringIndex(text); section != nil {
		head, rest := text[:section[1]], text[section[1]:]
		end := len(rest)
		if at := regexp.MustCompile(`(?m)^\s*\[`).FindStringIndex(rest); at != nil {
			end = at[0]
		}
		own := regexp.MustCompile(`(?m)^\s*data\s*=.*\n`).ReplaceAllString(rest[:end], "")
		next = head + line + "\n" + own + rest[end:]
	}
	if c, err := config.Parse("next season", []byte(next), probeconfig.Drivers()); err != nil || c.Station.Data != data {
		return "", usererr.Usage(fmt.Errorf("the data folder in the last season's file is written in a way that cannot be replaced here; copy the file and change data by hand"))
	}
	return next, nil
}

// carriedEntries gives the entries that a new season's book begins with, one JSON object
// a line, and the names of their dams.
func carriedEntries(old book.Book, c config.Config, at time.Time) (lines []byte, dams []string, err error) {
	add := func(e book.Entry) {
		line, bad := json.Marshal(e)
		err = errors.Join(err, bad)
		lines = append(append(lines, line...), '\n')
	}
	for _, f := range old.Dams() {
		if !f.Retired.IsZero() {
			continue
		}
		dams = append(dams, f.Name)
		add(book.Entry{Key: "dam-" + f.Name, At: at, Kind: book.KindDam, Dam: book.Names{f.Name}, Profile: f.Profile})
	}
	for _, p := range c.Probes {
		for _, x := range old.Calibrations(p.Name) {
			add(book.Entry{Key: x.Key, At: at, Kind: book.KindCalibrated, Probe: p.Name, From: x.From, Points: x.Points})
		}
	}
	return lines, dams, err
}
