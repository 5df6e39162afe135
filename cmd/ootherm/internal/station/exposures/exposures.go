// Package exposures owns what the eggs in the book have felt: it follows each group's track
// and its excursions as samples arrive, and rebuilds them from stored readings when the
// book, a calibration or a date changes. It must not know how a sample is made, and what is
// computed or told from an exposure.
package exposures

import (
	"errors"
	"slices"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/rebuild"
	"example.com/ootherm/cmd/ootherm/internal/station/pastreadings"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/profile"
	"example.com/ootherm/thermal/track"
)

// Exposures are what all groups of a book have felt. One goroutine calls the methods.
type Exposures struct {
	plan    plan.Plan
	past    *pastreadings.Past
	prior   func(profile.Profile) (thermal.Belief, error)
	changed func()

	groups []*track.Group
	tracks map[string]*exposure
	feeds  map[track.Source][]*exposure // a source's samples feed these
}

// exposure is what a group of eggs that were always together has felt, followed as
// readings arrive and rebuilt from the stored ones beside that.
type exposure struct {
	source     track.Source // of the present stay
	offset     float64      // K; how much warmer the box is than that source
	done       bool         // that stay is over
	felt       *rebuild.Value[*track.Track, thermal.Sample]
	excursions map[string]*excursions // by the species of the eggs
}

type excursions = rebuild.Value[*track.Excursions, thermal.Sample]

// New makes the exposures of an empty book. Prior is what is published of a species.
// Changed is called when an exposure was rebuilt.
func New(p plan.Plan, past *pastreadings.Past, prior func(profile.Profile) (thermal.Belief, error), changed func()) *Exposures {
	return &Exposures{
		plan: p, past: past, prior: prior, changed: changed,
		tracks: map[string]*exposure{}, feeds: map[track.Source][]*exposure{},
	}
}

// newExposure is the exposure of eggs whose last stay is the one given.
func newExposure(last book.Stay) *exposure {
	return &exposure{
		source: track.SourceOf(last), offset: last.Offset, done: !last.To.IsZero(), excursions: map[string]*excursions{},
		felt: rebuild.NewValue(track.Empty(), (*track.Track).Observe),
	}
}

// observe takes the next sample of the source.
func (x *exposure) observe(s thermal.Sample) {
	s.Celsius += x.offset
	for _, c := range x.excursions {
		c.Observe(s)
	}
	x.felt.Observe(s)
}

// drop ends what is still being rebuilt for it.
func (x *exposure) drop() {
	for _, c := range x.excursions {
		c.Drop()
	}
	x.felt.Drop()
}

// SetBook takes the groups of a book. The exposures stay as they are until the next
// Rebuild.
func (x *Exposures) SetBook(b book.Book) {
	x.groups = track.Groups(b, x.plan.Arrests)
}

// Groups are all groups of the book, in the order of boxes and clutches.
func (x *Exposures) Groups() []*track.Group { return x.groups }

// Track is what eggs felt, by [track.Group.Track]; nil while that is not known.
func (x *Exposures) Track(key string) *track.Track {
	if t := x.tracks[key]; t != nil && t.felt.Ready() {
		return t.felt.Get()
	}
	return nil
}

// Excursions is what a group felt beyond the bands of its species; nil while that is not
// known.
func (x *Exposures) Excursions(g *track.Group) *track.Excursions {
	t := x.tracks[g.Track]
	if t == nil || t.excursions[g.Profile] == nil || !t.excursions[g.Profile].Ready() {
		return nil
	}
	return t.excursions[g.Profile].Get()
}

// Observe takes the next sample of a source.
func (x *Exposures) Observe(src track.Source, s thermal.Sample) {
	for _, t := range x.feeds[src] {
		t.observe(s)
	}
}

// ForgetSources drops the exposures of eggs that were ever in one of some places, until the
// next Rebuild.
func (x *Exposures) ForgetSources(in map[track.Source]bool) {
	for _, g := range x.groups {
		if slices.ContainsFunc(g.Stays, func(s book.Stay) bool { return in[track.SourceOf(s)] }) {
			x.forget(g.Track)
		}
	}
}

// ForgetAll drops all exposures until the next Rebuild.
func (x *Exposures) ForgetAll() {
	for key := range x.tracks {
		x.forget(key)
	}
}

func (x *Exposures) forget(key string) {
	if t := x.tracks[key]; t != nil {
		t.drop()
		delete(x.tracks, key)
	}
}

