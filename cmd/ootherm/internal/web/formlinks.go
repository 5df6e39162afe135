package web

import (
	"example.com/ootherm/cmd/ootherm/internal/forms"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/notes"
)

// firstDoors lead to the forms of the first page: to what the first eggs need, or to eggs
// found.
func (s firstPage) firstDoors(n *snapshot.Snapshot) []notes.Door {
	found, _ := forms.Of(forms.Found)
	all := []notes.Door{notes.DoorTo(forms.Filled{Form: found})}
	b := s.Book.Book()
	if b == nil {
		return all
	}
	var missing []notes.Door
	for _, x := range s.Desk(n, b, s.Clock()).Needed() {
		if x.Form.Kind == "dam" || x.Form.Kind == "box" {
			missing = append(missing, notes.DoorTo(x))
		}
	}
	if len(missing) > 0 {
		return missing
	}
	return all
}

// mendView is one thing that a window lacks, and where it is mended.
type mendView struct{ Why, Do, Href string }

// mends are what a clutch in a box lacks for its window.
func (s boxPages) mends(b snapshot.Box, c snapshot.Clutch) (all []mendView) {
	for _, m := range forms.Mends(c, b) {
		v := mendView{Why: m.Why, Do: m.Do}
		switch {
		case m.Topic != "":
			v.Href = "/help/" + m.Topic
		case m.Form.Form.Kind != "" && s.Writer != nil && s.Book != nil:
			v.Href = notes.DoorTo(m.Form).Href
		}
		all = append(all, v)
	}
	return all
}
