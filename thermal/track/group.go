package track

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
)

// Source names where the temperature of a box comes from: its own probe, or, for a box
// without one, its zone.
type Source struct{ Probe, Zone string }

func (s Source) String() string {
	if s.Probe != "" {
		return "probe " + s.Probe
	}
	return "zone " + s.Zone
}

// SourceOf is where the temperature of a stay comes from.
func SourceOf(s book.Stay) Source {
	if s.Probe != "" {
		return Source{Probe: s.Probe}
	}
	return Source{Zone: s.Zone}
}

// Group is the eggs of one clutch that lie, or last lay, in one box and came there together:
// eggs that rejoin a box keep their own heat.
type Group struct {
	Clutch  string
	Apart   string // the first of its eggs, where others of the clutch in the box felt something else; empty for the first group of a box
	Dams    []string
	Profile string
	Laid    thermal.Laid
	Box     string
	Zone    string
	Probe   string
	Offset  float64 // K; how much warmer the box is than its source
	Eggs    []book.Egg
	Stays   []book.Stay // of the first egg that waits, else of the first
	Track   string      // which exposure is theirs
	Waiting bool        // an egg of it waits or has pipped

	Arrest

	Hatches
}

// Hatches are those of a group's eggs.
type Hatches struct {
	Hatched time.Time // the mean of those that hatched; zero: none did
	Born    int       // how many that are
}

// Arrest is, of a species whose development is arrested at first, whether it still is, and
// from when its durations count.
type Arrest struct {
	Arrested bool
	Resumed  time.Time // only heat from then on counts; zero: all of it does
}

// ID names a group: its clutch and its box, and its first egg where it has felt something
// else than the first group there.
func (g *Group) ID() string {
	if g.Apart != "" {
		return g.Clutch + "\x00" + g.Box + "\x00" + g.Apart
	}
	return g.Clutch + "\x00" + g.Box
}

// Left is how many eggs are still to hatch.
func (g *Group) Left() (n int) {
	for _, e := range g.Eggs {
		if Undecided(e) {
			n++
		}
	}
	return n
}

// Undecided reports whether an egg may still hatch.
func Undecided(e book.Egg) bool { return e.Fate == book.Waiting || e.Fate == book.Pipped }

// Groups are all groups of a book, in the order of boxes and clutches. Arrests reports
// whether the development of a species is arrested at first, and whether its durations
// then count from when that ended; else they count from laying, the arrest included.
func Groups(b book.Book, arrests func(profile string) (arrested, fromEnd bool)) []*Group {
	var all []*Group
	for _, c := range b.Clutches() {
		inBox := map[string][]*Group{}
		for _, e := range c.Eggs {
			if len(e.Stays) == 0 {
				continue
			}
			at := e.Stays[len(e.Stays)-1]
			there := inBox[at.Box]
			i := slices.IndexFunc(there, func(g *Group) bool { return apart(g.Stays, e.Stays) <= maxApart })
			if i < 0 {
				g := &Group{
					Clutch: c.ID, Dams: c.Dams, Profile: c.Profile,
					Laid: thermal.Laid{Earliest: c.Laid.After, Latest: c.Laid.By},
					Box:  at.Box, Zone: at.Zone, Probe: at.Probe, Offset: at.Offset, Stays: e.Stays,
				}
				if i = len(there); i > 0 {
					g.Apart = e.ID
				}
				there = append(there, g)
				all = append(all, g)
			}
			there[i].add(e)
			inBox[at.Box] = there
		}
	}
	slices.SortStableFunc(all, func(a, b *Group) int {
		return cmp.Or(cmp.Compare(a.Box, b.Box), cmp.Compare(a.Clutch, b.Clutch))
	})
	ended := resumptions(b)
	for _, g := range all {
		if arrested, fromEnd := arrests(g.Profile); arrested {
			end := ended[g.Clutch]
			g.Arrested = end.IsZero()
			if fromEnd {
				g.Resumed = end
				g.Stays = staysFrom(g.Stays, end)
			}
		}
		g.Track = Key(g.Stays)
	}
	return all
}

// maxApart is how long eggs of a group may have lain in different places: eggs of one clutch
// are often placed on two evenings. Our choice; a day in the cold is about half a day of
// development.
const maxApart = 24 * time.Hour

// apart is how long two eggs that last lay in one box were not together, until the first of
// them left. Before an egg was placed it was elsewhere.
func apart(a, b []book.Stay) time.Duration {
	from, lastA, lastB := a[0].From, a[len(a)-1], b[len(b)-1]
	if b[0].From.Before(from) {
		from = b[0].From
	}
	until := later(lastA.From, lastB.From) // from then on they are together
	for _, end := range [...]time.Time{lastA.To, lastB.To} {
		if !end.IsZero() && end.Before(until) {
			until = end
		}
	}
	sum := max(0, until.Sub(from))
	for _, x := range a {
		for _, y := range b {
			if SourceOf(x) != SourceOf(y) || x.Offset != y.Offset {
				continue
			}
			end := until
			for _, to := range [...]time.Time{x.To, y.To} {
				if !to.IsZero() && to.Before(end) {
					end = to
				}
			}
			sum -= max(0, end.Sub(later(x.From, y.From)))
		}
	}
	return sum
}

// add takes an egg that lies, or last lay, in the group's box.
func (g *Group) add(e book.Egg) {
	if Undecided(e) && !g.Waiting {
		at := e.Stays[len(e.Stays)-1]
		g.Waiting, g.Stays, g.Zone, g.Probe, g.Offset = true, e.Stays, at.Zone, at.Probe, at.Offset
	}
	if e.Fate == book.Hatched {
		g.Born++
		if g.Hatched.IsZero() {
			g.Hatched = e.FateAt
		} else {
			g.Hatched = g.Hatched.Add(e.FateAt.Sub(g.Hatched) / time.Duration(g.Born))
		}
	}
	g.Eggs = append(g.Eggs, e)
}

// Resumed is how a note about a clutch begins that marks the end of its arrested
// development.
const Resumed = "development resumed"

// resumptions are when each clutch's development was first marked as resumed.
func resumptions(b book.Book) map[string]time.Time {
	at := map[string]time.Time{}
	for _, n := range b.Notes() {
		said := strings.ToLower(strings.TrimSpace(n.Text))
		if _, there := at[n.About]; !there && strings.HasPrefix(said, Resumed) {
			at[n.About] = n.At
		}
	}
	return at
}

// staysFrom are stays from a time on. A last one that ended before is kept, so that
// eggs always have one.
func staysFrom(stays []book.Stay, from time.Time) []book.Stay {
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

// Key names the exposure of eggs with these stays.
func Key(stays []book.Stay) string {
	var b strings.Builder
	for _, s := range stays {
		fmt.Fprintf(&b, "%s\x00%g\x00%d\x00%d\x00", SourceOf(s), s.Offset, s.From.UnixNano(), s.To.UnixNano())
	}
	return b.String()
}

// In reports whether eggs of the group are in the box in its present use.
func (g *Group) In(b book.Box) bool {
	for _, e := range g.Eggs {
		if slices.Contains(b.Eggs, e.ID) || slices.Contains(b.Done, e.ID) {
			return true
		}
	}
	return false
}
