// Package web serves what the station knows: the page for the phone and the
// desk, the JSON, the health and, through a handler given to it, the metrics.
// It reads the published state and the past, and writes only through the
// station. It fetches nothing from elsewhere; its two scripts keep what was typed
// into a form when the connection is lost, and what was opened when a page is
// reloaded.
//
// # Decisions
//
//   - The socket of the station is always let in. This machine is let in while there is
//     no passphrase, because a proxy on it makes everybody look local. Everybody else
//     needs a session cookie (HttpOnly, SameSite=Strict, stored hashed in memory).
//   - Forms are "Cache-Control: no-cache", not "no-store", and are sent to another address
//     (?send) than they are read from. Otherwise a browser without JavaScript replaces the
//     form by its own error page, and Back leads past it.
//   - A form looks at itself alone: its key, its time, each dam's last look and each box's
//     free slots are sent along. A form that is sent twice makes the same entries, and the
//     ledger stores one. A key that is in the book with other content gets a new key, and
//     the page says so.
//   - form.js keeps what was typed in localStorage until the station has answered; fold.js
//     keeps what was opened over the reload each minute.
//   - The calendar's SEQUENCE is one number for the feed: minutes since 2026, or one more
//     than the last where the clock was set back, and the same while the feed is the same.
//   - A message links to an alarm's page: opening it does nothing, its buttons ask.
package web

import (
	"context"
	"embed"
	"errors"
	"fmt"
	"html/template"
	"io"
	"iter"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/review"
)

//go:embed templates/*.html *.css icon.svg form.js fold.js
var files embed.FS

// Source gives the published state; nil before the first.
type Source interface{ Now() *snapshot.Snapshot }

// Past gives the readings of a probe, corrected, in the order of their times,
// from one time (included) to another (not included). It is safe from any
// goroutine and holds no store open across a slow client.
type Past interface {
	Readings(ctx context.Context, probe string, from, to time.Time) iter.Seq2[Point, error]
	// Raw gives them as the part gave them, without correction or bounds.
	Raw(ctx context.Context, probe string, from, to time.Time) iter.Seq2[Point, error]
}

// Point is one reading of the past. Celsius and Humidity (a ratio) are NaN where
// there is none; Cause says why it is not believed and is empty when it is.
type Point struct {
	At       time.Time
	Celsius  float64
	Humidity float64
	Cause    string
}

// Writer is the station's open ear. An error that has a method
// ErrorMessage() string is the sender's to mend and is shown to the person; any
// other is ours.
type Writer interface {
	// Note takes entries of the book: all of them, or none.
	Note(ctx context.Context, d book.Draft) error
	Act(ctx context.Context, a Action) error
}

// Book gives the breeder's book as it stands; nil before the station has it.
type Book interface{ Book() *book.Book }

// Options are what New needs.
type Options struct {
	Source Source
	Past   Past
	Shown  Shown  // nil: no windows were kept
	Writer Writer // nil: nothing can be written
	Book   Book   // nil: the book cannot be read
	// Paces gives how long the clutches that are over took, by clutch; nil: not known.
	Paces func() map[string]review.Duration
	// Incidents looks back at a span; nil: no page does.
	Incidents Incidents
	Access    Access                // lets other machines in; nil: nobody writes from elsewhere
	Calendar  string                // the secret in the calendar's address; empty: no calendar
	Revisions Revisions             // number the calendar; needed where there is one
	Backup    func(io.Writer) error // writes the records out; nil: nobody may ask
	Metrics   http.Handler          // served at /metrics; nil: none
	Reader    words.Reader
	// Profiles are the kinds of animal that a dam may be.
	Profiles []string
	// EggG is how heavy an egg of a kind may be, grams; nil: of no kind is it known.
	EggG     func(kind string) (least, most float64)
	URL      string           // the configured address, whose host may be asked for
	LabelURL string           // the address that labels carry; empty: none was chosen, so none are made
	Every    time.Duration    // between two polls
	Clock    func() time.Time // the station's time, that of Now.At
	Log      *slog.Logger     // nil: silent
}

type server struct {
	Options
	host   string // of URL
	pages  map[string]*template.Template
	traces traces
	door   door
	log    *slog.Logger
}

