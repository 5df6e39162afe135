package page

import (
	"embed"
	"fmt"
	"html/template"
	"net/http"
	"slices"

	"example.com/ootherm/cmd/ootherm/internal/web/chart"
)

//go:embed templates/*.html *.css icon.svg form.js fold.js
var files embed.FS

// ServeFiles adds the style sheets, the icon and the scripts.
func ServeFiles(mux *http.ServeMux) error {
	const css, script = "text/css; charset=utf-8", "text/javascript; charset=utf-8"
	for name, kind := range map[string]string{"style.css": css, "label.css": css, "label-sheet.css": css, "icon.svg": "image/svg+xml", "form.js": script, "fold.js": script} {
		body, err := files.ReadFile(name)
		if err != nil {
			return err
		}
		if name == "style.css" {
			body = slices.Concat(body, chart.StyleSheet)
		}
		serveFile(mux, name, kind, body)
	}
	serveFile(mux, "chart.js", script, chart.Script)
	return nil
}

func serveFile(mux *http.ServeMux, name, kind string, body []byte) {
	mux.HandleFunc("GET /"+name, func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", kind)
		w.Header().Set("Cache-Control", "max-age=300")
		_, _ = w.Write(body) // a client that went away needs no answer
	})
}

// parsePages reads the template of every page.
func parsePages() (map[string]*template.Template, error) {
	pages := map[string]*template.Template{}
	for _, page := range []string{"first", "box", "clutch", "message", "notes", "note", "login", "review", "dam", "incident", "rehearsal", "labels", "medium", "alarm", "zone", "help", "topic", "more", "noted", "search", "egg", "damhistory", "sire", "pairing", "probe", "hatchlings"} {
		t, err := template.New("base.html").Funcs(template.FuncMap{"symbols": chart.Symbols, "icon": func(s string) template.HTML { return chart.Icon(chart.Symbol(s)) }}).ParseFS(files, "templates/base.html", "templates/parts.html", "templates/records.html", "templates/"+page+".html")
		if err != nil {
			return nil, fmt.Errorf("template %s: %w", page, err)
		}
		pages[page] = t
	}
	return pages, nil
}