// Rebuild gives every group its exposure: groups whose stays are as they were keep theirs,
// the others are rebuilt from the stored readings by the worker.
func (x *Exposures) Rebuild() {
	wanted := map[string]bool{}
	for _, g := range x.groups {
		wanted[g.Track] = true
	}
	for key := range x.tracks {
		if !wanted[key] {
			x.forget(key)
		}
	}
	x.RebuildWaiting()
	x.rebuildMissing(func(*track.Group) bool { return true })
	x.rebuildExcursions()
	clear(x.feeds)
	for _, t := range x.tracks {
		if !t.done {
			x.feeds[t.source] = append(x.feeds[t.source], t)
		}
	}
}

// RebuildWaiting begins to rebuild what the eggs that wait have felt, in one job: their windows
// change once. The rest follows with Rebuild.
func (x *Exposures) RebuildWaiting() {
	waits := map[string]bool{}
	for _, g := range x.groups {
		waits[g.Track] = waits[g.Track] || g.Waiting
	}
	x.rebuildMissing(func(g *track.Group) bool { return waits[g.Track] })
}

// rebuildMissing rebuilds the tracks of the groups that are wanted and have none.
func (x *Exposures) rebuildMissing(wanted func(*track.Group) bool) {
	var new []*track.Group
	for _, g := range x.groups {
		if x.tracks[g.Track] == nil && wanted(g) {
			x.tracks[g.Track] = newExposure(g.Stays[len(g.Stays)-1])
			new = append(new, g)
		}
	}
	x.rebuildTracks(new)
}

// rebuildTracks computes the tracks of groups from the stored readings, in one job.
func (x *Exposures) rebuildTracks(groups []*track.Group) {
	if len(groups) == 0 {
		return
	}
	var values []*rebuild.Value[*track.Track, thermal.Sample]
	var stays [][]book.Stay
	for _, g := range groups {
		values, stays = append(values, x.tracks[g.Track].felt), append(stays, g.Stays)
	}
	rebuild.Build(&x.past.Rebuilds, func(upTo time.Time) func() ([]*track.Track, error) {
		r := x.past.Reader()
		return func() ([]*track.Track, error) {
			var all []*track.Track
			var failed []error
			for _, s := range stays {
				rebuilt, err := track.Rebuild(r, s, upTo, r.Gap)
				all, failed = append(all, rebuilt), append(failed, err)
			}
			return all, errors.Join(failed...)
		}
	}, x.changed, values...)
}

// missingExcursions is a group that waits and is to be followed through the bands of its
// species.
type missingExcursions struct {
	value *excursions
	begin func() *track.Excursions
	stays []book.Stay
}

// rebuildExcursions follows the groups that wait through the bands of their species, unless
// that is done already: the worker rebuilds them from the readings, all groups of a place in
// one pass.
func (x *Exposures) rebuildExcursions() {
	var places []track.Source
	missing := map[track.Source][]missingExcursions{}
	for _, g := range x.groups {
		m, ok := x.missingExcursions(g)
		if !ok {
			continue
		}
		place := track.SourceOf(m.stays[len(m.stays)-1])
		if missing[place] == nil {
			places = append(places, place)
		}
		missing[place] = append(missing[place], m)
	}
	for _, place := range places {
		var values []*excursions
		var stays [][]book.Stay
		for _, m := range missing[place] {
			values, stays = append(values, m.value), append(stays, m.stays)
		}
		rebuild.Build(&x.past.Rebuilds, func(upTo time.Time) func() ([]*track.Excursions, error) {
			r := x.past.Reader()
			return func() ([]*track.Excursions, error) {
				var all []*track.Excursions
				for _, m := range missing[place] {
					all = append(all, m.begin())
				}
				return track.RebuildExcursions(r, all, stays, upTo)
			}
		}, x.changed, values...)
	}
}

// missingExcursions gives a group that waits a value for its excursions, false where it needs
// none or has one. Before they were placed the eggs count as if they had been at their usual
// temperature: to a tenth of the way that is near enough.
func (x *Exposures) missingExcursions(g *track.Group) (m missingExcursions, missing bool) {
	p, ok := x.plan.Profile(g.Profile)
	t := x.tracks[g.Track]
	if !ok || t == nil || !g.Waiting || t.excursions[g.Profile] != nil || len(track.Limits(p)) == 0 {
		return m, false
	}
	b, err := x.prior(p)
	if err != nil {
		return m, false // the clutch has no window, and says why
	}
	stays, rate, gap := g.Stays, b.Model(), x.plan.GapLimit()
	unplaced := stays[0].From.Sub(g.Laid.Earliest) - g.Laid.Latest.Sub(g.Laid.Earliest)/2
	before := max(0, unplaced.Hours()/24*rate.PerDay(b.Usual))
	if !g.Resumed.IsZero() {
		before = 0
	}
	m.stays = stays
	m.begin = func() *track.Excursions { return track.NewExcursions(p, rate, before, gap) }
	m.value = rebuild.NewValue(m.begin(), (*track.Excursions).Observe)
	t.excursions[g.Profile] = m.value
	return m, true
}
