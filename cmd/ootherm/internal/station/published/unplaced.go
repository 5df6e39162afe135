package published

import (
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/track"
)

// Unplaced publishes the clutches with eggs that wait and were never put into a box.
func Unplaced(b book.Book) []snapshot.Unplaced {
	all := []snapshot.Unplaced{}
	for _, c := range b.Clutches() {
		u := snapshot.Unplaced{
			Clutch: c.ID, Dam: snapshot.OptText(strings.Join(c.Dams, " or ")), Profile: snapshot.OptText(c.Profile),
			Laid: snapshot.Laid{Earliest: c.Laid.After, Latest: c.Laid.By},
		}
		for _, e := range c.Eggs {
			if len(e.Stays) == 0 && track.Undecided(e) {
				u.Eggs = append(u.Eggs, snapshot.Egg{Egg: e.ID, Fate: string(e.Fate)})
			}
		}
		if len(u.Eggs) > 0 {
			all = append(all, u)
		}
	}
	return all
}
