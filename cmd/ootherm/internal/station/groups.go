package station

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/rebuild"
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
	offset  float64 // K; how much warmer the box is than its source
	eggs    []book.Egg
	stays   []book.Stay // of an egg that waits, else of the first
	track   string      // which exposure is theirs
	waiting bool        // an egg of it waits or has pipped

	// Of a species whose development is arrested at first: whether it still is,
	// and when the breeder found that it had ended. Only heat from then on counts.
	arrested bool
	resumed  time.Time

	hatched time.Time // the mean hatch of those that hatched; zero: none did
	born    int       // how many that are
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
		s.grouped = groupsOf(s.book, s.plan.Arrests)
	}
	return s.grouped
}

func groupsOf(b book.Book, arrests func(profile string) bool) []*group {
	byID := map[string]*group{}
	ended := resumptions(b)
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
					box:  at.Box, zone: at.Zone, probe: at.Probe, offset: at.Offset, stays: e.Stays,
				}
				byID[id] = g
			}
			if open(e) && !g.waiting {
				g.waiting, g.stays, g.zone, g.probe, g.offset = true, e.Stays, at.Zone, at.Probe, at.Offset
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
		if arrests(g.profile) {
			g.resumed = ended[g.clutch]
			g.arrested = g.resumed.IsZero()
			g.stays = after(g.stays, g.resumed)
		}
		g.track = trackOf(g.stays)
	}
	return all
}

// resumed is what a note about a clutch says, first of all, to mark the end of its
// arrested development.
const resumed = "development resumed"

// resumptions are when each clutch's development was first marked as resumed.
func resumptions(b book.Book) map[string]time.Time {
	at := map[string]time.Time{}
	for _, n := range b.Notes() {
		said := strings.ToLower(strings.TrimSpace(n.Text))
		if _, there := at[n.About]; !there && strings.HasPrefix(said, resumed) {
			at[n.About] = n.At
		}
	}
	return at
}

// after are stays from a time on. A last one that ended before is kept, so that
// eggs always have one.
func after(stays []book.Stay, from time.Time) []book.Stay {
	var out []book.Stay
	for i, s := range stays {
		if i < len(stays)-1 && !s.To.IsZero() && !s.To.After(from) {
			continue
		}
		if s.From.Before(from) && (s.To.IsZero() || s.To.After(from)) {
			s.From = from
		}
		out = append(out, s)
	}
	return out
}

// trackOf names the exposure of eggs with these stays.
func trackOf(stays []book.Stay) string {
	var b strings.Builder
	for _, s := range stays {
		fmt.Fprintf(&b, "%s\x00%g\x00%d\x00%d\x00", sourceOf(s), s.Offset, s.From.UnixNano(), s.To.UnixNano())
	}
	return b.String()
}

// rebuildTracks gives every group its exposure: those that stayed keep theirs, the
// others are rebuilt from the history by the worker.
func (s *Station) rebuildTracks() {
	s.grouped = nil
	want := map[string]*group{}
	for _, g := range s.groups() {
		want[g.track] = g
	}
	for key := range s.tracks {
		if want[key] == nil {
			s.dropTrack(key)
		}
	}
	for key, g := range want {
		if s.tracks[key] != nil {
			continue
		}
		stays := g.stays
		t := newGroupTrack(stays[len(stays)-1], s.plan.GapLimit())
		s.tracks[key] = t
		rebuild.Build(&s.rebuilds, func(upTo time.Time) func() ([]*track, error) {
			r := s.reckoner()
			return func() ([]*track, error) {
				rebuilt, err := r.track(stays, upTo)
				return []*track{rebuilt}, err
			}
		}, s.forgetWindows, t.felt)
	}
	s.rebuildCourses()
	s.feedTracks()
}

// dropTrack ends the exposure of eggs that are not there any more.
func (s *Station) dropTrack(key string) {
	if t := s.tracks[key]; t != nil {
		t.drop()
		delete(s.tracks, key)
	}
}

// forgetWindows has all windows computed at the next step.
func (s *Station) forgetWindows() { s.reckoned = time.Time{} }

// feedTracks leads each source to the exposures that take from it.
func (s *Station) feedTracks() {
	for _, x := range s.sources {
		x.tracks = x.tracks[:0]
	}
	for _, t := range s.tracks {
		if x := s.sources[t.source]; x != nil && !t.done {
			x.tracks = append(x.tracks, t)
		}
	}
}
