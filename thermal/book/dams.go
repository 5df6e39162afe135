package book

import (
	"slices"
	"strings"
)

func (f *folder) addDam(it *item) {
	name := it.Dam[0]
	if d, ok := f.dams[f.entered(name)]; ok {
		f.fail(it, "dam", "%s is in the book already (%s): give another name, or undo that entry", name, d.it)
		return
	}
	d := &damState{it: it, called: name, profile: it.Profile}
	f.dams[name] = d
	f.damOrder = append(f.damOrder, d)
}

// damsOf finds the dams of an entry. It is false when one is missing, after it
// has added the fault.
func (f *folder) damsOf(it *item) ([]*damState, bool) {
	dams, all := make([]*damState, 0, len(it.Dam)), true
	var missing []string
	for _, name := range it.Dam {
		entered := f.entered(name)
		if d, ok := f.dams[entered]; ok {
			if !slices.Contains(dams, d) { // under two of her names
				dams = append(dams, d)
			}
			continue
		}
		all = false
		if !f.doubted[subject{"dam", name}] && !f.doubted[subject{"dam", entered}] {
			missing = append(missing, name)
		}
	}
	if len(missing) > 0 {
		f.miss(it, "dam", subject{"dam", f.entered(missing[0])}, "%s is not in the book on %s: enter her first, or check the name and the date",
			strings.Join(missing, " and "), it.At)
	}
	return dams, all
}

// applyToDams takes a pairing, a look, a rest or a retirement.
func (f *folder) applyToDams(it *item) {
	dams, ok := f.damsOf(it)
	if !ok {
		return
	}
	if len(dams) == 0 { // a look into a lay box that all dams share
		f.looks = append(f.looks, it)
		return
	}
	for _, d := range dams {
		if d.retired != nil && (it.Kind == KindPairing || it.Kind == KindRetired) {
			f.fail(it, "dam", "%s was retired (%s): undo that entry first", d.name(), d.retired)
			return
		}
	}
	for _, d := range dams {
		switch it.Kind {
		case KindPairing:
			d.pairings = append(d.pairings, it)
		case KindRested:
			d.rests = append(d.rests, it)
		case KindLooked:
			d.looks = append(d.looks, it)
		default:
			d.retired = it
		}
	}
}

func (f *folder) addClutch(it *item) {
	if c, ok := f.clutches[it.Clutch]; ok {
		f.fail(it, "clutch", "%s is in the book already (%s): give it another name, or undo that entry", it.Clutch, c.it)
		return
	}
	dams, ok := f.damsOf(it)
	if !ok {
		f.doubt(&it.Entry)
		return
	}
	mayLay := len(dams) == 0
	for _, d := range dams {
		mayLay = mayLay || d.retired == nil || !d.retired.At.Before(it.LaidAfter)
	}
	if !mayLay {
		f.fail(it, "dam", "%s was retired before these eggs were laid (%s): check the dam, or undo that entry", dams[0].name(), dams[0].retired)
		return
	}
	c := &clutchState{it: it, dams: dams, profile: it.Profile, eggs: make([]eggState, it.Eggs)}
	for i := range c.eggs {
		c.eggs[i].fate = Waiting
	}
	f.clutches[it.Clutch] = c
	f.clutchOrder = append(f.clutchOrder, c)
	for _, d := range dams {
		d.clutches = append(d.clutches, it.Clutch)
	}
}
