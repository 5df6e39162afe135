package seasons

import (
	"cmp"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/review"
)

// seasonLink leads to a year of which the book has clutches.
type seasonLink struct {
	Text, Href string
	Here       bool // it is the one shown
}

type reviewPage struct {
	page.Frame
	View
	First, Last, Span, Eggs string
	Seasons                 []seasonLink
	Stands                  []standing
	Beside                  []damDots
	Month                   template.HTML // laid and hatched by month
}

// standing is a dam of whom something stands out, in two sentences.
type standing struct {
	Name, Href, Says string
	fewer            bool // of what is wanted she has less than the others
}

// standingOf is what stands out of a dam; false where nothing does.
func standingOf(d tallyView) (x standing, ok bool) {
	var counts []string
	rarest := 0.0
	for _, c := range d.Comparisons {
		if !c.StandsOut {
			continue
		}
		counts, rarest = append(counts, c.counted), max(rarest, c.Adjusted)
		x.fewer = x.fewer || c.Difference < 0 && c.Of != "days"
	}
	if len(counts) == 0 {
		return x, false
	}
	x.Name, x.Href = d.Name, d.Href
	x.Says = strings.Join(counts, "; ") + ". That is not chance (" + rarity(rarest) + "), but it may be her, her mate or her boxes."
	return x, true
}

// seasons are the years in which the book has clutches, the last first.
func (s Pages) seasons(b *book.Book, season review.Season) (all []seasonLink) {
	var years []int
	eggs := map[int]int{}
	for _, c := range b.Clutches() {
		y := c.Laid.By.In(s.Place()).Year()
		if eggs[y] == 0 {
			years = append([]int{y}, years...)
		}
		eggs[y] += len(c.Eggs)
	}
	for _, y := range years {
		from, to := time.Date(y, 1, 1, 0, 0, 0, 0, s.Place()), time.Date(y, 12, 31, 0, 0, 0, 0, s.Place())
		all = append(all, seasonLink{
			Text: strconv.Itoa(y) + " (" + words.Count(eggs[y], "egg", "eggs") + ")",
			Href: "/review?" + url.Values{"from": {from.Format(time.DateOnly)}, "to": {to.Format(time.DateOnly)}}.Encode(),
			Here: season.From.Equal(from) && season.To.In(s.Place()).Add(-time.Second).Year() == y,
		})
	}
	return all
}

// days are the first and the last day of a season.
func (s Pages) days(season review.Season) (first, last time.Time) {
	return season.From.In(s.Place()), season.To.Add(-time.Second).In(s.Place())
}

func (s Pages) damHref(name string, season review.Season) string {
	first, last := s.days(season)
	return "/review/" + url.PathEscape(name) + "?" + url.Values{"from": {first.Format(time.DateOnly)}, "to": {last.Format(time.DateOnly)}}.Encode()
}

// opened is what both pages begin with; nothing is left to do where b is nil.
func (s Pages) opened(w http.ResponseWriter, r *http.Request) (v reviewPage, b *book.Book, season review.Season) {
	n, b := s.Open(w, r)
	if b == nil {
		return v, nil, season
	}
	season, err := s.season(r, s.Clock())
	if err != nil {
		status, text := s.Refusal(err)
		s.Message(w, r, status, "No review", words.Capital(text)+".")
		return v, nil, season
	}
	v = reviewPage{Frame: s.Frame(n, "The season"), View: s.reviewOf(b, season)}
	v.Here = "season"
	first, last := s.days(season)
	v.First, v.Last = first.Format(time.DateOnly), last.Format(time.DateOnly)
	v.Span = first.Format("2 January 2006") + " to " + last.Format("2 January 2006")
	return v, b, season
}

