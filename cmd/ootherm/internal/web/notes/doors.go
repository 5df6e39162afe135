package notes

import (
	"cmp"
	"net/url"
	"strings"
	"unicode"

	"example.com/ootherm/cmd/ootherm/internal/forms"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/thermal/book"
)

// Door leads to a form.
type Door struct{ Href, Title string }

// Doors are the forms about a box itself, with it filled in: who scans its label stands
// before it. They lead back to the box's page, which has the form of its candled eggs.
func Doors(box string) (all []Door) {
	for _, f := range forms.All() {
		if f.Kind != forms.BoxCandled && (f.Kind == forms.Found || f.Fields[0].Name == "box") {
			all = append(all, Door{"/note/" + f.Kind + "?" + url.Values{"box": {box}, "back": {page.BoxHref(box)}}.Encode(), f.Title})
		}
	}
	return all
}

// groupView is the forms of one part of a season.
type groupView struct {
	Name  forms.Group
	Doors []Door
}

// doorTo leads to a form, with some answers filled in.
func DoorTo(x forms.Filled) Door {
	href := "/note/" + x.Form.Kind
	if len(x.Answers) > 0 {
		href += "?" + x.Answers.Encode()
	}
	return Door{href, x.Form.Title}
}

// groups are all forms, by the parts of a season.
func groups() (all []groupView) {
	for _, f := range forms.All() {
		if len(all) == 0 || all[len(all)-1].Name != f.Group {
			all = append(all, groupView{Name: f.Group})
		}
		g := &all[len(all)-1]
		g.Doors = append(g.Doors, DoorTo(forms.Filled{Form: f}))
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

// BackTo is the page of a thing of the book that a form was on; empty where it was on none.
func BackTo(sent url.Values) string {
	for _, under := range []string{"/b/", "/c/", "/d/", "/e/", "/p/", "/s/", "/z/"} {
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
		return cmp.Or(BackTo(sent), "/note") + "?noted"
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
