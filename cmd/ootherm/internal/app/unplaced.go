package app

import (
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/app/now"
)

// unplaced are the clutches with eggs that wait and were never put into a box.
func (s *Station) unplaced() []now.Unplaced {
	all := []now.Unplaced{}
	for _, c := range s.book.Clutches() {
		u := now.Unplaced{
			Clutch: c.ID, Dam: text(strings.Join(c.Dams, " or ")), Profile: text(c.Profile),
			Laid: now.Laid{Earliest: c.Laid.After, Latest: c.Laid.By},
		}
		for _, e := range c.Eggs {
			if len(e.Stays) == 0 && open(e) {
				u.Eggs = append(u.Eggs, now.Egg{Egg: e.ID, Fate: string(e.Fate)})
			}
		}
		if len(u.Eggs) > 0 {
			all = append(all, u)
		}
	}
	return all
}
