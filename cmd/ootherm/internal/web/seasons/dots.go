package seasons

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/web/chart"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
)

// dotRow is one measure of a dam: a dot with its interval beside that of all dams.
type dotRow struct {
	Word, Says, Interval string // Interval is said to those who hear the page
	Drawing              template.HTML
	StandsOut            bool
}

// damClutch is a clutch with its eggs as shapes.
type damClutch struct {
	Href, Name, Became string
	Eggs               template.HTML
}

// damDots is a dam beside the others.
type damDots struct {
	Name, Href, Laid string
	Apart            bool // her clutches name others too
	Clutches         []damClutch
	Rows             []dotRow
}

// Shares are drawn from none to all; days from a third shorter to a third longer than those of
// the other dams (our choice).
var (
	shares  = chart.Scale{From: 0, To: 1}
	relDays = chart.Scale{From: -1.0 / 3, To: 1.0 / 3}
)

// dots sets a dam beside the room.
func dots(b *book.Book, t, room tallyView) damDots {
	v := damDots{Name: t.Name, Href: t.Href, Laid: words.Count(t.Laid, "egg", "eggs") + ", " + words.Count(t.Clutches, "clutch", "clutches")}
	for _, id := range t.ids {
		if c, ok := b.Clutch(id); ok {
			v.Clutches = append(v.Clutches, clutchOf(c))
		}
	}
	for _, m := range []struct {
		word, of   string
		ratio, all ratioView
	}{{"Fertile", "fertile", t.Fertile, room.Fertile}, {"Hatched", "hatched", t.Hatched, room.Hatched}, {"At 14 days", "alive", t.Alive, room.Alive}} {
		v.Rows = append(v.Rows, shareRow(m.word, m.ratio, m.all, t.compared(m.of)))
	}
	v.Rows = append(v.Rows, daysRow(t))
	return v
}

// compared is how a dam stands beside the others in a measure; nil where she cannot.
func (t tallyView) compared(of string) *besideView {
	for i := range t.Comparisons {
		if t.Comparisons[i].Of == of {
			return &t.Comparisons[i]
		}
	}
	return nil
}

func clutchOf(c book.Clutch) damClutch {
	v := damClutch{Href: page.ClutchHref(c.ID), Name: c.ID}
	var icons []chart.Symbol
	count := map[book.Fate]int{}
	for _, e := range c.Eggs {
		count[e.Fate]++
		icons = append(icons, symbolOf(e.Fate))
	}
	var became []string
	for _, f := range []book.Fate{book.Waiting, book.Pipped, book.Hatched, book.Lost} {
		if count[f] > 0 {
			became = append(became, fmt.Sprintf("%d %s", count[f], f))
		}
	}
	v.Eggs, v.Became = chart.Icon(icons...), strings.Join(became, ", ")
	return v
}

func symbolOf(f book.Fate) chart.Symbol {
	switch f {
	case book.Hatched:
		return chart.Hatched
	case book.Pipped:
		return chart.Pipped
	case book.Lost:
		return chart.Lost
	}
	return chart.Waiting
}

func shareRow(word string, r, room ratioView, c *besideView) dotRow {
	v := dotRow{Word: word, Says: "none yet", StandsOut: c != nil && c.StandsOut}
	x := chart.Interval{X: shares, Low: math.NaN(), Value: math.NaN(), High: math.NaN(), Reference: math.NaN(), StandsOut: v.StandsOut}
	if room.Of > 0 {
		x.Reference = float64(room.Count) / float64(room.Of)
	}
	if r.Low != nil {
		v.Says = fmt.Sprintf("%d of %d", r.Count, r.Of)
		v.Interval = fmt.Sprintf("95 %% interval %.0f to %.0f %%", 100**r.Low, 100**r.High)
		x.Low, x.Value, x.High = *r.Low, float64(r.Count)/float64(r.Of), *r.High
	}
	v.Drawing = x.HTML()
	return v
}

// daysRow is how much longer her clutches took than those of the others, each against what
// its heat predicts.
func daysRow(t tallyView) dotRow {
	v := dotRow{Word: "Days, beside others", Says: "none yet"}
	x := chart.Interval{X: relDays, Low: math.NaN(), Value: math.NaN(), High: math.NaN(), Reference: math.NaN()}
	switch c := t.compared("days"); {
	case c != nil:
		v.Says, v.StandsOut = longer(1+c.Difference), c.StandsOut
		v.Interval = fmt.Sprintf("than the others, 95 %% interval %s to %s %%", signed(100*c.Low), signed(100*c.High))
		x.Low, x.Value, x.High, x.Reference, x.StandsOut = c.Low, c.Difference, c.High, 0, c.StandsOut
	case t.Days.Ratio != nil:
		v.Word, v.Says = "Days against expected", longer(*t.Days.Ratio)
		v.Interval = "than expected; no other dam to set her beside"
		x.Value, x.Reference = *t.Days.Ratio-1, 0
	}
	v.Drawing = x.HTML()
	return v
}