func (s Pages) ServePage(w http.ResponseWriter, r *http.Request) {
	v, b, season := s.opened(w, r)
	if b == nil {
		return
	}
	v.Eggs = words.Count(v.Room.Laid, "egg", "eggs") + " of " + words.Count(v.Room.Clutches, "clutch", "clutches")
	v.Seasons = s.seasons(b, season)
	for i := range v.Dams {
		d := &v.Dams[i]
		d.Href = s.damHref(d.Name, season)
		if x, ok := standingOf(*d); ok {
			v.Stands = append(v.Stands, x)
		}
		v.Beside = append(v.Beside, dots(b, *d, v.Room))
	}
	for _, d := range v.Apart {
		x := dots(b, d, v.Room)
		x.Name, x.Apart = cmp.Or(x.Name, "No dam noted"), true
		v.Beside = append(v.Beside, x)
	}
	slices.SortStableFunc(v.Stands, func(a, b standing) int { // those who may need a rest first
		switch {
		case a.fewer == b.fewer:
			return 0
		case a.fewer:
			return -1
		}
		return 1
	})
	v.Month = s.months(b, v.Room.ids, season)
	s.Render(w, http.StatusOK, "review", v)
}

// clutchRow is a clutch as a dam's page lists it.
type clutchRow struct{ Href, Name, Laid, Eggs, Became, Days string }

type damPage struct {
	reviewPage
	Dam   tallyView
	Dots  damDots
	All   string // leads to all that she did
	Kind  string
	Back  string // to the season
	List  []clutchRow
	Alone string // why her days stand alone; empty where they do not
}

func (s Pages) ServeDam(w http.ResponseWriter, r *http.Request) {
	v, b, _ := s.opened(w, r)
	if b == nil {
		return
	}
	name := r.PathValue("dam")
	if f, ok := b.Dam(name); ok {
		name = f.Name // the address can have a name that was amended
	}
	if err := v.only(name); err != nil {
		_, text := s.Refusal(err)
		s.Message(w, r, http.StatusNotFound, "No such page", words.Capital(text)+".")
		return
	}
	p := damPage{reviewPage: v, Dam: v.Dams[0], Back: "/review?" + url.Values{"from": {v.First}, "to": {v.Last}}.Encode()}
	p.Dots, p.All, p.Here = dots(b, p.Dam, v.Room), page.DamHref(name), "season"
	p.Title = name + ", the season"
	if f, ok := b.Dam(name); ok {
		p.Kind = words.Capital(f.Profile)
	}
	paces := s.paces()
	for _, id := range p.Dam.ids {
		c, _ := b.Clutch(id)
		p.List = append(p.List, s.clutchRow(c, paces))
	}
	if d := p.Dam.Days; d.Ratio != nil && (len(p.Dam.Comparisons) == 0 || p.Dam.Comparisons[len(p.Dam.Comparisons)-1].Of != "days") {
		p.Alone = "No other dam of her kind has a clutch that is over, to set hers beside."
	}
	s.Render(w, http.StatusOK, "dam", p)
}

func (s Pages) clutchRow(c book.Clutch, paces map[string]review.Duration) clutchRow {
	row := clutchRow{Href: page.ClutchHref(c.ID), Name: c.ID, Laid: s.Reader.Days(c.Laid.After, c.Laid.By), Eggs: strconv.Itoa(len(c.Eggs))}
	count := map[book.Fate]int{}
	slugs := 0
	for _, e := range c.Eggs {
		count[e.Fate]++
		if e.Verdict == book.Slug {
			slugs++
		}
	}
	for _, f := range []book.Fate{book.Waiting, book.Pipped, book.Hatched, book.Lost} {
		if count[f] == 0 {
			continue
		}
		if row.Became != "" {
			row.Became += ", "
		}
		row.Became += fmt.Sprintf("%d %s", count[f], f)
	}
	if slugs > 0 {
		row.Became += fmt.Sprintf(" (%s)", words.Count(slugs, "slug", "slugs"))
	}
	switch p, ok := paces[c.ID]; {
	case count[book.Waiting]+count[book.Pipped] > 0:
		row.Days = "still waiting"
	case count[book.Hatched] == 0:
		row.Days = "none hatched"
	case !ok:
		row.Days = "what its heat says is not known"
	case p.Implausible:
		row.Days = fmt.Sprintf("%.0f: not believed, see its dates", p.Days)
	default:
		row.Days = fmt.Sprintf("%.0f, its heat says %.0f: %s", p.Days, p.Expected, longer(p.Days/p.Expected))
	}
	return row
}
