package web

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/bookpages"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// boxPages shows boxes and the clutches in them.
type boxPages struct {
	*page.Site
	things bookpages.Pages
	media  mediumPages
}

// order is how soon a clutch needs a person: its stage, then its date.
type order struct {
	stage int
	at    time.Time
}

// Stages, the most pressing first.
const (
	stageLate = iota
	stageHatching
	stageLook // check daily
	stageAway // before it
	stageNone // no window
	stageDone
)

func (a order) compare(b order) int {
	return cmp.Or(cmp.Compare(a.stage, b.stage), a.at.Compare(b.at))
}

// stateView is the state of a clutch as a badge, and how soon it needs a person.
func stateView(c snapshot.Clutch) (page.Badge, order) {
	var check, likely, late time.Time
	if w := c.Window; w != nil {
		check, likely, late = w.CheckFrom, w.Likely, w.LateAfter
	}
	switch state := words.OrEmpty(c.State); {
	case fate(c.Eggs, "waiting")+fate(c.Eggs, "pipped") == 0:
		return page.Badge{Shape: words.Fine, Word: "finished", Kind: page.KindFine}, order{stage: stageDone}
	case state == snapshot.StateHatching:
		return page.Badge{Shape: words.Other, Word: state, Kind: page.KindOther}, order{stageHatching, late}
	case state == snapshot.StateLate:
		return page.Badge{Shape: words.Other, Word: state, Kind: page.KindOther}, order{stageLate, late}
	case state == snapshot.StateCheckDaily:
		return page.Badge{Shape: words.Other, Word: state, Kind: page.KindOther}, order{stageLook, likely}
	case state == snapshot.StateIncubating:
		return page.Badge{Shape: words.Fine, Word: state, Kind: page.KindFine}, order{stageAway, check}
	case slices.Contains(c.Missing, snapshot.MissingResumption):
		return page.Badge{Shape: words.Silent, Word: "development arrested", Kind: page.KindSilent}, order{stage: stageNone}
	}
	return page.Badge{Shape: words.Silent, Word: "no window yet", Kind: page.KindSilent}, order{stage: stageNone}
}

func fate(eggs []snapshot.Egg, what string) int {
	n := 0
	for _, e := range eggs {
		if e.Fate == what {
			n++
		}
	}
	return n
}

// eggs counts a clutch's eggs by what became of them: "2 eggs waiting", "1 egg
// waiting, 1 hatched".
func eggs(list []snapshot.Egg) string {
	var parts []string
	for _, f := range []string{"waiting", "pipped", "hatched", "lost"} {
		n := fate(list, f)
		switch {
		case n == 0:
		case len(parts) == 0:
			parts = append(parts, words.Count(n, "egg", "eggs")+" "+f)
		default:
			parts = append(parts, fmt.Sprintf("%d %s", n, f))
		}
	}
	if len(parts) == 0 {
		return "no eggs"
	}
	return strings.Join(parts, ", ")
}

// hatching says why a clutch wants a look now.
func hatching(c snapshot.Clutch) string {
	if fate(c.Eggs, "pipped") > 0 {
		return "pipped"
	}
	return "an egg of the clutch hatched"
}

// fromToday reports whether a clutch is to be checked from today. Its state changes at a minute
// of the day, its words do not.
func fromToday(s *page.Site, rank order, at time.Time) bool {
	return rank.stage == stageAway && s.Local(rank.at)[:10] <= s.Local(at)[:10]
}

// felt is what a box feels now and from where.
func (s boxPages) felt(n *snapshot.Snapshot, b snapshot.Box) string {
	if b.Condensing {
		b.Condensing = false
		return s.felt(n, b) + "; it came from a cooler place: water may condense in it for an hour or two, let it drain off the eggs and turn none"
	}
	if k := b.Offset; k != 0 {
		b.Offset = 0
		how := "warmer"
		if k < 0 {
			how = "colder"
		}
		return s.felt(n, b) + "; by the book the box is " + s.Reader.Difference(math.Abs(k)) + " " + how + " than that"
	}
	if b.Probe != nil {
		z, p, ok := n.ProbeOf(*b.Probe)
		if !ok {
			return "probe " + *b.Probe + ", no reading"
		}
		v := s.things.Zones.Probe(n, z, p)
		return strings.Join(slices.DeleteFunc([]string{"probe " + p.Probe, v.Figures, v.Age}, func(s string) bool { return s == "" }), ", ")
	}
	for _, z := range n.Zones {
		if z.Zone == b.Zone && z.Celsius != nil {
			return s.Reader.Temperature(*z.Celsius) + ", no probe of its own"
		}
	}
	return "no probe of its own"
}
