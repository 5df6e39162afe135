package station

import (
	"bytes"
	"cmp"
	"errors"
	"slices"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
)

// check says all that is wrong with entries: with the rules of the book, and
// with what the configuration has.
func (s *Station) check(entries []book.Entry) error {
	faults := s.known(entries)
	_, err := s.book.Note(entries...)
	var broken book.Faults
	if errors.As(err, &broken) {
		faults = append(faults, broken...)
	} else if err != nil {
		return err
	}
	if len(faults) == 0 {
		return nil
	}
	return faults
}

// ReadEntries takes entries from JSON lines. Its error tells of all of them: what cannot
// be read, what breaks a rule of the book, what the configuration does not have.
func (s *Station) ReadEntries(lines []byte) ([]book.Entry, error) {
	var entries []book.Entry
	var faults book.Faults
	n := 0
	for line := range bytes.Lines(lines) {
		n++
		if line = bytes.TrimSpace(bytes.TrimPrefix(line, []byte("\ufeff"))); len(line) == 0 {
			continue
		}
		e, err := book.Parse(line)
		if err != nil {
			continue // told below, with its line
		}
		entries = append(entries, e)
		for _, f := range s.known([]book.Entry{e}) {
			f.Line = n
			faults = append(faults, f)
		}
	}
	_, _, err := s.book.Read(bytes.NewReader(lines))
	var broken book.Faults
	if errors.As(err, &broken) {
		faults = append(faults, broken...)
	} else if err != nil {
		return nil, err
	}
	if len(faults) > 0 {
		slices.SortStableFunc(faults, func(a, b book.Fault) int { return cmp.Compare(a.Line, b.Line) })
		return nil, faults
	}
	return entries, nil
}

// known are the entries that name what the configuration does not have, or that
// have not happened yet.
func (s *Station) known(entries []book.Entry) (faults book.Faults) {
	wrong := func(e book.Entry, field, format string, a ...any) {
		faults = append(faults, book.NewFault(e, field, format, a...))
	}
	var zones []string
	for _, z := range s.plan.Zones {
		zones = append(zones, z.Name)
	}
	profiles := s.plan.ProfileNames()
	for _, e := range entries {
		if e.At.After(s.now.Add(plan.MaxClockSkew)) {
			wrong(e, "at", "%s is still to come; it is %s now", e.At, s.now)
		}
		if e.From.After(s.now.Add(plan.MaxClockSkew)) {
			wrong(e, "from", "%s is still to come; it is %s now", e.From.UTC().Format(time.RFC3339), s.now.UTC().Format(time.RFC3339))
		}
		if e.Zone != "" && !slices.Contains(zones, e.Zone) {
			wrong(e, "zone", "the configuration has no zone %q; it has %s", e.Zone, words.List(zones))
		}
		if e.Probe != "" && s.probes[e.Probe] == nil {
			wrong(e, "probe", "the configuration has no probe %q", e.Probe)
		}
		if err := unfit(e.Points); err != nil {
			wrong(e, "points", "%v", err)
		}
		if e.Profile != "" && !slices.Contains(profiles, e.Profile) {
			wrong(e, "profile", "there is no profile %q; there are %s", e.Profile, words.List(profiles))
		}
	}
	return faults
}
