package station

import (
	"time"

	"example.com/ootherm/cmd/ootherm/internal/rebuild"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/track"
)

// exposureTrack is what a group of eggs that were always together has felt, followed as
// readings arrive and rebuilt from the history beside that.
type exposureTrack struct {
	source     sourceID // of the present stay
	offset     float64  // K; how much warmer the box is than that source
	done       bool     // that stay is over
	felt       *rebuild.Value[*track.Track, thermal.Sample]
	excursions map[string]*excursions // by the species of the eggs
}

type excursions = rebuild.Value[*track.Excursions, thermal.Sample]

// newExposureTrack is the track of eggs whose last stay is the one given.
func newExposureTrack(last book.Stay) *exposureTrack {
	return &exposureTrack{
		source: sourceOf(last), offset: last.Offset, done: !last.To.IsZero(), excursions: map[string]*excursions{},
		felt: rebuild.NewValue(track.Empty(), (*track.Track).Observe),
	}
}

// observe takes the next sample of the source.
func (t *exposureTrack) observe(s thermal.Sample) {
	s.Celsius += t.offset
	for _, c := range t.excursions {
		c.Observe(s)
	}
	t.felt.Observe(s)
}

// drop ends what is still being rebuilt for it.
func (t *exposureTrack) drop() {
	for _, c := range t.excursions {
		c.Drop()
	}
	t.felt.Drop()
}

// groups are all groups of the book, in the order of boxes and clutches.
func (s *Station) groups() []*track.Group {
	if s.grouped == nil {
		s.grouped = track.Groups(s.book, s.plan.Arrests)
	}
	return s.grouped
}

// track is what the eggs of a group felt; nil while that is not known.
func (s *Station) track(key string) *track.Track {
	if t := s.tracks[key]; t != nil && t.felt.Ready() {
		return t.felt.Get()
	}
	return nil
}

// rebuildTracks gives every group its exposure: those that stayed keep theirs, the
// others are rebuilt from the history by the worker.
func (s *Station) rebuildTracks() {
	s.grouped = nil
	want := map[string]*track.Group{}
	for _, g := range s.groups() {
		want[g.Track] = g
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
		stays := g.Stays
		t := newExposureTrack(stays[len(stays)-1])
		s.tracks[key] = t
		rebuild.Build(&s.rebuilds, func(upTo time.Time) func() ([]*track.Track, error) {
			r := s.historyReader()
			return func() ([]*track.Track, error) {
				rebuilt, err := track.Rebuild(r, stays, upTo, r.gap)
				return []*track.Track{rebuilt}, err
			}
		}, s.outdateForecast, t.felt)
	}
	s.rebuildExcursions()
	s.feedTracks()
}

// dropTrack ends the exposure of eggs that are not there any more.
func (s *Station) dropTrack(key string) {
	if t := s.tracks[key]; t != nil {
		t.drop()
		delete(s.tracks, key)
	}
}

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

// rebuildExcursions follows every group that waits through the bands of its species:
// those that stayed keep theirs, the others are rebuilt from the readings by the worker,
// after the exposures. Before they were placed the eggs count as if they had been at
// their usual temperature: to a tenth of the way that is near enough.
func (s *Station) rebuildExcursions() {
	for _, g := range s.groups() {
		p, ok := s.plan.Profile(g.Profile)
		t := s.tracks[g.Track]
		if !ok || t == nil || !g.Waiting || t.excursions[g.Profile] != nil || len(track.Limits(p)) == 0 {
			continue
		}
		b, err := s.forecast.now.Load().Prior(p)
		if err != nil {
			continue // the clutch has no window, and says why
		}
		stays, rate, gap := g.Stays, b.Model(), s.plan.GapLimit()
		unplaced := stays[0].From.Sub(g.Laid.Earliest) - g.Laid.Latest.Sub(g.Laid.Earliest)/2
		before := max(0, unplaced.Hours()/24*rate.PerDay(b.Usual))
		if !g.Resumed.IsZero() {
			before = 0
		}
		begin := func() *track.Excursions { return track.NewExcursions(p, rate, before, gap) }
		c := rebuild.NewValue(begin(), (*track.Excursions).Observe)
		t.excursions[g.Profile] = c
		rebuild.Build(&s.rebuilds, func(upTo time.Time) func() ([]*track.Excursions, error) {
			r := s.historyReader()
			return func() ([]*track.Excursions, error) {
				rebuilt, err := track.RebuildExcursions(r, begin(), stays, upTo)
				return []*track.Excursions{rebuilt}, err
			}
		}, s.outdateForecast, c)
	}
}
