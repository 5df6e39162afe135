package web

import (
	"net/http"

	"example.com/ootherm/cmd/ootherm/internal/web/access"
	"example.com/ootherm/cmd/ootherm/internal/web/alarmpages"
	"example.com/ootherm/cmd/ootherm/internal/web/api"
	"example.com/ootherm/cmd/ootherm/internal/web/bookpages"
	"example.com/ootherm/cmd/ootherm/internal/web/calendar"
	"example.com/ootherm/cmd/ootherm/internal/web/labels"
	"example.com/ootherm/cmd/ootherm/internal/web/notes"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/web/search"
	"example.com/ootherm/cmd/ootherm/internal/web/seasons"
	"example.com/ootherm/cmd/ootherm/internal/web/zones"
)

// routes adds every page and every address for programs, as far as the options allow them.
func routes(mux *http.ServeMux, s *page.Site, entrance *access.Entrance) {
	zoneViews, alarmPages, media, help, programs := &zones.Views{Site: s}, alarmpages.Pages{Site: s}, mediumPages{s}, helpPages{s}, api.Programs{Site: s}
	things := bookpages.Pages{Site: s, Zones: zoneViews}
	boxes := boxPages{Site: s, things: things, media: media}
	first := firstPage{Site: s, alarms: alarmPages, zones: zoneViews, boxes: boxes, courses: &courses{}}
	mux.HandleFunc("GET /{$}", first.page)
	mux.HandleFunc("GET /z/{zone}", things.ServeZone)
	mux.HandleFunc("GET /p/{probe}", things.ServeProbe)
	mux.HandleFunc("GET /search", search.Pages{Site: s}.ServePage)
	mux.HandleFunc("GET /b/{box}", boxes.box)
	mux.HandleFunc("GET /c/{clutch}", boxes.clutch)
	mux.HandleFunc("GET /alarm", first.alarm)
	mux.HandleFunc("GET /medium", media.page)
	mux.HandleFunc("GET /more", help.more)
	mux.HandleFunc("GET /help", help.list)
	mux.HandleFunc("GET /help/{topic}", help.topic)
	mux.HandleFunc("GET /api/v1/now", programs.ServeNow)
	mux.HandleFunc("GET /api/v1/readings", programs.ServeReadings)
	mux.HandleFunc("GET /api/v1/openapi.json", api.ServeDocument)
	mux.HandleFunc("GET /healthz", programs.ServeHealth)
	mux.HandleFunc("GET /", func(w http.ResponseWriter, r *http.Request) {
		s.Message(w, r, http.StatusNotFound, "Nothing is here", "This address shows nothing. The first page has a link to every box.")
	})
	if s.Shown != nil {
		mux.HandleFunc("GET /api/v1/score", programs.ServeScore)
	}
	if s.Metrics != nil {
		mux.Handle("GET /metrics", s.Metrics)
	}
	if s.Incidents != nil {
		incidents := alarmpages.IncidentPages{Site: s, Plot: things.IncidentPlot}
		mux.HandleFunc("GET /incident", incidents.ServePage)
		mux.HandleFunc("GET /api/v1/incident", incidents.ServeJSON)
		rehearsals := alarmpages.RehearsalPages{Site: s}
		mux.HandleFunc("GET /rehearsal", rehearsals.ServePage)
		mux.HandleFunc("GET /api/v1/rehearsal", rehearsals.ServeJSON)
	}
	if s.Book != nil {
		bookRoutes(mux, s, things)
	}
	if s.Access != nil {
		cross := page.CrossOrigin()
		mux.HandleFunc("GET /login", entrance.ServePage)
		mux.Handle("POST /login", cross.Handler(http.HandlerFunc(entrance.ServeLogin)))
		mux.Handle("POST /logout", cross.Handler(http.HandlerFunc(entrance.ServeLogout)))
	}
	if s.SendTest != nil {
		mux.Handle("POST /api/v1/test-message", s.Accept(page.MaxForm, programs.ServeTest))
	}
	if s.Writer != nil {
		mux.Handle("POST /act", s.Accept(page.MaxForm, alarmPages.ServeAct))
		mux.Handle("POST /api/v1/act", s.Accept(page.MaxForm, programs.ServeAct))
		mux.Handle("POST /api/v1/book", s.Accept(page.MaxBook, programs.TakeEntries))
	}
}

// bookRoutes adds what shows the book and what writes in it.
func bookRoutes(mux *http.ServeMux, s *page.Site, things bookpages.Pages) {
	forms, label, reviews, programs := notes.Pages{Site: s}, labels.Pages{Site: s}, seasons.Pages{Site: s}, api.Programs{Site: s}
	mux.HandleFunc("GET /api/v1/book", programs.ServeBook)
	mux.HandleFunc("GET /e/{egg}", things.ServeEgg)
	mux.HandleFunc("GET /d/{dam}", things.ServeDam)
	mux.HandleFunc("GET /s/{sire}", things.ServeSire)
	mux.HandleFunc("GET /s/{sire}/{dam}", things.ServePairing)
	mux.HandleFunc("GET /hatchlings", things.ServeHatchlings)
	mux.HandleFunc("GET /noted", forms.ServeLog)
	mux.HandleFunc("GET /labels", label.ServePage)
	mux.HandleFunc("GET /b/{box}/label.png", label.ServePicture)
	mux.HandleFunc("GET /review", reviews.ServePage)
	mux.HandleFunc("GET /review/{dam}", reviews.ServeDam)
	mux.HandleFunc("GET /api/v1/review", reviews.ServeJSON)
	if s.Calendar != "" {
		mux.HandleFunc("GET /calendar/{secret}", calendar.Feed{Site: s}.Serve)
	}
	if s.Backup != nil {
		mux.HandleFunc("GET /api/v1/backup", programs.ServeBackup)
	}
	if s.Writer != nil {
		mux.HandleFunc("GET /note", forms.ServeList)
		mux.HandleFunc("GET /note/{kind}", forms.ServeForm)
		mux.Handle("POST /note", s.Accept(page.MaxForm, forms.TakeUndo))
		mux.Handle("POST /note/{kind}", s.Accept(page.MaxForm, forms.TakeForm))
	}
}
