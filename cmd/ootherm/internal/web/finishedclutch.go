package web

import (
	"context"
	"fmt"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/bookpages"
	"example.com/ootherm/cmd/ootherm/internal/web/chart"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
)

// ending says how a clutch ended, how long it took and how far off the forecast was.
func (m clutchMaker) ending(ctx context.Context, c book.Clutch) *endedView {
	var first time.Time
	for _, e := range c.Eggs {
		if e.Fate == book.Hatched && (first.IsZero() || e.FateAt.Before(first)) {
			first = e.FateAt
		}
	}
	v := &endedView{Sub: words.Capital(endedOf(m.Site, c)) + "."}
	x := snapshot.Clutch{Laid: snapshot.Laid{Earliest: c.Laid.After, Latest: c.Laid.By}}
	if first.IsZero() {
		v.Answer = "None hatched"
		v.Felt = m.feltOf(ctx, c, lastFate(c), m.clutchAxis(x, lastFate(c), nil))
		return v
	}
	v.Answer = "Hatched " + m.Reader.Days(first, first)
	v.Dates = []dateView{{Word: "days taken", Date: fmt.Sprint(daysBetween(c.Laid.By, first)), Away: "laid to hatch"}}
	var told []snapshot.Shown
	for _, w := range m.shown {
		if w.At.Before(first) && (len(told) == 0 || w.Box == told[0].Box) {
			told = append(told, w)
		}
	}
	axis := m.clutchAxis(x, first, told)
	v.Felt = m.feltOf(ctx, c, first, axis)
	if len(told) == 0 {
		return v
	}
	last := told[len(told)-1].Window
	if !last.Likely.IsZero() {
		out := daysBetween(last.Likely, first)
		away := "as it was"
		switch {
		case out > 0:
			away = words.Count(out, "day", "days") + " later"
		case out < 0:
			away = words.Count(-out, "day", "days") + " sooner"
		}
		v.Dates = append(v.Dates, dateView{Word: "likely was", Date: m.Reader.ShortDate(last.Likely), Away: away, Middle: true})
	}
	v.Dates = append(v.Dates, dateView{Word: "window was", Date: fmt.Sprint(daysBetween(last.CheckFrom, last.LateAfter)), Away: "days wide"})
	inside := 0
	for _, w := range told {
		if !first.Before(w.Window.CheckFrom) && !first.After(w.Window.LateAfter) {
			inside++
		}
	}
	v.Held = fmt.Sprintf("The hatch lay in the window as it was told on %d of %s.", inside, words.Count(len(told), "day", "days"))
	f := m.told(pick(told, 3), axis, first)
	f.Plot.NowText, f.Plot.Label = "hatched", "The windows told before beside the hatch. "+v.Held
	v.Figure = f.HTML()
	return v
}

// feltOf is what a finished clutch felt until a time.
func (m clutchMaker) feltOf(ctx context.Context, c book.Clutch, until time.Time, axis chart.Scale) bookpages.Felt {
	var stays []book.Stay
	for _, e := range c.Eggs {
		if len(e.Stays) > len(stays) {
			stays = e.Stays
		}
	}
	return m.things.FeltBy(ctx, m.n, c.Profile, stays, until, axis, m.monthTicks(axis), bookpages.OfClutch(c))
}
