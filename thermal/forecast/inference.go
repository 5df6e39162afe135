package forecast

import (
	"cmp"
	"crypto/sha256"
	"encoding/binary"
	"maps"
	"math"
	"slices"

	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/forecast/joint"
	"example.com/ootherm/thermal/track"
)

// inference is what all eggs of a house say together, by one model of the rate.
type inference struct {
	kinds  []*kind
	groups []*groupEvidence
	at     map[string]int // a group's place among the groups
	// sources numbers the probes among the globals, in the order in which groups feel them.
	sources map[track.Source]int
	open    *joint.Posterior
	now     *joint.Posterior
}

// solved is the outcome of an inference over open or present evidence.
type solved struct {
	slope, bend []float64 // of each kind's linearisation
	posterior   *joint.Posterior
}

// cache keeps what the last step inferred, by content.
type cache map[[sha256.Size]byte]*solved

// houseGlobal is the house's own offset; kinds and probes follow.
const houseGlobal = 0

// relinearised bounds how often the rates are linearised again; closeSlope and closeBend
// are when they count as stable.
const (
	relinearised = 4
	closeSlope   = 1e-4 // a kelvin
	closeBend    = 1e-5 // a square kelvin
)

// infer makes the inference of a house. Straight asks for the degree-day line. What last
// holds is not computed again; used takes what is held for the next step.
func (k *knowledge) infer(straight bool, last, used cache) *inference {
	n := k.gather(straight)
	n.order()
	openKey, nowKey := n.content(openEvidence), n.content(openEvidence, nowEvidence)
	open := last[openKey]
	if open == nil {
		open = k.inferOpen(n)
	} else {
		for i, x := range n.kinds {
			if x.at.Slope != open.slope[i] || x.at.Bend != open.bend[i] {
				x.linearise(open.slope[i], open.bend[i])
			}
		}
		k.assessAll(n)
	}
	now := last[nowKey]
	if now == nil {
		now = &solved{}
		if open.posterior != nil {
			now.posterior, _ = joint.Infer(n.problem(nowEvidence), open.posterior)
		}
	}
	used[openKey], used[nowKey] = open, now
	n.open, n.now = open.posterior, now.posterior
	return n
}

// inferOpen linearises the rates until they are stable, and infers from open evidence.
func (k *knowledge) inferOpen(n *inference) *solved {
	for range relinearised {
		mean, ok := joint.Middle(n.problem(openEvidence))
		if !ok || !n.relinearise(mean) {
			break
		}
		k.assessAll(n)
	}
	s := &solved{}
	s.posterior, _ = joint.Infer(n.problem(openEvidence), nil)
	for _, x := range n.kinds {
		s.slope, s.bend = append(s.slope, x.at.Slope), append(s.bend, x.at.Bend)
	}
	return s
}

func openEvidence(s *groupEvidence) *evidence { return &s.open }

func nowEvidence(s *groupEvidence) *evidence { return &s.now }

// relinearise moves the rates of the kinds to a mean of the globals. It reports whether one
// moved.
func (n *inference) relinearise(mean []float64) (moved bool) {
	for _, x := range n.kinds {
		slope, bend := x.mean[1]+mean[x.first+1], x.mean[2]+mean[x.first+2]
		if math.Abs(slope-x.at.Slope) > closeSlope || math.Abs(bend-x.at.Bend) > closeBend {
			x.linearise(slope, bend)
			moved = true
		}
	}
	return moved
}

// gather lists the groups of which the species and the heat are known.
func (k *knowledge) gather(straight bool) *inference {
	n := &inference{at: map[string]int{}}
	kinds := map[string]*kind{}
	for _, g := range k.Groups {
		t := k.Track(g.Track)
		p, ok := k.Profile(g.Profile)
		if !ok || t == nil {
			continue
		}
		x, ok := kinds[g.Profile]
		if !ok {
			b, err := k.priors.of(p)
			if err != nil {
				continue
			}
			if straight {
				b = b.AsLine()
			}
			x = &kind{name: g.Profile, prior: b, apart: p.ArrestedDevelopment}
			x.mean, x.spread = b.Numbers()
			x.linearise(b.Slope, b.Bend)
			kinds[g.Profile] = x
		}
		x.hatched += g.Born
		n.groups = append(n.groups, &groupEvidence{g: g, kind: x, heat: k.heat(g, t), track: t, biases: k.biases(g)})
	}
	n.kinds = slices.Collect(maps.Values(kinds))
	k.assessAll(n)
	return n
}

func (k *knowledge) assessAll(n *inference) {
	f := fatesOf(k.Groups)
	for _, s := range n.groups {
		k.assess(s, f[s.g.Clutch])
	}
}

