package web

import (
	"example.com/ootherm/cmd/ootherm/internal/forms"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/notes"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// unplacedView is a clutch with eggs that lie in no box yet, and the form that
// puts the first of them there.
type unplacedView struct{ Text, Href string }

func (s firstPage) unplaced(n *snapshot.Snapshot) (all []unplacedView) {
	for _, c := range n.Unplaced {
		about := words.Count(len(c.Eggs), "egg", "eggs") + ", " + s.Reader.Laid(c.Laid)
		if dam := words.OrEmpty(c.Dam); dam != "" {
			about = dam + ", " + about
		}
		v := unplacedView{Text: "Clutch " + c.Clutch + " (" + about + ") lies in no box yet"}
		if len(c.Eggs) > 0 {
			v.Href = notes.DoorTo(forms.Place(c)).Href
		}
		all = append(all, v)
	}
	return all
}
