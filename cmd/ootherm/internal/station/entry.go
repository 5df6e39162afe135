package station

import (
	"context"
	"fmt"
	"slices"

	"example.com/ootherm/cmd/ootherm/internal/notice"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
)

// Note adds the entries of a draft to the book: all of them or none. An entry that the
// book already holds is not added twice. The error is a [book.Faults] of all that is
// wrong: lines that cannot be read, rules of the book, names that the configuration
// does not have. The result is the entries as they are stored.
func (s *Station) Note(ctx context.Context, d book.Draft) ([]book.Entry, error) {
	if err := checkBookSize(s.book, d); err != nil {
		return nil, err
	}
	prepared, err := s.book.Prepare(d.Check(s.known))
	if err != nil {
		return nil, err
	}
	stored, err := s.o.Ledger.Append(prepared.Entries(), s.now)
	if err != nil {
		return nil, fmt.Errorf("writing the book: %w", err)
	}
	s.book = prepared.Stored(stored)
	s.exposures.SetBook(s.book)
	s.updateCorrections()
	s.setLimits(notice.GoneByBook)
	s.exposures.Rebuild()
	s.windows.SetBook(s.book)
	s.publish()
	return stored, s.journal.Commit(ctx)
}

// known finds what an entry names that the configuration does not have, and times that
// are still to come.
func (s *Station) known(e book.Entry) (faults book.Faults) {
	wrong := func(field, format string, a ...any) {
		faults = append(faults, book.NewFault(e, field, format, a...))
	}
	var zones []string
	for _, z := range s.o.Plan.Zones {
		zones = append(zones, z.Name)
	}
	profiles := s.o.Plan.ProfileNames()
	if e.At.After(s.now.Add(plan.MaxClockSkew)) {
		wrong("at", "%s is still to come; it is %s now", e.At, s.now)
	}
	if e.From.After(s.now.Add(plan.MaxClockSkew)) {
		wrong("from", "%s is still to come; it is %s now", e.From, s.now)
	}
	if e.Zone != "" && !slices.Contains(zones, e.Zone) {
		wrong("zone", "the configuration has no zone %q; it has %s", e.Zone, words.List(zones))
	}
	if e.Probe != "" && !s.Watches(e.Probe) {
		wrong("probe", "the configuration has no probe %q", e.Probe)
	}
	if err := calibrationOf(e.Points).Check(); err != nil {
		wrong("points", "%v", err)
	}
	if e.Profile != "" && !slices.Contains(profiles, e.Profile) {
		wrong("profile", "there is no profile %q; there are %s", e.Profile, words.List(profiles))
	}
	return faults
}
