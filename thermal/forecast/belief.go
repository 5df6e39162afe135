package forecast

import (
	"math"
	"time"

	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/profile"
	"example.com/ootherm/thermal/track"
)

// priors are what is published of each species, by its name: made once, since a profile
// does not change.
type priors map[string]thermal.Belief

func (p priors) of(x profile.Profile) (thermal.Belief, error) {
	if b, ok := p[x.Name]; ok {
		return b, nil
	}
	b, err := x.Belief()
	if err != nil {
		return thermal.Belief{}, err
	}
	p[x.Name] = b
	return b, nil
}

// knowledge is a house, and what follows from its book.
type knowledge struct {
	House
	priors priors
	past   map[track.Source]past
	errors map[track.Source]float64   // K, of each source's bias
	since  map[track.Source]time.Time // of the eggs that wait there
	event  time.Time                  // the last pip, hatch or loss in the house; zero: none
	last   *settled                   // before this forecast; nil: none
}

func (f *Forecast) knowledge(h House) *knowledge {
	k := &knowledge{House: h, priors: f.priors, past: map[track.Source]past{}, errors: map[track.Source]float64{}, since: h.waitingSince(), last: f.settled}
	for _, g := range h.Groups {
		for _, e := range g.Eggs {
			if e.Fate != book.Waiting && e.FateAt.After(k.event) && !e.FateAt.After(h.Now) {
				k.event = e.FateAt
			}
		}
	}
	return k
}

// unbelievable is how many standard deviations off a duration is marked in the review: a
// slip in its dates is likelier than such an egg (our choice).
const unbelievable = 4

// believed reports whether a duration lies within what a belief allows.
func believed(b thermal.Belief, o thermal.Observed) bool {
	want, sd := b.Predict(o)
	return !(math.Abs(math.Log(o.Days)-want) > unbelievable*sd)
}

// observed is how long a group that hatched took, and what it felt.
func (k *knowledge) observed(g *track.Group) thermal.Observed {
	heat := k.heat(g, k.Track(g.Track))
	felt := heat.Before.Plus(heat.Since)
	half := heat.Latest.Sub(heat.Earliest) / 2
	return thermal.Observed{
		Days: g.Hatched.Sub(heat.Latest.Add(-half)).Hours() / 24, Felt: &felt,
		Own: true, Eggs: g.Born, DaysOff: half.Hours() / 24,
	}
}
