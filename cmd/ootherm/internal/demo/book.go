package demo

import (
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.com/ootherm/thermal/book"
)

// females lists the dams and their mates. A dam without a mate was never seen paired.
var females = []struct{ dam, profile, sire string }{
	{"Sorrel", "crested gecko", "Juniper"}, {"Tansy", "crested gecko", "Juniper"}, {"Lovage", "crested gecko", ""},
	{"Yarrow", "gargoyle gecko", "Rowan"}, {"Borage", "gargoyle gecko", "Rowan"}, {"Hyssop", "leopard gecko", "Alder"},
	{"Fennel", "crested gecko", "Juniper"},
}

// clutchPlan is one clutch of the season.
type clutchPlan struct {
	foundDay float64
	id       string
	dams     string  // joined by +; empty: not known
	lookDays float64 // days between the last look and the find
	// fates has one word for each egg, with days after the find: h hatched (and the
	// hatchling d died, that many days later), s a slug, i infertile, m mould, d dead in
	// the egg, w still waiting.
	fates string
}

// clutches lists the clutches of the season. Lovage's are mostly slugs, and Tansy's take a
// few days more. One clutch is Sorrel's or Tansy's.
var clutches = []clutchPlan{
	{1, "S1", "Sorrel", 1, "h99 h100"}, {3, "T1", "Tansy", 1, "h104 m21"}, {6, "Y1", "Yarrow", 2, "h76 h77"},
	{8, "L1", "Lovage", 3, "s s"}, {14, "H1", "Hyssop", 1, "h50 h51"}, {21, "O1", "Borage", 1, "h79 d82"},
	{29, "U1", "", 2, "h101"}, {33, "S2", "Sorrel", 1, "h100d6 h101"}, {36, "T2", "Tansy", 2, "h106 h106"},
	{40, "L2", "Lovage", 2, "s h102"}, {44, "H2", "Hyssop", 1, "h51 h53"}, {48, "Y2", "Yarrow", 1, "h74 h75d10"},
	{52, "G1", "Sorrel+Tansy", 2, "h99 i"}, {64, "O2", "Borage", 2, "h78 h80"}, {65, "S3", "Sorrel", 1, "h101 h102"},
	{70, "T3", "Tansy", 1, "w w"}, {75, "L3", "Lovage", 2, "s i"}, {76, "H3", "Hyssop", 1, "h50 h52"},
	{92, "Y3", "Yarrow", 2, "h75 w"}, {98, "S4", "Sorrel", 1, "w w"}, {104, "T4", "Tansy", 1, "w m30"},
	{106, "H4", "Hyssop", 2, "h52 h52"}, {110, "L4", "Lovage", 3, "s s"}, {118, "O3", "Borage", 2, "w w"},
	{131, "S5", "Sorrel", 1, "w w"}, {136, "Y4", "Yarrow", 1, "w w"}, {138, "H5", "Hyssop", 1, "w w"},
	{139, "T5", "Tansy", 2, "w w"}, {145, "L5", "Lovage", 2, "s w"}, {152, "O4", "Borage", 1, "w w"},
	{160, "S6", "Sorrel", 1, "w w"}, {162, "H6", "Hyssop", 1, "w w"},
}

// earlierClutches lists clutches of the season before, for which the book has no boxes.
var earlierClutches = []clutchPlan{
	{-390, "E1", "Sorrel", 1, "h103 h104"}, {-380, "E2", "Tansy", 2, "h108 i"}, {-372, "E3", "Fennel", 1, "s m40"},
	{-355, "E4", "Sorrel", 1, "h101 h102d3"}, {-340, "E5", "Tansy", 1, "h105 h106"}, {-335, "E6", "Fennel", 2, "s s"},
}

// entries collects the entries of the book in any order.
type entries struct {
	day0  time.Time
	lines []entry
	err   error
}

type entry struct {
	at   time.Time
	body string
}

// add adds an entry on a day of the season, which may have a fraction.
func (n *entries) add(day float64, kind string, fields ...any) {
	var b strings.Builder
	fmt.Fprintf(&b, `"entry":%q`, kind)
	for i := 0; i < len(fields); i += 2 {
		value, err := json.Marshal(fields[i+1])
		if err != nil && n.err == nil {
			n.err = fmt.Errorf("%s: %w", kind, err)
		}
		fmt.Fprintf(&b, `,%q:%s`, fields[i], value)
	}
	n.lines = append(n.lines, entry{n.time(day), b.String()})
}

// time gives the time of a day of the season.
func (n *entries) time(day float64) time.Time {
	return n.day0.Add(time.Duration(day * 24 * float64(time.Hour))).Truncate(time.Second)
}

