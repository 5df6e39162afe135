package page

import (
	"html/template"
	"slices"
)

// livePages keep themselves up to date where there is JavaScript; reloadPages are loaded again
// each minute where there is none. A page on which somebody may type is not.
var (
	livePages   = []string{"first", "box", "clutch", "review", "dam", "incident", "medium", "alarm", "zone", "egg", "damhistory", "sire", "pairing", "probe"}
	reloadPages = []string{"first", "alarm"}
)

// liveFuncs tell the frame of a page how it is kept up to date.
func liveFuncs(page string) template.FuncMap {
	return template.FuncMap{
		"live":    func() bool { return slices.Contains(livePages, page) },
		"reloads": func() bool { return slices.Contains(reloadPages, page) },
	}
}
