package seasons

import (
	"fmt"
	"html/template"
	"math"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/web/chart"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/review"
)

// monthCount is the eggs of one month.
type monthCount struct {
	from          time.Time
	laid, hatched int
}

// months draws how many eggs of some clutches were laid and hatched each month of the season
// and after it; nothing where there are none.
func (s Pages) months(b *book.Book, ids []string, season review.Season) template.HTML {
	var all []monthCount
	first, last := season.To, time.Time{}
	reach := func(t time.Time) {
		if t.Before(first) {
			first = t
		}
		if t.After(last) {
			last = t
		}
	}
	var laid, hatched []time.Time
	for _, id := range ids {
		c, _ := b.Clutch(id)
		for _, e := range c.Eggs {
			laid = append(laid, c.Laid.By)
			reach(c.Laid.By)
			if e.Fate == book.Hatched {
				hatched = append(hatched, e.FateAt)
				reach(e.FateAt)
			}
		}
	}
	if len(laid) == 0 {
		return ""
	}
	begin := first.In(s.Place())
	for m := 0; ; m++ {
		from := time.Date(begin.Year(), begin.Month()+time.Month(m), 1, 0, 0, 0, 0, begin.Location())
		if from.After(last) {
			break
		}
		all = append(all, monthCount{from: from})
	}
	count := func(times []time.Time, into func(*monthCount)) {
		for _, t := range times {
			for i := len(all) - 1; i >= 0; i-- {
				if !t.Before(all[i].from) {
					into(&all[i])
					break
				}
			}
		}
	}
	count(laid, func(m *monthCount) { m.laid++ })
	count(hatched, func(m *monthCount) { m.hatched++ })
	return monthsFigure(all).HTML()
}

// The height of the bars, CSS pixels, and how wide one is, a share of its month.
const (
	monthHeight = 96.0
	barWide     = 0.36
)

// monthsFigure draws two bars a month: laid, then hatched.
func monthsFigure(all []monthCount) chart.Figure {
	most := 1
	for _, m := range all {
		most = max(most, m.laid, m.hatched)
	}
	p := chart.Panel{High: float64(most), Height: monthHeight, Labels: []chart.Label{{At: float64(most), Text: fmt.Sprint(most)}, {At: 0, Text: "0"}}}
	f := chart.Figure{Caption: "Left bar, filled: eggs laid. Right bar, outlined: eggs hatched.",
		Table: chart.Table{Title: "Laid and hatched by month", Head: []string{"Month", "Laid", "Hatched"}, Hidden: true}}
	x := chart.Scale{From: 0, To: float64(len(all))}
	var ticks []chart.Tick
	bar := func(style chart.Style, from float64, n int) {
		if n > 0 {
			p.Items = append(p.Items, chart.Spread{Style: style, Ranges: []chart.Range{{X: from, Low: 0, High: float64(n)}, {X: from + barWide, Low: 0, High: float64(n)}}})
		}
	}
	for i, m := range all {
		at := float64(i)
		bar(chart.FirstBar, at+0.12, m.laid)
		bar(chart.SecondBar, at+0.14+barWide, m.hatched)
		ticks = append(ticks, chart.Tick{At: at + 0.5, Text: m.from.Format("Jan")})
		f.Table.Rows = append(f.Table.Rows, chart.Row{At: x.Share(at + 0.5), Cells: []string{m.from.Format("January 2006"), fmt.Sprint(m.laid), fmt.Sprint(m.hatched)}})
	}
	const phone = 0.13 // three letters and a gap on a phone
	f.Plot = chart.Plot{Label: "Eggs laid and hatched each month", X: x, Now: math.NaN(), Panels: []chart.Panel{p}, Ticks: chart.Thin(ticks, x, phone)}
	return f
}