// New makes the handler of everything the station serves.
func New(o Options) (http.Handler, error) {
	if o.Source == nil || o.Past == nil || o.Clock == nil {
		return nil, errors.New("a source, a past and a clock are needed")
	}
	s := &server{Options: o, log: o.Log, pages: map[string]*template.Template{}}
	if s.log == nil {
		s.log = slog.New(slog.DiscardHandler)
	}
	if o.URL != "" {
		u, err := url.Parse(o.URL)
		if err != nil {
			return nil, fmt.Errorf("the station's url: %w", err)
		}
		if u.Hostname() == "" {
			return nil, fmt.Errorf("the station's url %q names no host; write it like http://eggroom.local:8080", o.URL)
		}
		s.host = u.Hostname()
	}
	for _, page := range []string{"first", "box", "clutch", "message", "notes", "note", "login", "review", "dam", "incident", "labels", "medium", "alarm", "help", "topic"} {
		t, err := template.New("base.html").ParseFS(files, "templates/base.html", "templates/parts.html", "templates/"+page+".html")
		if err != nil {
			return nil, fmt.Errorf("template %s: %w", page, err)
		}
		s.pages[page] = t
	}
	mux := http.NewServeMux()
	const css, script = "text/css; charset=utf-8", "text/javascript; charset=utf-8"
	for name, kind := range map[string]string{"style.css": css, "label.css": css, "label-sheet.css": css, "icon.svg": "image/svg+xml", "form.js": script, "fold.js": script} {
		body, err := files.ReadFile(name)
		if err != nil {
			return nil, err
		}
		mux.HandleFunc("GET /"+name, func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Content-Type", kind)
			w.Header().Set("Cache-Control", "max-age=300")
			_, _ = w.Write(body) // a client that went away needs no answer
		})
	}
	mux.HandleFunc("GET /{$}", s.first)
	mux.HandleFunc("GET /b/{box}", s.box)
	mux.HandleFunc("GET /c/{clutch}", s.clutch)
	mux.HandleFunc("GET /alarm", s.oneAlarm)
	mux.HandleFunc("GET /medium", s.mediums)
	mux.HandleFunc("GET /help", s.helpList)
	mux.HandleFunc("GET /help/{topic}", s.helpTopic)
	mux.HandleFunc("GET /api/v1/now", s.now)
	mux.HandleFunc("GET /api/v1/readings", s.readings)
	mux.HandleFunc("GET /healthz", s.healthz)
	if o.Shown != nil {
		mux.HandleFunc("GET /api/v1/score", s.score)
	}
	mux.HandleFunc("GET /", func(w http.ResponseWriter, r *http.Request) {
		s.message(w, r, http.StatusNotFound, "Nothing is here", "This address shows nothing. The first page has a link to every box.")
	})
	if o.Metrics != nil {
		mux.Handle("GET /metrics", o.Metrics)
	}
	if o.Incidents != nil {
		mux.HandleFunc("GET /incident", s.incident)
		mux.HandleFunc("GET /api/v1/incident", s.incidentJSON)
	}
	if o.Book != nil {
		mux.HandleFunc("GET /api/v1/book", s.book)
		mux.HandleFunc("GET /labels", s.labels)
		mux.HandleFunc("GET /b/{box}/label.png", s.labelPNG)
		mux.HandleFunc("GET /review", s.review)
		mux.HandleFunc("GET /review/{dam}", s.damReview)
		mux.HandleFunc("GET /api/v1/review", s.reviewJSON)
		if o.Calendar != "" {
			if o.Revisions == nil {
				return nil, errors.New("a calendar without anything to number it")
			}
			mux.HandleFunc("GET /calendar/{secret}", s.calendar)
		}
		if o.Backup != nil {
			mux.HandleFunc("GET /api/v1/backup", s.backup)
		}
		if o.Writer != nil {
			mux.HandleFunc("GET /note", s.notes)
			mux.HandleFunc("GET /note/{kind}", s.note)
		}
	}
	if o.Access != nil {
		mux.HandleFunc("GET /login", func(w http.ResponseWriter, r *http.Request) {
			s.login(w, http.StatusOK, r.URL.Query().Get("to"), "")
		})
		cross := crossOrigin()
		mux.Handle("POST /login", cross.Handler(http.HandlerFunc(s.enter)))
		mux.Handle("POST /logout", cross.Handler(http.HandlerFunc(s.leave)))
	}
	if o.Writer != nil {
		s.writes(mux)
	}
	return s.guard(mux), nil
}

// guard answers only to the station's own names, and tells the browser to run
// and fetch nothing but what comes from here.
func (s *server) guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", "default-src 'self'; script-src 'self'; object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		if !s.known(r) {
			http.Error(w, fmt.Sprintf("This station does not go by the name %q. Ask for it by its number, or set url in the configuration to the name you use.", r.Host), http.StatusMisdirectedRequest)
			return
		}
		if s.admit(w, r) {
			next.ServeHTTP(w, r)
		}
	})
}

// known reports whether the request asks for this station by a name of its own.
// A page elsewhere can make a browser ask us under a name of its choosing by
// pointing that name here (DNS rebinding); it cannot do so with a number, nor
// through the socket.
func (s *server) known(r *http.Request) bool {
	if bySocket(r) {
		return true
	}
	host := r.Host
	if h, _, err := net.SplitHostPort(host); err == nil {
		host = h
	}
	host = strings.ToLower(strings.TrimSuffix(strings.Trim(host, "[]"), "."))
	return host == "localhost" || net.ParseIP(host) != nil || s.host != "" && host == strings.ToLower(s.host)
}

func bySocket(r *http.Request) bool {
	a, ok := r.Context().Value(http.LocalAddrContextKey).(net.Addr)
	return ok && a.Network() == "unix"
}

// here reports whether the request comes from this machine.
func here(r *http.Request) bool {
	if bySocket(r) {
		return true
	}
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	return err == nil && net.ParseIP(host).IsLoopback()
}

// render writes a page whole or not at all: half a page that looks like a whole
// one would hide an alarm.
func (s *server) render(w http.ResponseWriter, status int, page string, view any) {
	var b strings.Builder
	if err := s.pages[page].Execute(&b, view); err != nil {
		s.log.Error("a page could not be made", "page", page, "err", err)
		http.Error(w, "The page could not be made; the station's log says why. /api/v1/now still tells the state.", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_, _ = w.Write([]byte(b.String())) // a client that went away needs no answer
}

// state is the published state, or nil after the request was answered in words.
func (s *server) state(w http.ResponseWriter, r *http.Request) *snapshot.Snapshot {
	n := s.Source.Now()
	if n == nil {
		w.Header().Set("Refresh", "5")
		s.message(w, r, http.StatusServiceUnavailable, "Starting", "The station has only just started and has nothing to show yet. This page asks again by itself.")
	}
	return n
}

// lag is how old the published state is.
func (s *server) lag(n *snapshot.Snapshot) time.Duration { return max(0, s.Clock().Sub(n.At)) }

// stalled reports whether the state is older than three polls: then its figures
// are not the present.
func (s *server) stalled(n *snapshot.Snapshot) bool { return s.Every > 0 && s.lag(n) > 3*s.Every }
