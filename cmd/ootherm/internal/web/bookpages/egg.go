package bookpages

import (
	"fmt"
	"html/template"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/chart"
	"example.com/ootherm/cmd/ootherm/internal/web/notes"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/web/zones"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
)

// Pages shows a thing of the book a page.
type Pages struct {
	*page.Site
	Zones *zones.Views
}

// link is a text with an address; without one it is the text alone.
type link struct{ Href, Text string }

// eggPage is an egg, or the hatchling that it became.
type eggPage struct {
	page.Frame
	notes.Log
	What, Name  string
	Icon        template.HTML
	Clutch      link
	Of          string // its dams and its days
	Answer, Sub string
	Row         EggRow
	Doors       []notes.Door
	Growth      template.HTML
	Felt        Felt
	Stays       []stayView
}

// stayView is where an egg was, and until when.
type stayView struct {
	Box   link
	Where string
}

// ServeEgg shows an egg.
func (s Pages) ServeEgg(w http.ResponseWriter, r *http.Request) {
	n, b := s.Open(w, r)
	if b == nil {
		return
	}
	e, ok := b.Egg(r.PathValue("egg"))
	if !ok {
		s.Message(w, r, http.StatusNotFound, "No such egg", fmt.Sprintf("No egg is called %q. The search finds every name.", r.PathValue("egg")))
		return
	}
	c, _ := b.Clutch(e.Clutch)
	back := page.EggHref(e.ID)
	m := EggsFor(s.Site, r, n, back)
	v := eggPage{What: "Egg", Name: e.ID, Icon: chart.Icon(Symbol(string(e.Fate))), Clutch: link{page.ClutchHref(c.ID), strings.TrimSpace(strings.Join(c.Dams, " or ") + " " + c.ID)},
		Of: "laid " + s.Reader.Days(c.Laid.After, c.Laid.By), Row: m.Row(e.ID, e.Slot, string(e.Fate)), Log: notes.Pages{Site: s.Site}.LogOf(r, b, back, OfEgg(e))}
	if e.Fate == book.Hatched {
		v.What = "Hatchling"
	}
	v.Frame = s.Frame(n, v.What+" "+e.ID)
	v.Here = "boxes"
	v.Answer, v.Sub = s.eggState(n, c, e)
	for _, x := range e.Stays {
		v.Stays = append(v.Stays, s.stay(x))
	}
	until := n.At
	if !e.FateAt.IsZero() && e.Fate != book.Pipped {
		until = e.FateAt
	}
	v.Felt = s.FeltSince(r.Context(), n, c.Profile, e.Stays, c.Laid.By, until, OfEgg(e))
	if f := s.growth(e); f != nil {
		v.Growth = f.HTML()
	}
	if m.Noting() {
		if e.Fate == book.Waiting || e.Fate == book.Pipped {
			kind, title := "egg-moved", "Egg moved"
			if e.Box == "" {
				kind, title = "placed", "Egg placed"
			}
			v.Doors = append(v.Doors, Door(kind, title, url.Values{"egg": {e.ID}, "back": {back}}))
		}
		v.Doors = append(v.Doors, Door("note", "A note", url.Values{"about": {e.ID}, "back": {back}}))
	}
	s.Render(w, http.StatusOK, "egg", v)
}

// Door leads to a form with some answers.
func Door(kind, title string, answers url.Values) notes.Door {
	return notes.Door{Href: "/note/" + kind + "?" + answers.Encode(), Title: title}
}

// eggState says what became of an egg, or when it hatches.
func (s Pages) eggState(n *snapshot.Snapshot, c book.Clutch, e book.Egg) (answer, sub string) {
	r := s.Reader
	after := words.Count(days(c, e), "day", "days") + " after it was laid."
	switch e.Fate {
	case book.Hatched:
		return "Hatched " + r.Days(e.FateAt, e.FateAt), after + " " + s.age(n, e)
	case book.Lost:
		return "Lost " + r.Days(e.FateAt, e.FateAt), after
	case book.Pipped:
		return "Pipped " + r.When(e.FateAt, n.At), s.awaited(n, e)
	}
	return "Waiting", s.awaited(n, e)
}

