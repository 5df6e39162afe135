package notice

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book/husbandry"
)

// dryShare is the lost share of its water from which a box has an alarm of a priority.
func dryShare(p alert.Priority) float64 {
	if p == alert.Warning {
		return husbandry.VeryDryShare
	}
	return husbandry.DryShare
}

// dryHeadline says what to do for a dry box, or how fast the air of a zone dries boxes.
func dryHeadline(c *composer, e alert.Event, h *head) {
	m := c.Media[e.Key.Box]
	switch {
	case e.Key.Box == "":
		h.says("dries its boxes fast")
		if times := mostTimes(c.dryingIn(e.Key.Zone)); times > 0 {
			h.says(fmt.Sprintf("boxes dry %.1f times as fast", times))
		}
	case m != nil && words.OnlyForetold(*m, dryShare(e.Key.Priority)):
		h.says("probably drying out: weigh it")
	case m == nil || m.Add == nil || m.Warning != nil:
		h.says("drying out: weigh it")
	default:
		h.says("drying out: add " + words.Grams(*m.AddLow))
	}
}

func dryDetail(c *composer, e alert.Event) []string {
	if e.Key.Box == "" {
		return fastDetail(c, e)
	}
	m := c.Media[e.Key.Box]
	if m != nil && words.OnlyForetold(*m, dryShare(e.Key.Priority)) {
		return foretoldDetail(*m.Drying, e.At, c.r)
	}
	if m == nil || m.Add == nil || m.Weighed == nil {
		return nil
	}
	weighed := "Weighed " + c.r.When(*m.Weighed, e.At) + ": "
	if m.Warning != nil {
		return []string{weighed + *m.Warning + "."}
	}
	weighed += words.Range(*m.AddLow, *m.AddHigh) + " of water gone, " + words.Percent(*m.Lost) + " or more of what it began with"
	if m.PerDay != nil && *m.PerDay > 0 {
		weighed += ", " + words.Grams(*m.PerDay) + " a day"
	}
	return []string{
		weighed + ".",
		"Add " + words.Range(*m.AddLow, *m.AddHigh) + " (the same in ml), lukewarm, into the medium beside the eggs and not on them; begin with the less. No more than that: eggs drown too.",
	}
}

// FirstWhereItDries is what a person does first about an alarm where drying is computed alone;
// empty where it is not. The medium is that of the alarm's box, or nil.
func FirstWhereItDries(k alert.Key, m *snapshot.Medium) string {
	if k.Kind != alert.Drying {
		return ""
	}
	if k.Box == "" {
		return words.Alarm(string(alert.HumidityLow)).First
	}
	if m != nil && words.OnlyForetold(*m, dryShare(k.Priority)) {
		soon := "in the next days"
		if k.Priority == alert.Warning {
			soon = "today"
		}
		if m.Lost != nil && *m.Lost >= husbandry.DryShare && m.AddLow != nil && m.AddHigh != nil {
			return "Weigh the box " + soon + " and note it, then add what its page says. By the last weighing it was " + words.Range(*m.AddLow, *m.AddHigh) + "."
		}
		return "Weigh the box " + soon + " and note it. Its page then says how much water to add. Add none before."
	}
	return ""
}

// dryingIn are the boxes of a zone with waiting eggs whose loss was learned, by name.
func (c *composer) dryingIn(zone string) map[string]*snapshot.Drying {
	all := map[string]*snapshot.Drying{}
	for _, x := range c.Clutches {
		if m := c.Media[x.Box]; x.Zone == zone && x.Waiting && m != nil && m.Drying != nil && m.Drying.Times != nil {
			all[x.Box] = m.Drying
		}
	}
	return all
}

func mostTimes(all map[string]*snapshot.Drying) (most float64) {
	for _, d := range all {
		most = max(most, *d.Times)
	}
	return most
}

// fastDetail says what the boxes of a zone lose a day now, and usually, the fastest first.
func fastDetail(c *composer, e alert.Event) []string {
	if said := DryingFast(c.dryingIn(e.Key.Zone)); said != "" {
		return []string{said, words.HowForetold}
	}
	return nil
}

// DryingFast says what boxes lost in the last day, and usually lose, the fastest first. Empty
// without boxes.
func DryingFast(boxes map[string]*snapshot.Drying) string {
	names := slices.Sorted(maps.Keys(boxes))
	slices.SortStableFunc(names, func(a, b string) int {
		switch x, y := *boxes[a].Times, *boxes[b].Times; {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return 0
	})
	var all []string
	for _, name := range names[:min(len(names), maxNamedBoxes)] {
		d := boxes[name]
		all = append(all, fmt.Sprintf("box %s %s, usually %s", name, words.Grams(*d.LastDay), words.Grams(d.Usual)))
	}
	if len(all) == 0 {
		return ""
	}
	if more := len(names) - len(all); more > 0 {
		all = append(all, words.Count(more, "more box", "more boxes"))
	}
	return "The air takes more water from the boxes than before. They probably lost in the last day: " + strings.Join(all, "; ") + "."
}

func foretoldDetail(d snapshot.Drying, at time.Time, r words.Reader) []string {
	if said := words.ForetoldLoss(d, at, r); said != "" {
		return []string{said, words.HowForetold}
	}
	return []string{words.HowForetold}
}

// Dries says what is computed of an alarm of drying; empty where it is weighed.
func Dries(k alert.Key, media map[string]*snapshot.Medium, clutches []Clutch, at time.Time, r words.Reader) string {
	c := &composer{Facts{Media: media, Clutches: clutches}, r}
	if k.Box == "" {
		return strings.Join(fastDetail(c, alert.Event{Key: k}), " ")
	}
	if m := media[k.Box]; m != nil && words.OnlyForetold(*m, dryShare(k.Priority)) {
		return strings.Join(foretoldDetail(*m.Drying, at, r), " ")
	}
	return ""
}
