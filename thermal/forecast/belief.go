package forecast

import (
	"maps"
	"math"
	"slices"

	"example.com/ootherm/thermal"
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

// knowledge is what a house has learned from its hatches.
type knowledge struct {
	House
	priors  priors
	doubted map[string]float64 // clutches whose hatch is not believed, and after how many days it was
}

// belief is what is believed of a group's species in this house. Hatches of other
// species teach the house alone, then those of its own species all there is to
// learn; a dam's own offset is learned from her own clutches. The group itself
// teaches it nothing.
func (k *knowledge) belief(g *track.Group) (thermal.Belief, error) {
	p, _ := k.Profile(g.Profile)
	b, err := k.priors.of(p)
	if err != nil {
		return thermal.Belief{}, err
	}
	for _, other := range k.hatchedProfiles() {
		if other == g.Profile {
			continue
		}
		p, ok := k.Profile(other)
		if !ok {
			continue
		}
		o, err := k.priors.of(p)
		if err != nil {
			return thermal.Belief{}, err
		}
		b = b.Beside(k.learned(o, other, g))
	}
	return k.learned(b, g.Profile, g), nil
}

// unbelievable is how many standard deviations off a hatch teaches nothing: a slip
// in its dates is likelier than such an egg (our choice).
const unbelievable = 4

// believed reports whether a duration lies within what a belief allows.
func believed(b thermal.Belief, o thermal.Observed) bool {
	want, sd := b.Predict(o)
	return !(math.Abs(math.Log(o.Days)-want) > unbelievable*sd)
}

// learned is a species' belief after its own hatches here, save those of a group:
// one observation for each clutch, of the mean of its eggs.
func (k *knowledge) learned(b thermal.Belief, profile string, save *track.Group) thermal.Belief {
	for _, h := range k.Groups {
		if h.Profile != profile || h.ID() == save.ID() || !k.teaches(h) {
			continue
		}
		o := k.observed(h)
		o.SameDam = len(h.Dams) == 1 && len(save.Dams) == 1 && h.Dams[0] == save.Dams[0]
		if !believed(b, o) {
			k.doubted[h.Clutch] = o.Days
			continue
		}
		b = b.Learn(o)
	}
	return b
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

// teaches reports whether a group's hatch is known whole: all its eggs hatched or
// were lost, and what they felt is known.
func (k *knowledge) teaches(g *track.Group) bool {
	return g.Born > 0 && !g.Waiting && k.Track(g.Track) != nil
}

// hatchedProfiles are the species that have hatched here, in order of their names.
func (k *knowledge) hatchedProfiles() []string {
	set := map[string]bool{}
	for _, g := range k.Groups {
		if k.teaches(g) {
			set[g.Profile] = true
		}
	}
	return slices.Sorted(maps.Keys(set))
}