// Book gives the entries that the breeder noted.
func (s Season) Book() ([]book.Entry, error) {
	n := &entries{day0: s.began.Truncate(24 * time.Hour)}
	for i, f := range females {
		n.add(-400+float64(i)/1000, "dam", "dam", f.dam, "profile", f.profile)
		if f.sire != "" {
			n.add(-398+float64(i)/1000, "pairing", "dam", f.dam, "sire", f.sire)
		}
		if f.sire != "" && f.dam != "Fennel" {
			n.add(-30+float64(i)/1000, "pairing", "dam", f.dam, "sire", f.sire)
		}
	}
	n.add(-200, "retired", "dam", "Fennel")
	for _, c := range earlierClutches {
		n.clutch(c)
		for i, fate := range strings.Fields(c.fates) {
			n.fate(c, i, fate)
		}
	}
	shelf := []*eggBox{{id: "B1", probe: "dummy box"}, {id: "B2", probe: "dummy box"}, {id: "B3"}, {id: "B4"}, {id: "B5"}, {id: "B6"}, {id: "B7"}}
	incubator := []*eggBox{{id: "N1"}, {id: "N2"}, {id: "N3"}}
	for _, b := range incubator {
		b.zone = "incubator"
	}
	for _, b := range shelf {
		b.zone = "shelf"
	}
	for _, c := range clutches {
		n.clutch(c)
		at := shelf
		if c.id[0] == 'H' {
			at = incubator
		}
		n.place(c, at)
	}
	for _, b := range slices.Concat(shelf, incubator) {
		n.weigh(b)
	}
	n.add(78.4, "note", "about", "S3-1", "text", "a small dent, firm again after watering")
	n.add(120.4, "note", "about", "incubator", "text", "thermostat cleaned")
	n.add(168.8, "looked", "dam", "Yarrow", "found", false)
	n.add(168.8, "looked", "dam", "Tansy", "found", "digging")
	if n.err != nil {
		return nil, n.err
	}
	slices.SortStableFunc(n.lines, func(a, b entry) int { return a.at.Compare(b.at) })
	var all strings.Builder
	for i, e := range n.lines {
		fmt.Fprintf(&all, `{"key":"demo-%03d","at":%q,%s}`+"\n", i+1, e.at.Format(time.RFC3339), e.body)
	}
	return book.ReadAll(strings.NewReader(all.String()))
}

// evening is the time of day of a look for eggs, as a part of a day.
const evening = 0.8

// clutch adds the find of a clutch, and the look before it.
func (n *entries) clutch(c clutchPlan) {
	fields := []any{"clutch", c.id}
	if c.dams != "" {
		dams := strings.Split(c.dams, "+")
		n.add(c.foundDay+evening-c.lookDays, "looked", "dam", dams, "found", false)
		fields = append(fields, "dam", dams)
	} else {
		fields = append(fields, "profile", "crested gecko")
	}
	found := n.time(c.foundDay + evening)
	n.add(c.foundDay+evening, "clutch", append(fields, "eggs", len(strings.Fields(c.fates)),
		"laid_after", found.Add(-time.Duration(c.lookDays*24)*time.Hour), "laid_by", found)...)
}

// fate adds the entries of an egg's fate, and gives the day on which it left its box. A
// waiting egg leaves after the season.
func (n *entries) fate(c clutchPlan, i int, fate string) float64 {
	egg := book.EggID(c.id, i+1)
	rest, died, dies := strings.Cut(fate[1:], "d")
	after, _ := strconv.ParseFloat(rest, 64) // no number is zero
	day := c.foundDay + after + 0.3 + 0.07*float64(i)
	switch fate[0] {
	case 's':
		n.add(c.foundDay+12.4, "candled", "egg", egg, "verdict", book.Slug)
		n.add(c.foundDay+12.41, "lost", "egg", egg, "why", "slug")
		return c.foundDay + 12.41
	case 'i':
		n.add(c.foundDay+21.4, "candled", "egg", egg, "verdict", book.Infertile)
		n.add(c.foundDay+34.4, "lost", "egg", egg, "why", "collapsed")
		return c.foundDay + 34.4
	}
	if c.foundDay+21.4 < Days {
		n.add(c.foundDay+21.4, "candled", "egg", egg, "verdict", book.Fertile)
	}
	switch fate[0] {
	case 'm':
		n.add(day, "lost", "egg", egg, "why", "mould")
	case 'd':
		n.add(day, "lost", "egg", egg, "why", "full term, did not hatch")
	case 'h':
		n.add(day-0.4, "pipped", "egg", egg)
		n.add(day, "hatched", "egg", egg, "mass_g", grams(1.7, egg))
		last := Days - day
		if dies {
			last, _ = strconv.ParseFloat(died, 64)
			n.add(day+last, "hatchling", "egg", egg, "what", book.Died)
		}
		n.hatchling(egg, day, last)
	default:
		return 2 * Days
	}
	return day
}