// age is how old a hatchling is, or was when it died.
func (s Pages) age(n *snapshot.Snapshot, e book.Egg) string {
	days := func(at time.Time) string {
		return words.Count(int(at.Sub(e.FateAt).Hours()/24), "day", "days") + " old."
	}
	for _, h := range e.Hatchling {
		if h.What == book.Died {
			return "Died " + s.Reader.Date(h.At) + ", " + days(h.At)
		}
	}
	return "Now " + days(n.At)
}

// awaited is how far an egg is and when its clutch hatches, as far as the station knows.
func (s Pages) awaited(n *snapshot.Snapshot, e book.Egg) string {
	for _, box := range n.Boxes {
		i := slices.IndexFunc(box.Clutches, func(c snapshot.Clutch) bool {
			return slices.ContainsFunc(c.Eggs, func(x snapshot.Egg) bool { return x.Egg == e.ID })
		})
		if i < 0 {
			continue
		}
		c, text := box.Clutches[i], ""
		if c.Developed != nil {
			text = words.Percent(*c.Developed) + " developed. "
		}
		if w := c.Window; w != nil {
			text += words.Capital(s.Reader.Likely(*w)) + ", in the window " + s.Reader.ShortDays(w.CheckFrom, w.LateAfter) + "."
		}
		return strings.TrimSpace(text)
	}
	return ""
}

// days are the whole days from laid to what became of an egg.
func days(c book.Clutch, e book.Egg) int {
	return int(math.Round(e.FateAt.Sub(c.Laid.By).Hours() / 24))
}

func (s Pages) stay(x book.Stay) stayView {
	v := stayView{Box: link{page.BoxHref(x.Box), "box " + x.Box}}
	var parts []string
	if x.Slot != "" {
		parts = append(parts, "slot "+x.Slot)
	}
	if x.Zone != "" {
		parts = append(parts, "in "+x.Zone)
	}
	if x.Probe != "" {
		parts = append(parts, "probe "+x.Probe)
	}
	if x.To.IsZero() {
		parts = append(parts, "since "+s.Reader.Date(x.From))
	} else {
		parts = append(parts, s.Reader.Days(x.From, x.To))
	}
	v.Where = strings.Join(parts, ", ")
	return v
}

// growthHeight is the height of the drawing of masses, CSS pixels.
const growthHeight = 90.0

// growth draws the masses of a hatchling; nil where fewer than two are noted.
func (s Pages) growth(e book.Egg) *chart.Figure {
	var line []chart.Point
	var values []float64
	table := chart.Table{Title: "Masses", Head: []string{"Day", "Mass"}, Hidden: true}
	var dates []string
	add := func(days, g float64, date string) {
		line, values, dates = append(line, chart.Point{X: days, Y: g}), append(values, g), append(dates, date)
	}
	if e.HatchG != nil {
		add(0, *e.HatchG, s.Reader.ShortDate(e.FateAt))
	}
	for _, h := range e.Hatchling {
		if h.MassG != nil {
			add(h.At.Sub(e.FateAt).Hours()/24, *h.MassG, s.Reader.ShortDate(h.At))
		}
	}
	if len(line) < 2 {
		return nil
	}
	x := chart.Scale{From: 0, To: max(1, line[len(line)-1].X)}
	for i, p := range line {
		table.Rows = append(table.Rows, chart.Row{At: x.Share(p.X), Cells: []string{dates[i], words.Grams(p.Y)}})
	}
	p := chart.Panel{Height: growthHeight, Items: []chart.Item{chart.Line{Style: chart.Temperature, Points: line}}}
	p.Low, p.High = chart.Room(0.5, values...)
	last := line[len(line)-1]
	p.Labels = []chart.Label{{At: last.Y, Text: words.Grams(last.Y)}, {At: line[0].Y, Text: words.Grams(line[0].Y)}}
	for i, q := range line {
		p.Items = append(p.Items, chart.Mark{Symbol: chart.Laid, X: q.X, Y: q.Y, Title: dates[i] + ": " + words.Grams(q.Y)})
	}
	return &chart.Figure{Caption: "Mass in grams by days since the hatch.", Table: table,
		Plot: chart.Plot{Label: "Masses of " + e.ID, X: x, Now: math.NaN(), Panels: []chart.Panel{p},
			Ticks: []chart.Tick{{At: 0, Text: "hatched"}, {At: x.To, Text: fmt.Sprintf("day %.0f", x.To)}}}}
}
