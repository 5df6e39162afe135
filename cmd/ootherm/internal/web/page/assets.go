package page

import (
	"embed"
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strings"
	"sync"

	"example.com/ootherm/cmd/ootherm/internal/web/chart"
)

//go:embed templates/*.html *.css icon.svg *.js manifest.webmanifest
var files embed.FS

const (
	css    = "text/css; charset=utf-8"
	script = "text/javascript; charset=utf-8"
)

// fileTypes are the files that pages are made of, with their types.
var fileTypes = map[string]string{
	"style.css": css, "label.css": css, "label-sheet.css": css,
	"form.js": script, "fold.js": script, "live.js": script, "locale.js": script, "waiting.js": script, "chart.js": script,
	"worker.js": script, "manifest.webmanifest": "application/manifest+json",
	"icon.svg": "image/svg+xml", "icon-192.png": "image/png", "icon-512.png": "image/png",
}

// iconSides are the drawn icons, with their sides in dots.
var iconSides = map[string]int{"icon-192.png": 192, "icon-512.png": 512}

// IsFile reports whether a path is that of a file that pages are made of. It says nothing of
// the station.
func IsFile(path string) bool { return fileTypes[strings.TrimPrefix(path, "/")] != "" }

// ServeFiles adds the style sheets, the icon and the scripts.
func ServeFiles(mux *http.ServeMux) error {
	for name, kind := range fileTypes {
		if side := iconSides[name]; side > 0 {
			serveIcon(mux, name, kind, side)
			continue
		}
		body, err := file(name)
		if err != nil {
			return err
		}
		serveFile(mux, name, kind, body)
	}
	return nil
}

func file(name string) ([]byte, error) {
	if name == "chart.js" {
		return chart.Script, nil
	}
	body, err := files.ReadFile(name)
	if name == "style.css" {
		body = slices.Concat(body, chart.StyleSheet)
	}
	return body, err
}

// serveIcon draws an icon when it is first asked for: drawing takes time at the
// start of a small machine, and few readers install the page.
func serveIcon(mux *http.ServeMux, name, kind string, side int) {
	picture := sync.OnceValues(func() ([]byte, error) { return drawIcon(side) })
	mux.HandleFunc("GET /"+name, func(w http.ResponseWriter, r *http.Request) {
		body, err := picture()
		if err != nil {
			http.Error(w, "the icon cannot be drawn", http.StatusInternalServerError)
			return
		}
		sendFile(w, kind, body)
	})
}

func serveFile(mux *http.ServeMux, name, kind string, body []byte) {
	mux.HandleFunc("GET /"+name, func(w http.ResponseWriter, r *http.Request) { sendFile(w, kind, body) })
}

func sendFile(w http.ResponseWriter, kind string, body []byte) {
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Cache-Control", "max-age=300")
	_, _ = w.Write(body) // a client that went away needs no answer
}

// pageNames are the pages that have a template.
var pageNames = []string{"first", "box", "clutch", "message", "notes", "note", "login", "review", "dam", "incident", "rehearsal", "labels", "medium", "alarm", "zone", "help", "topic", "more", "noted", "search", "egg", "damhistory", "sire", "pairing", "probe", "hatchlings"}

// pageTemplate gives a page's template, or an error that says what is wrong with it.
type pageTemplate func() (*template.Template, error)

// templates gives the template of every page. One is read when it is first asked for: all of
// them take a small machine a second of its start.
func templates() map[string]pageTemplate {
	pages := map[string]pageTemplate{}
	for _, page := range pageNames {
		pages[page] = sync.OnceValues(func() (*template.Template, error) { return parse(page) })
	}
	return pages
}

func parse(page string) (*template.Template, error) {
	t, err := template.New("base.html").Funcs(liveFuncs(page)).Funcs(template.FuncMap{"symbols": chart.Symbols, "icon": func(s string) template.HTML { return chart.Icon(chart.Symbol(s)) }}).ParseFS(files, "templates/base.html", "templates/parts.html", "templates/records.html", "templates/"+page+".html")
	if err != nil {
		return nil, fmt.Errorf("template %s: %w", page, err)
	}
	return t, nil
}
