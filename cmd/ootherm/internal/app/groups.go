package app

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
)

// A group is the eggs of one clutch that lie, or last lay, in one box.
type group struct {
	clutch  string
	dams    []string
	profile string
	laid    thermal.Laid
	box     string
	zone    string
	probe   string
	eggs    []book.Egg
	stays   []book.Stay // of an egg that waits, else of the first
	track   string      // which exposure is theirs
	waiting bool        // an egg of it waits or has pipped
	hatched time.Time   // the mean hatch of those that hatched; zero: none did
	born    int         // how many that are
}

// id names a group.
func (g *group) id() string { return g.clutch + "\x00" + g.box }

// left is how many eggs are still to hatch.
func (g *group) left() (n int) {
	for _, e := range g.eggs {
		if open(e) {
			n++
		}
	}
	return n
}

func open(e book.Egg) bool { return e.Fate == book.Waiting || e.Fate == book.Pipped }

// groups are all groups of the book, in the order of boxes and clutches.
func (s *Station) groups() []*group {
	if s.grouped == nil {
		s.grouped = groupsOf(s.book)
	}
	return s.grouped
}

func groupsOf(b book.Book) []*group {
	byID := map[string]*group{}
	for _, c := range b.Clutches() {
		for _, e := range c.Eggs {
			if len(e.Stays) == 0 {
				continue
			}
			at := e.Stays[len(e.Stays)-1]
			id := c.ID + "\x00" + at.Box
			g := byID[id]
			if g == nil {
				g = &group{
					clutch: c.ID, dams: c.Dams, profile: c.Profile,
					laid: thermal.Laid{Earliest: c.Laid.After, Latest: c.Laid.By},
					box:  at.Box, zone: at.Zone, probe: at.Probe, stays: e.Stays,
				}
				byID[id] = g
			}
			if open(e) && !g.waiting {
				g.waiting, g.stays, g.zone, g.probe = true, e.Stays, at.Zone, at.Probe
			}
			if e.Fate == book.Hatched {
				g.born++
				if g.hatched.IsZero() {
					g.hatched = e.FateAt
				} else {
					g.hatched = g.hatched.Add(e.FateAt.Sub(g.hatched) / time.Duration(g.born))
				}
			}
			g.eggs = append(g.eggs, e)
		}
	}
	all := slices.SortedFunc(maps.Values(byID), func(a, b *group) int {
		if c := strings.Compare(a.box, b.box); c != 0 {
			return c
		}
		return strings.Compare(a.clutch, b.clutch)
	})
	for _, g := range all {
		g.track = trackOf(g.stays)
	}
	return all
}

// trackOf names the exposure of eggs with these stays.
func trackOf(stays []book.Stay) string {
	var b strings.Builder
	for _, s := range stays {
		fmt.Fprintf(&b, "%s\x00%d\x00%d\x00", sourceOf(s), s.From.UnixNano(), s.To.UnixNano())
	}
	return b.String()
}

// retrack gives every group its exposure: those that stayed keep theirs, the
// others are rebuilt from the history by the worker.
func (s *Station) retrack() error {
	s.grouped = nil
	want := map[string]*group{}
	for _, g := range s.groups() {
		want[g.track] = g
	}
	for key := range s.tracks {
		if want[key] == nil {
			delete(s.tracks, key)
		}
	}
	r, upTo := s.reckoner(), s.now
	for key, g := range want {
		if s.tracks[key] != nil {
			continue
		}
		t := &track{rebuilding: true}
		s.tracks[key] = t
		stays := g.stays
		t.now = sourceOf(stays[len(stays)-1])
		s.o.Worker(func() func() {
			rebuilt, err := r.track(stays, upTo)
			return func() { s.swap(key, t, rebuilt, err) }
		})
	}
	s.feedTracks()
	return s.failed
}

// swap takes over a rebuilt exposure, unless the book moved on meanwhile.
func (s *Station) swap(key string, t, rebuilt *track, err error) {
	if s.tracks[key] != t {
		return
	}
	if err != nil {
		s.failed = err
		return
	}
	t.swap(rebuilt, s.plan.gapLimit())
	s.reckoned = time.Time{}
}

// feedTracks leads each source to the exposures that take from it.
func (s *Station) feedTracks() {
	for _, x := range s.sources {
		x.tracks = x.tracks[:0]
	}
	for _, t := range s.tracks {
		if x := s.sources[t.now]; x != nil && !t.done {
			x.tracks = append(x.tracks, t)
		}
	}
}
