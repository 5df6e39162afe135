package bookpages

import (
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/chart"
	"example.com/ootherm/cmd/ootherm/internal/web/notes"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
)

// damPage is a dam with all that she did.
type damPage struct {
	page.Frame
	notes.Log
	Name, Kind, State string
	Next              string // when her next clutch is due
	Season            string // leads to her part of the season
	Forms             []notes.Inline
	Doors             []notes.Door
	Clutches          []clutchRow
	Pairings          []link
}

// clutchRow is a clutch as a dam or a pairing lists it.
type clutchRow struct {
	link
	Laid, Became, After string
	Eggs                template.HTML
}

// ServeDam shows a dam.
func (s Pages) ServeDam(w http.ResponseWriter, r *http.Request) {
	n, b := s.Open(w, r)
	if b == nil {
		return
	}
	d, ok := b.Dam(r.PathValue("dam"))
	if !ok {
		s.Message(w, r, http.StatusNotFound, "No such dam", fmt.Sprintf("No dam is called %q. The search finds every name.", r.PathValue("dam")))
		return
	}
	back := page.DamHref(d.Name)
	v := damPage{Frame: s.Frame(n, d.Name), Log: notes.Pages{Site: s.Site}.LogOf(r, b, back, OfDam(b, d)), Name: d.Name, Kind: words.Capital(d.Profile),
		State: s.damState(d), Next: s.nextClutch(n, d.Name), Season: "/review/" + url.PathEscape(d.Name), Clutches: s.clutchRows(b, d.Clutches)}
	v.Here = "season"
	for _, p := range slices.Backward(d.Pairings) {
		v.Pairings = append(v.Pairings, link{page.PairingHref(p.Sire, d.Name), p.Sire + ", " + s.Reader.Date(p.At)})
	}
	if m := EggsFor(s.Site, r, n, back); m.Noting() {
		if d.Retired.IsZero() {
			v.Forms = append(v.Forms, m.inlines.Of("looked", "", d.Name, url.Values{"dam": {d.Name}}), m.inlines.Of("pairing", "", d.Name, url.Values{"dam": {d.Name}}),
				m.inlines.Of("rested", "", d.Name, url.Values{"dam": {d.Name}}))
			v.Doors = append(v.Doors, Door("found", "Eggs found", url.Values{"dam": {d.Name}, "back": {back}}))
		}
		v.Doors = append(v.Doors, Door("note", "A note", url.Values{"about": {d.Name}, "back": {back}}), Door("amended", "Correct her kind or name", url.Values{"whose": {d.Name}}))
		if d.Retired.IsZero() {
			v.Doors = append(v.Doors, Door("retired", "Retired", url.Values{"dam": {d.Name}, "back": {back}}))
		}
	}
	s.Render(w, http.StatusOK, "damhistory", v)
}

// damState says whether a dam rests or is retired.
func (s Pages) damState(d book.Dam) string {
	switch {
	case !d.Retired.IsZero():
		return "Retired since " + s.Reader.Date(d.Retired) + "."
	case len(d.Rested) > 0:
		last := d.Rested[len(d.Rested)-1]
		paired := slices.ContainsFunc(d.Pairings, func(p book.Pairing) bool { return p.At.After(last) })
		if !paired {
			return "Rested since " + s.Reader.Date(last) + "."
		}
	}
	return ""
}

// nextClutch says when a dam's next clutch is due; empty where that is not known.
func (s Pages) nextClutch(n *snapshot.Snapshot, dam string) string {
	for _, d := range n.Dams {
		if d.Dam != dam || d.LookFrom == nil || d.Likely == nil || d.Latest == nil {
			continue
		}
		text := "Next clutch: look from " + s.Reader.Date(*d.LookFrom) + ", likely " + s.Reader.Date(*d.Likely) + ", by " + s.Reader.Date(*d.Latest) + "."
		if d.IntervalDays != nil {
			text += fmt.Sprintf(" Her clutches are about %.0f days apart (%s).", *d.IntervalDays, words.Count(d.Intervals, "interval", "intervals"))
		}
		return text
	}
	return ""
}

// clutchRows lists clutches, the last first, each with the days since the one before it.
func (s Pages) clutchRows(b *book.Book, ids []string) (all []clutchRow) {
	var before *book.Clutch
	for _, id := range ids {
		c, ok := b.Clutch(id)
		if !ok {
			continue
		}
		row := clutchRow{link: link{page.ClutchHref(c.ID), c.ID}, Laid: s.Reader.Days(c.Laid.After, c.Laid.By), Became: became(c)}
		var icons []chart.Symbol
		for _, e := range c.Eggs {
			icons = append(icons, Symbol(string(e.Fate)))
		}
		row.Eggs = chart.Icon(icons...)
		if len(c.Dams) > 1 { // it may be another's
			row.After = "of " + strings.Join(c.Dams, " or ")
			all = append(all, row)
			continue
		}
		if before != nil && c.Laid.By.Sub(before.Laid.By) < seasonBreak {
			row.After = words.Count(int(c.Laid.By.Sub(before.Laid.By).Hours()/24+0.5), "day", "days") + " after " + before.ID
		}
		before = &c
		all = append(all, row)
	}
	slices.Reverse(all)
	return all
}

// seasonBreak is how far apart two clutches are of which the later begins a season (our
// choice: they are 25 to 45 days apart within one, common practice).
const seasonBreak = 120 * 24 * time.Hour

// became counts the eggs of a clutch by what became of them.
func became(c book.Clutch) string {
	var parts []string
	for _, f := range []book.Fate{book.Waiting, book.Pipped, book.Hatched, book.Lost} {
		count := 0
		for _, e := range c.Eggs {
			if e.Fate == f {
				count++
			}
		}
		if count > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", count, f))
		}
	}
	return strings.Join(parts, ", ")
}
