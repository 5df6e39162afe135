package web

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// damView is a dam and her lay box.
type damView struct {
	page.Badge
	Name, Soon, Dates, Last, Because string
	Overdue                          bool
	laid                             []time.Time
	due                              *dueDays // nil: not known
	rank                             int
	at                               time.Time
}

// dueDays are the days of a dam's next clutch.
type dueDays struct{ from, likely, to time.Time }

// How soon a lay box needs a person.
const (
	layOverdue = iota
	layLook
	laySeen
	layLater
	layUnknown
)

// lay is the dams, those whose lay box wants a look first.
func (s firstPage) lay(n *snapshot.Snapshot) []damView {
	var all []damView
	for _, d := range n.Dams {
		all = append(all, s.dam(d, n.At))
	}
	slices.SortStableFunc(all, func(a, b damView) int { return cmp.Or(cmp.Compare(a.rank, b.rank), a.at.Compare(b.at)) })
	return all
}

func (s firstPage) dam(d snapshot.Dam, at time.Time) damView {
	r := s.Reader
	v := damView{Name: d.Dam, laid: s.laidBy(d), Because: words.OrEmpty(d.Because), rank: layUnknown, Badge: page.Badge{Shape: words.Silent, Word: "note her pairing or a clutch", Kind: page.KindSilent}}
	switch {
	case d.LastLaid != nil:
		v.Last = "Last clutch " + r.Days(d.LastLaid.Earliest, d.LastLaid.Latest)
		if d.LastPaired != nil && d.LastPaired.After(d.LastLaid.Latest) {
			v.Last += ", paired again " + r.Date(*d.LastPaired)
		}
	case d.LastPaired != nil:
		v.Last = "Paired " + r.Date(*d.LastPaired) + ", no clutch yet"
	}
	if d.IntervalDays != nil {
		v.Last += fmt.Sprintf("; she lays every %.0f days (%s)", *d.IntervalDays, words.Count(d.Intervals, "interval", "intervals"))
	}
	if d.LookFrom == nil || d.Likely == nil || d.Latest == nil {
		v.Dates = "Note her pairing or her next clutch, and the days to look are shown"
		return v
	}
	v.at, v.due = *d.Likely, &dueDays{*d.LookFrom, *d.Likely, *d.Latest}
	v.Soon = "Likely " + r.Date(*d.Likely)
	switch d.Due {
	case "later":
		v.Badge, v.rank = page.Badge{Shape: words.Fine, Word: "not yet", Kind: page.KindFine}, layLater
		v.Soon = "Look daily from " + r.Date(*d.LookFrom)
		v.Dates = "Look daily from " + r.Date(*d.LookFrom) + ", likely " + r.Date(*d.Likely) + ", by " + r.Date(*d.Latest)
	case "look":
		v.Badge, v.rank = page.Badge{Shape: words.Other, Word: "look today", Kind: page.KindOther}, layLook
		if d.LastLook != nil && s.Local(*d.LastLook)[:10] == s.Local(at)[:10] {
			v.Badge, v.rank = page.Badge{Shape: words.Fine, Word: "looked today", Kind: page.KindFine}, laySeen
		}
		v.Dates = "Look daily since " + r.Date(*d.LookFrom) + ", likely " + r.Date(*d.Likely) + ", by " + r.Date(*d.Latest)
	default:
		v.Badge, v.rank, v.Overdue = page.Badge{Shape: words.Other, Word: "overdue", Kind: page.KindOther}, layOverdue, true
		v.Soon = "Was expected by " + r.Date(*d.Latest)
		v.Dates = "Was expected by " + r.Date(*d.Latest) + ". She may have laid unseen, or have stopped for the season: search the whole lay box, and note what you find or that she rests"
	}
	return v
}

// laidBy is when a dam laid, as far as it is known.
func (s firstPage) laidBy(d snapshot.Dam) (all []time.Time) {
	if s.Book != nil {
		if b := s.Book.Book(); b != nil {
			f, _ := b.Dam(d.Dam)
			for _, id := range f.Clutches {
				c, _ := b.Clutch(id)
				all = append(all, c.Laid.By)
			}
		}
	}
	if len(all) == 0 && d.LastLaid != nil {
		all = append(all, d.LastLaid.Latest)
	}
	return all
}
