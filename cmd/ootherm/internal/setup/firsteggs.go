package setup

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/forms"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/bookfile"
	"example.com/ootherm/thermal/profile"
)

// firstEggs are the first dam, box and eggs, as far as they are known. Each needs those
// before it.
type firstEggs struct {
	dam, kind string
	box, zone string
	eggs      int
	days      string // at most so many days ago they were laid
}

// maxFirstEggs is how many slots a box of the first eggs has, a to z.
const maxFirstEggs = 26

// askFirstEggs asks for the first dam, box and eggs. Enter leaves them for later. A book
// that is there already is not asked about.
func (w *wizard) askFirstEggs(t *dialog, at time.Time) (err error) {
	if _, err := os.Stat(filepath.Join(w.data, "records.db")); err == nil {
		return nil
	}
	ask := func(answer *string, question string) {
		for err == nil {
			if *answer, err = t.Ask(question); err != nil || *answer == "" {
				return
			}
			refused := w.refused(at)
			if refused == "" {
				return
			}
			t.Say("  Not accepted: %s.", refused)
		}
	}
	w.eggs.kind = w.places[0].species.Name
	ask(&w.eggs.dam, "The first dam, by her name (Enter: later, on the page)")
	if err != nil || w.eggs.dam == "" {
		return err
	}
	all, err := profile.Builtin()
	if err != nil {
		return err
	}
	p, err := askSpecies(t, all, "Her kind", w.eggs.kind)
	if err != nil {
		return err
	}
	w.eggs.kind = p.Name
	if w.eggs.zone, err = w.askEggsPlace(t); err != nil || w.eggs.zone == "" {
		return err
	}
	ask(&w.eggs.box, "A box for her eggs, by its name, as B1 (Enter: later)")
	if err != nil || w.eggs.box == "" {
		return err
	}
	return w.askEggCount(t, at)
}

// askEggCount asks how many eggs lie in the first box, and within how many days they were
// laid.
func (w *wizard) askEggCount(t *dialog, at time.Time) (err error) {
	for {
		answer, err := t.askOr("How many eggs of hers are in it", "0")
		if err != nil {
			return err
		}
		if w.eggs.eggs, err = strconv.Atoi(answer); err == nil && w.eggs.eggs >= 0 && w.eggs.eggs <= maxFirstEggs {
			break
		}
		t.Say("%q is no number of eggs from 0 to %d.", answer, maxFirstEggs)
	}
	for w.eggs.eggs > 0 {
		if w.eggs.days, err = t.askOr("Laid within how many days", "7"); err != nil || w.refused(at) == "" {
			return err
		}
		t.Say("%q is no number of days.", w.eggs.days)
	}
	return nil
}

// askEggsPlace asks in which place the first box stands, where several have a probe.
func (w *wizard) askEggsPlace(t *dialog) (string, error) {
	var names []string
	for _, p := range w.places {
		if len(p.probes) > 0 {
			names = append(names, p.name)
		}
	}
	if len(names) < 2 {
		return strings.Join(names, ""), nil
	}
	return t.askChoice("Her eggs stand in", names...)
}

// refused tells why the book would not take the first entries; empty: it takes them.
func (w *wizard) refused(at time.Time) string {
	entries, err := w.firstEntries(at)
	if err == nil {
		_, err = book.Fold(entries)
	}
	faults := book.Faults{}
	switch {
	case errors.As(err, &faults):
		return strings.TrimSuffix(faults[0].Words, ".")
	case err != nil:
		return err.Error()
	}
	return ""
}

// firstEntries are the entries of the first dam, box and eggs.
func (w *wizard) firstEntries(at time.Time) (all []book.Entry, err error) {
	at = at.UTC().Truncate(time.Second)
	note := func(kind string, answers url.Values) {
		f, _ := forms.Of(kind)
		entries, bad := f.Entries("setup-"+kind, at, w.units, answers)
		all, err = append(all, entries...), errors.Join(err, bad)
	}
	x := w.eggs
	if x.dam != "" {
		note("dam", url.Values{"name": {x.dam}, "profile": {x.kind}})
	}
	if x.box != "" {
		note("box", url.Values{"newbox": {x.box}, "zone": {x.zone}})
	}
	if x.eggs > 0 {
		days, bad := strconv.ParseFloat(x.days, 64)
		if bad != nil {
			return nil, usererr.New("no number of days")
		}
		var slots []string
		for c := 'a'; c <= 'z'; c++ {
			slots = append(slots, string(c))
		}
		note(forms.Found, url.Values{"dam": {x.dam}, "eggs": {strconv.Itoa(x.eggs)}, "box": {x.box}, "clutch": {"C1"},
			"since": {fmt.Sprintf("%gh", 24*days)}, "slots": {strings.Join(slots, " ")}})
	}
	return all, err
}

// noteFirstEggs notes the first dam, box and eggs in the book.
func (w *wizard) noteFirstEggs(ctx context.Context, o Options, t *dialog) error {
	entries, err := w.firstEntries(o.Now())
	if err != nil || len(entries) == 0 {
		return err
	}
	var lines bytes.Buffer
	if err := bookfile.WriteJSON(&lines, slices.Values(entries)); err != nil {
		return err
	}
	if err := noteEntries(ctx, o, lines.Bytes()); err != nil {
		return fmt.Errorf("%s is written, but the first dam is not noted: %w", o.Config, err)
	}
	t.Say("Noted in the book: %s.", w.eggs.text())
	return nil
}

// text lists the first dam, box and eggs, for a person.
func (x firstEggs) text() string {
	parts := []string{x.dam + ", a " + x.kind}
	if x.box != "" {
		parts = append(parts, "box "+x.box)
	}
	if x.eggs > 0 {
		parts = append(parts, words.Count(x.eggs, "egg", "eggs"))
	}
	return words.List(parts)
}
