package web

import (
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"slices"

	"example.com/ootherm/cmd/ootherm/internal/web/chart"
)

// routes adds every page and every address for programs, as far as the options allow them.
func (s *server) routes(mux *http.ServeMux) {
	zones, alarms, media, help, programs := &zoneViews{server: s}, alarmPages{s}, mediumPages{s}, helpPages{s}, api{s}
	boxes := boxPages{server: s, zones: zones, media: media}
	first := firstPage{server: s, alarms: alarms, zones: zones, boxes: boxes, courses: &courses{}}
	mux.HandleFunc("GET /{$}", first.page)
	mux.HandleFunc("GET /b/{box}", boxes.box)
	mux.HandleFunc("GET /c/{clutch}", boxes.clutch)
	mux.HandleFunc("GET /alarm", alarms.page)
	mux.HandleFunc("GET /medium", media.page)
	mux.HandleFunc("GET /more", help.more)
	mux.HandleFunc("GET /help", help.list)
	mux.HandleFunc("GET /help/{topic}", help.topic)
	mux.HandleFunc("GET /api/v1/now", programs.now)
	mux.HandleFunc("GET /api/v1/readings", programs.readings)
	mux.HandleFunc("GET /healthz", programs.healthz)
	mux.HandleFunc("GET /", func(w http.ResponseWriter, r *http.Request) {
		s.message(w, r, http.StatusNotFound, "Nothing is here", "This address shows nothing. The first page has a link to every box.")
	})
	if s.Shown != nil {
		mux.HandleFunc("GET /api/v1/score", programs.score)
	}
	if s.Metrics != nil {
		mux.Handle("GET /metrics", s.Metrics)
	}
	if s.Incidents != nil {
		incidents := incidentPages{s}
		mux.HandleFunc("GET /incident", incidents.page)
		mux.HandleFunc("GET /api/v1/incident", incidents.json)
		rehearsals := rehearsalPages{s}
		mux.HandleFunc("GET /rehearsal", rehearsals.page)
		mux.HandleFunc("GET /api/v1/rehearsal", rehearsals.json)
	}
	if s.Book != nil {
		s.bookRoutes(mux)
	}
	if s.Access != nil {
		entrance, cross := entrance{s}, crossOrigin()
		mux.HandleFunc("GET /login", entrance.page)
		mux.Handle("POST /login", cross.Handler(http.HandlerFunc(entrance.enter)))
		mux.Handle("POST /logout", cross.Handler(http.HandlerFunc(entrance.leave)))
	}
	if s.Writer != nil {
		mux.Handle("POST /act", s.accept(largestForm, alarms.act))
		mux.Handle("POST /api/v1/act", s.accept(largestForm, programs.act))
		mux.Handle("POST /api/v1/book", s.accept(largest, programs.note))
	}
}

// bookRoutes adds what shows the book and what writes in it.
func (s *server) bookRoutes(mux *http.ServeMux) {
	forms, labels, reviews, programs := bookPages{s}, labelPages{s}, reviewPages{s}, api{s}
	mux.HandleFunc("GET /api/v1/book", programs.book)
	mux.HandleFunc("GET /labels", labels.page)
	mux.HandleFunc("GET /b/{box}/label.png", labels.picture)
	mux.HandleFunc("GET /review", reviews.page)
	mux.HandleFunc("GET /review/{dam}", reviews.dam)
	mux.HandleFunc("GET /api/v1/review", reviews.json)
	if s.Calendar != "" {
		mux.HandleFunc("GET /calendar/{secret}", calendarFeed{s}.serve)
	}
	if s.Backup != nil {
		mux.HandleFunc("GET /api/v1/backup", programs.backup)
	}
	if s.Writer != nil {
		mux.HandleFunc("GET /note", forms.notes)
		mux.HandleFunc("GET /note/{kind}", forms.note)
		mux.Handle("POST /note", s.accept(largestForm, forms.postUndo))
		mux.Handle("POST /note/{kind}", s.accept(largestForm, forms.postNote))
	}
}

// serveFiles adds the style sheets, the icon and the scripts.
func serveFiles(mux *http.ServeMux) error {
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
	for _, page := range []string{"first", "box", "clutch", "message", "notes", "note", "login", "review", "dam", "incident", "rehearsal", "labels", "medium", "alarm", "help", "topic", "more"} {
		t, err := template.New("base.html").Funcs(template.FuncMap{"symbols": chart.Symbols}).ParseFS(files, "templates/base.html", "templates/parts.html", "templates/"+page+".html")
		if err != nil {
			return nil, fmt.Errorf("template %s: %w", page, err)
		}
		pages[page] = t
	}
	return pages, nil
}

// hostOf is the host of the configured address; empty where none is configured.
func hostOf(address string) (string, error) {
	if address == "" {
		return "", nil
	}
	u, err := url.Parse(address)
	if err != nil {
		return "", fmt.Errorf("the station's url: %w", err)
	}
	if u.Hostname() == "" {
		return "", fmt.Errorf("the station's url %q names no host; write it like http://eggroom.local:8080", address)
	}
	return u.Hostname(), nil
}
