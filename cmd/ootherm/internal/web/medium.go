package web

import (
	"cmp"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book/husbandry"
)

// mediumPages shows what the boxes' media need.
type mediumPages struct{ *page.Site }

// mediumView is a box's medium and what its weighings say.
type mediumView struct {
	page.Badge
	waterView
	Box, Href, Zone, SetUp string
	Soon                   string // what it needs, in short
	Open                   bool   // it needs a person
	Warning, Unknown       string
	WeighHref, WaterHref   string
	rank                   int
	at                     time.Time
}

// waterView is the water that a medium lost, and when it is weighed again.
type waterView struct{ Add, Gone, PerDay, Foretold, Now, Weigh string }

// How soon a medium needs a person.
const (
	mediumWarned = iota
	mediumDry
	mediumWeigh
	mediumFine
	mediumUnknown
	mediumNothing
)

func (s mediumPages) view(b snapshot.Box, at time.Time) mediumView {
	v := mediumView{Box: b.Box, Href: page.BoxHref(b.Box), Zone: b.Zone, rank: mediumUnknown, Badge: page.Badge{Shape: words.Silent, Word: "not known", Kind: page.KindSilent},
		WeighHref: "/note/weighed?" + url.Values{"box": {b.Box}}.Encode()}
	m := b.Medium
	if m == nil {
		v.Unknown, v.rank = "nothing is noted of it", mediumNothing
		return v
	}
	v.SetUp = words.SetUp(m.Filling)
	due := m.WeighNext != nil && !at.Before(*m.WeighNext)
	if m.WeighNext != nil {
		v.at = *m.WeighNext
		v.Weigh = s.Reader.Date(*m.WeighNext)
		if due {
			v.Weigh = "due since " + v.Weigh
			v.rank, v.Badge = mediumWeigh, page.Badge{Shape: words.Other, Word: "weigh it", Kind: page.KindOther}
		}
	}
	v.Unknown = words.OrEmpty(m.Unknown)
	switch {
	case m.Drying != nil:
		v.Foretold, v.Now = cmp.Or(words.ForetoldLoss(*m.Drying, at, s.Reader), words.NotForetold), words.LossNow(*m.Drying)
	case m.Weighed != nil:
		v.Foretold = words.NotLearned
	}
	if m.Add == nil || m.AddLow == nil || m.AddHigh == nil || m.Weighed == nil {
		return v
	}
	if v.Warning = words.OrEmpty(m.Warning); v.Warning == "" {
		v.Add = words.ToAdd(*m.AddLow, *m.AddHigh)
		v.WaterHref = "/note/watered?" + url.Values{"box": {b.Box}, "water_g": {strings.TrimSuffix(words.Grams(*m.AddLow), " g")}}.Encode()
	}
	v.Gone = "nothing"
	if *m.AddHigh > 0 {
		v.Gone = words.Range(*m.AddLow, *m.AddHigh)
	}
	if m.Lost != nil && *m.Lost > 0 {
		v.Gone += " (at least " + words.Percent(*m.Lost) + ")"
	}
	if left := words.RatioLeft(*m); left != "" {
		v.Gone += ", now " + left + " water to dry"
	}
	v.Gone += "; weighed " + s.Reader.When(*m.Weighed, at)
	if m.PerDay != nil {
		v.PerDay = words.Grams(*m.PerDay)
	}
	switch {
	case v.Warning != "":
		v.rank, v.Badge = mediumWarned, page.Badge{Shape: words.Other, Word: "weigh it again", Kind: page.KindOther}
	case m.Lost != nil && *m.Lost >= husbandry.DryShare:
		v.rank, v.Badge = mediumDry, page.Badge{Shape: words.Other, Word: "drying out", Kind: page.KindOther}
	case words.OnlyForetold(*m, husbandry.DryShare):
		v.rank, v.Badge = mediumWeigh, page.Badge{Shape: words.Other, Word: "probably dry: weigh it", Kind: page.KindOther}
		if !due {
			v.Weigh = "now, since it has probably dried"
		}
	case due:
	case m.Water != nil && *m.AddHigh >= husbandry.DryShare**m.Water:
		v.Badge = page.Badge{Shape: words.Silent, Word: "may be drying", Kind: page.KindSilent}
	default:
		v.rank, v.Badge = mediumFine, page.Badge{Shape: words.Fine, Word: "wet enough", Kind: page.KindFine}
	}
	return v
}

type mediumPage struct {
	page.Frame
	Dry, Ratio, Water, Fault string
	Boxes                    []mediumView
	Writable                 bool
}

// page is the page of all media: what to add, when to weigh, and how much
// water a fresh one takes.
func (s mediumPages) page(w http.ResponseWriter, r *http.Request) {
	n := s.State(w, r)
	if n == nil {
		return
	}
	q := r.URL.Query()
	v := mediumPage{Frame: s.Frame(n, "Medium and water").In("boxes"), Dry: q.Get("dry"), Ratio: q.Get("ratio"), Writable: s.Writer != nil && s.Trusted(r)}
	status := http.StatusOK
	if v.Dry != "" || v.Ratio != "" {
		var err error
		if v.Water, err = waterFor(v.Dry, v.Ratio); err != nil {
			_, v.Fault = s.Refusal(err)
			status = http.StatusBadRequest
		}
	}
	for _, b := range n.Boxes {
		x := s.view(b, n.At)
		x.Open = x.rank <= mediumWeigh
		switch {
		case x.Warning != "" || x.rank == mediumNothing:
		case x.rank == mediumDry:
			x.Soon = "add " + words.Range(*b.Medium.AddLow, *b.Medium.AddHigh)
		case x.Weigh != "":
			x.Soon = "weigh next " + x.Weigh
			if x.rank == mediumWeigh {
				x.Soon = x.Weigh
			}
		}
		v.Boxes = append(v.Boxes, x)
	}
	slices.SortStableFunc(v.Boxes, func(a, b mediumView) int { return cmp.Or(cmp.Compare(a.rank, b.rank), a.at.Compare(b.at)) })
	s.Render(w, status, "medium", v)
}

// waterFor is how much water a dry medium takes, in words.
func waterFor(dry, ratio string) (string, error) {
	number := func(s, what string, most float64) (float64, error) {
		f, err := strconv.ParseFloat(strings.Replace(strings.TrimSpace(s), ",", ".", 1), 64)
		if s == "" {
			return math.NaN(), usererr.New(fmt.Sprintf("%s is missing; write a number above 0, up to %g.", what, most))
		}
		if err != nil || !(f > 0 && f <= most) {
			return math.NaN(), usererr.New(fmt.Sprintf("%s is %q; write a number above 0, up to %g.", what, s, most))
		}
		return f, nil
	}
	d, err := number(dry, "The dry medium", 100_000)
	if err != nil {
		return "", err
	}
	x, err := number(ratio, "The ratio", 20)
	if err != nil {
		return "", err
	}
	water := husbandry.WaterFor(d, x)
	return fmt.Sprintf("%s of water, which are %s ml: %s of wet medium, without the box", words.Grams(water), strings.TrimSuffix(words.Grams(water), " g"), words.Grams(d+water)), nil
}
