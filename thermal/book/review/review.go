// Package review owns the review of a season: what became of the eggs of each dam,
// how dams compare, and how long their clutches took. It reads a book and takes
// expected durations as plain numbers. It must not know how those are computed,
// nor how a review is shown.
package review

import (
	"slices"
	"strings"
	"time"

	"example.com/ootherm/thermal/book"
)

// Season is the clutches laid (by their latest time) from From on and before To.
type Season struct{ From, To time.Time }

func (s Season) contains(c *book.Clutch) bool {
	return !c.Laid.By.Before(s.From) && c.Laid.By.Before(s.To)
}

// Review is the result of a season.
type Review struct {
	Season      Season
	Dams        []Tally // of the dams with a clutch of their own, in the order entered
	Shared      []Tally // of clutches that name several dams or none, by the dams named: they say nothing of one dam
	Room        Tally   // of all clutches
	Comparisons int     // how many comparisons the adjusted p values account for
}

// Of reviews a season as it stands at a time. A dam's own clutches are those that
// name her alone. Durations are by clutch; a clutch without one does not count in
// days.
func Of(b book.Book, s Season, now time.Time, durations map[string]Duration) Review {
	r := Review{Season: s}
	index := map[string]int{}
	for _, f := range b.Dams() {
		index[f.Name] = len(r.Dams)
		r.Dams = append(r.Dams, Tally{Name: f.Name, Dams: []string{f.Name}})
	}
	clutches := b.Clutches()
	for i := range clutches {
		c := &clutches[i]
		if !s.contains(c) {
			continue
		}
		var duration *Duration
		if d, ok := durations[c.ID]; ok && !d.Implausible {
			duration = &d
		}
		if len(c.Dams) == 1 {
			r.Dams[index[c.Dams[0]]].add(c, now, duration)
		} else {
			r.shared(c.Dams).add(c, now, duration)
		}
		r.Room.add(c, now, duration)
	}
	r.Dams = slices.DeleteFunc(r.Dams, func(t Tally) bool { return len(t.Clutches) == 0 })
	r.compareShares()
	r.compareDurations()
	r.adjust()
	return r
}

// shared is the tally of the clutches that name just these dams, in any order.
func (r *Review) shared(dams []string) *Tally {
	sorted := slices.Sorted(slices.Values(dams))
	i := slices.IndexFunc(r.Shared, func(t Tally) bool { return slices.Equal(t.Dams, sorted) })
	if i < 0 {
		i = len(r.Shared)
		r.Shared = append(r.Shared, Tally{Name: strings.Join(sorted, " or "), Dams: sorted})
	}
	return &r.Shared[i]
}