// hatchling adds the entries of a hatchling's first weeks.
func (n *entries) hatchling(egg string, day, last float64) {
	for _, x := range []struct {
		after float64
		what  string
		mass  float64
	}{{2.1, book.Shed, 0}, {4.6, book.Fed, 0}, {14.5, book.Weighed, 2.0}, {30.5, book.Weighed, 2.6}, {60.5, book.Weighed, 3.9}} {
		switch {
		case x.after >= last-0.2:
			return
		case x.mass > 0:
			n.add(day+x.after, "hatchling", "egg", egg, "what", x.what, "mass_g", grams(x.mass, egg))
		default:
			n.add(day+x.after, "hatchling", "egg", egg, "what", x.what)
		}
	}
}

// grams gives a mass that differs a little from egg to egg.
func grams(about float64, egg string) json.Number {
	sum := uint64(0)
	for _, c := range []byte(egg) {
		sum = sum*31 + uint64(c)
	}
	return json.Number(strconv.FormatFloat(about+0.06*hash(sum), 'f', 1, 64))
}

// eggBox is a box and its uses.
type eggBox struct {
	id, zone, probe string
	uses            []use
}

// use is the time of a box from one set-up to the next.
type use struct {
	from  float64
	slots []float64 // the day on which each is free again
	moves []move
}

// move is an egg that was put in (1) or left (-1).
type move struct {
	day   float64
	count int
}

// A box takes maxEggs eggs, all within its first fillDays days: so they hatch at about one
// time, and the box is emptied and used again.
const (
	maxEggs  = 6
	fillDays = 25
)

// place puts a clutch into the first box with enough room.
func (n *entries) place(c clutchPlan, boxes []*eggBox) {
	fates := strings.Fields(c.fates)
	day := c.foundDay + evening
	for _, b := range boxes {
		u := n.currentUse(b, day)
		free := maxEggs - len(u.slots)
		for _, until := range u.slots {
			if until < day {
				free++
			}
		}
		if free < len(fates) || day-u.from > fillDays {
			continue
		}
		for i, fate := range fates {
			slot := slices.IndexFunc(u.slots, func(until float64) bool { return until < day })
			if slot < 0 {
				slot = len(u.slots)
				u.slots = append(u.slots, 0)
			}
			at := day + 0.002*float64(i+1)
			n.add(at, "placed", "egg", book.EggID(c.id, i+1), "box", b.id, "slot", string(rune('a'+slot)))
			u.slots[slot] = n.fate(c, i, fate)
			u.moves = append(u.moves, move{at, 1}, move{u.slots[slot], -1})
		}
		return
	}
	n.err = fmt.Errorf("no box has room for %s", c.id)
}

// currentUse gives the current use of a box. A box whose eggs are gone is emptied and set up
// again.
func (n *entries) currentUse(b *eggBox, day float64) *use {
	if len(b.uses) > 0 {
		u := &b.uses[len(b.uses)-1]
		last := slices.Max(append(u.slots, 0))
		if last > day-3 || len(u.slots) == 0 {
			return u
		}
		n.add(last+0.5, "emptied", "box", b.id)
	}
	fields := []any{"box", b.id, "zone", b.zone, "medium", "vermiculite", "dry_g", 40, "water_g", 40, "total_g", 112}
	if b.probe != "" {
		fields = append(fields, "probe", b.probe)
	}
	n.add(day-0.01, "box", fields...)
	b.uses = append(b.uses, use{from: day - 0.01})
	return &b.uses[len(b.uses)-1]
}

// weigh adds the weighings of a box, one in two weeks, and the water that was added.
func (n *entries) weigh(b *eggBox) {
	for i := range b.uses {
		u := &b.uses[i]
		end := min(slices.Max(append(u.slots, 0)), Days-1)
		loss := 0.25 // g a day
		if b.id == "B5" {
			loss = 0.9 // its lid does not close
		}
		for day := u.from + 14; day < end; day += 14 {
			eggs := 0
			for _, m := range u.moves {
				if m.day > u.from+1 && m.day <= day {
					eggs += m.count
				}
			}
			total := 112 - loss*14 + 1.6*float64(eggs)
			n.add(day, "weighed", "box", b.id, "total_g", json.Number(strconv.FormatFloat(total, 'f', 1, 64)))
			if b.id == "B5" && day+14 >= end {
				return // the last weighing was forgotten
			}
			n.add(day+0.003, "watered", "box", b.id, "water_g", json.Number(strconv.FormatFloat(loss*14, 'f', 1, 64)))
		}
	}
}
