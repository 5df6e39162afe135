package page

import (
	"html/template"
	"slices"
)

// livePages keep themselves up to date where there is JavaScript; watchPages only say since when
// the station does not answer, as somebody may type there or they show what was. reloadPages are
// loaded again each minute where there is no JavaScript.
var (
	watchPages  = []string{"note", "notes", "noted", "search", "hatchlings"}
	livePages   = []string{"first", "box", "clutch", "review", "dam", "incident", "medium", "alarm", "zone", "egg", "damhistory", "sire", "pairing", "probe"}
	reloadPages = []string{"first", "alarm"}
)

// liveFuncs tell the frame of a page how it is kept up to date.
func liveFuncs(page string) template.FuncMap {
	return template.FuncMap{
		"live":    func() bool { return slices.Contains(livePages, page) },
		"watches": func() bool { return slices.Contains(watchPages, page) },
		"reloads": func() bool { return slices.Contains(reloadPages, page) },
	}
}