// order puts kinds, dams, clutches and groups in the order of their content, so that
// neither a name nor the order of the book has a part in any sum.
func (n *inference) order() {
	contents := map[*groupEvidence][]float64{}
	for _, s := range n.groups {
		contents[s] = s.content(openEvidence, nowEvidence)
	}
	byContent := func(a, b *groupEvidence) int { // of two that say the same, either may be first, but always the same one
		return cmp.Or(slices.Compare(contents[a], contents[b]), cmp.Compare(a.g.ID(), b.g.ID()))
	}
	clutches, dams := map[string][]*groupEvidence{}, map[string][][]*groupEvidence{}
	for _, s := range n.groups {
		clutches[s.g.Clutch] = append(clutches[s.g.Clutch], s)
	}
	for _, c := range clutches {
		slices.SortStableFunc(c, byContent)
		dam := damOf(c[0].g)
		dams[dam] = append(dams[dam], c)
	}
	compareClutches := func(a, b []*groupEvidence) int { return slices.CompareFunc(a, b, byContent) }
	all := slices.Collect(maps.Values(dams))
	for _, d := range all {
		slices.SortStableFunc(d, compareClutches)
	}
	slices.SortStableFunc(all, func(a, b [][]*groupEvidence) int { return slices.CompareFunc(a, b, compareClutches) })
	n.groups = n.groups[:0]
	clutch := 0
	for dam, d := range all {
		for _, c := range d {
			for _, s := range c {
				s.dam, s.clutch = dam, clutch
				n.at[s.g.ID()] = len(n.groups)
				n.groups = append(n.groups, s)
			}
			clutch++
		}
	}
	n.kinds = n.kinds[:0]
	for _, s := range n.groups {
		if !slices.Contains(n.kinds, s.kind) {
			s.kind.first = 1 + 3*len(n.kinds)
			n.kinds = append(n.kinds, s.kind)
		}
	}
	n.sources = map[track.Source]int{}
	for _, s := range n.groups {
		for _, b := range s.biases {
			if _, ok := n.sources[b.src]; !ok {
				n.sources[b.src] = 1 + 3*len(n.kinds) + len(n.sources)
			}
		}
	}
}

// problem lays the inference out.
func (n *inference) problem(of func(*groupEvidence) *evidence) joint.Problem {
	p := joint.Problem{Globals: 1 + 3*len(n.kinds) + len(n.sources)}
	p.Priors = append(p.Priors, joint.Normal{First: houseGlobal, Covariance: [][]float64{{thermal.HouseSD * thermal.HouseSD}}})
	for _, x := range n.kinds {
		c := make([][]float64, 3)
		for i := range c {
			c[i] = slices.Clone(x.spread[i][:])
		}
		if x.apart {
			c[0][0] += thermal.HouseSD * thermal.HouseSD
		}
		p.Priors = append(p.Priors, joint.Normal{First: x.first, Covariance: c})
	}
	for _, s := range n.groups {
		for _, b := range s.biases {
			p.Priors = append(p.Priors, joint.Normal{First: n.sources[b.src], Covariance: [][]float64{{b.error * b.error}}})
		}
	}
	for _, s := range n.groups {
		e := of(s)
		g := joint.Group{
			Dam: s.dam, Clutch: s.clutch, ClutchVar: s.lay, OwnVar: s.gaps + s.box,
			Hatched: s.hatched, Waiting: e.waiting, Dead: s.dead, Live: s.live,
			Terms: []joint.Term{{Global: s.kind.first, Value: 1}, {Global: s.kind.first + 1, Value: -e.slope}, {Global: s.kind.first + 2, Value: -e.bend}},
		}
		house := 1.0
		if s.kind.apart {
			house = 0
		}
		g.Terms = append(g.Terms, joint.Term{Global: houseGlobal, Value: house})
		for _, b := range s.biases {
			g.Terms = append(g.Terms, joint.Term{Global: n.sources[b.src], Value: -b.share * e.kelvin})
		}
		p.Groups = append(p.Groups, g)
	}
	return p
}

// content is a hash of all that an inference over some evidence sees.
func (n *inference) content(of ...func(*groupEvidence) *evidence) [sha256.Size]byte {
	h := sha256.New()
	var b [8]byte
	put := func(v float64) {
		binary.LittleEndian.PutUint64(b[:], math.Float64bits(v))
		h.Write(b[:])
	}
	for _, s := range n.groups {
		put(float64(s.dam))
		put(float64(s.clutch))
		put(float64(s.kind.first))
		for _, v := range s.content(of...) {
			put(v)
		}
		for _, x := range s.biases {
			put(float64(n.sources[x.src]))
			put(x.error)
		}
	}
	return [sha256.Size]byte(h.Sum(nil))
}

// needs are what a group's eggs need, as a window takes it, by one posterior.
func (n *inference) needs(p *joint.Posterior, i int) []thermal.Need {
	s := n.groups[i]
	level := []int{s.kind.first}
	if !s.kind.apart {
		level = append(level, houseGlobal)
	}
	also := []int{s.kind.first + 1, s.kind.first + 2}
	for _, b := range s.biases {
		also = append(also, n.sources[b.src])
	}
	var all []thermal.Need
	for _, x := range p.Need(i, level, also) {
		for k, m := range s.kind.mean {
			x.Mean[k] += m
		}
		all = append(all, thermal.Need{
			Weight: x.Weight, Mean: x.Mean, Covariance: x.Covariance, Egg: x.Egg, Unlearned: x.Clutch,
			Published: math.Min(1, x.Covariance[0][0]/s.published()),
		})
	}
	return all
}
