package web

import (
	"cmp"
	"net/url"
	"strings"
	"unicode"

	"example.com/ootherm/cmd/ootherm/internal/forms"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/thermal/book"
)

// doorView leads to a form.
type doorView struct{ Href, Title string }

// doors are the forms about a box itself, with it filled in: who scans its label
// stands before it.
func doors(box string) (all []doorView) {
	for _, f := range forms.All() {
		if f.Kind == forms.Found || f.Fields[0].Name == "box" {
			all = append(all, doorView{"/note/" + f.Kind + "?" + url.Values{"box": {box}}.Encode(), f.Title})
		}
	}
	return all
}

// groupView is the forms of one part of a season.
type groupView struct {
	Name  forms.Group
	Doors []doorView
}

// doorTo leads to a form, with some answers filled in.
func doorTo(x forms.Filled) doorView {
	href := "/note/" + x.Form.Kind
	if len(x.Answers) > 0 {
		href += "?" + x.Answers.Encode()
	}
	return doorView{href, x.Form.Title}
}

// groups are all forms, by the parts of a season.
func groups() (all []groupView) {
	for _, f := range forms.All() {
		if len(all) == 0 || all[len(all)-1].Name != f.Group {
			all = append(all, groupView{Name: f.Group})
		}
		g := &all[len(all)-1]
		g.Doors = append(g.Doors, doorTo(forms.Filled{Form: f}))
	}
	return all
}

// then is the kind of the form that is open once another was noted; empty where it is no
// form.
func then(v url.Values) string {
	if f, ok := forms.Of(v.Get("then")); ok {
		return f.Kind
	}
	return ""
}

// backTo is the page of a clutch or a box that a form was on; empty where it was on none.
func backTo(sent url.Values) string {
	for _, under := range []string{"/c/", "/b/"} {
		if rest, ok := strings.CutPrefix(sent.Get("back"), under); ok && rest != "" && !strings.ContainsAny(rest, "/?#\\") && !strings.ContainsFunc(rest, unicode.IsControl) {
			return under + rest
		}
	}
	return ""
}

// afterNote is where a browser goes once entries are noted: to the book, or back to the
// form that lacked them, with them filled in.
func afterNote(sent url.Values, entries []book.Entry) string {
	to := then(sent)
	if to == "" {
		return cmp.Or(backTo(sent), "/note") + "?noted"
	}
	answers := url.Values{}
	for _, name := range entries[0].Dam {
		answers.Add("dam", name)
		answers.Add("whose", name)
	}
	if box := entries[0].Box; box != "" {
		answers.Set("box", box)
	}
	return "/note/" + to + "?noted&" + answers.Encode()
}

// firstDoors lead to the forms of the first page: to what the first eggs need, or to eggs
// found.
func (s firstPage) firstDoors(n *snapshot.Snapshot) []doorView {
	found, _ := forms.Of(forms.Found)
	all := []doorView{doorTo(forms.Filled{Form: found})}
	b := s.Book.Book()
	if b == nil {
		return all
	}
	var missing []doorView
	for _, x := range s.desk(n, b, s.Clock()).Needed() {
		if x.Form.Kind == "dam" || x.Form.Kind == "box" {
			missing = append(missing, doorTo(x))
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
			v.Href = doorTo(m.Form).Href
		}
		all = append(all, v)
	}
	return all
}
