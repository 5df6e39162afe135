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
	"html/template"
	"io"
	"iter"
	"log/slog"
	"net"
	"net/http"
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
	Source    Source
	Past      Past
	Shown     Shown        // nil: no windows were kept
	Writer    Writer       // nil: nothing can be written
	Incidents Incidents    // looks back at a span; nil: no page does
	Access    Access       // lets other machines in; nil: nobody writes from elsewhere
	Metrics   http.Handler // served at /metrics; nil: none
	Reader    words.Reader
	URL       string           // the configured address, whose host may be asked for
	Notice    string           // shown on every page; empty: none
	Every     time.Duration    // between two polls
	Clock     func() time.Time // the station's time, that of Now.At
	Log       *slog.Logger     // nil: silent
	BookOptions
	CalendarOptions
}

// BookOptions are what the pages of the book need.
type BookOptions struct {
	Book     Book                                    // nil: the book cannot be read
	Paces    func() map[string]review.Duration       // how long the clutches that are over took, by clutch; nil: not known
	Profiles []string                                // the kinds of animal that a dam may be
	EggG     func(kind string) (least, most float64) // how heavy an egg of a kind may be, grams; nil: of no kind is it known
	LabelURL string                                  // the address that labels carry; empty: none was chosen, so none are made
	Backup   func(io.Writer) error                   // writes the records out; nil: nobody may ask
}

// CalendarOptions are what the calendar needs.
type CalendarOptions struct {
	Calendar  string    // the secret in the calendar's address; empty: no calendar
	Revisions Revisions // number the calendar; needed where there is one
}

// server holds what every page needs.
type server struct {
	Options
	host  string // of URL
	pages map[string]*template.Template
	door  door

	refused refusals
	log     *slog.Logger
}

// New makes the handler of everything the station serves.
func New(o Options) (http.Handler, error) {
	if o.Source == nil || o.Past == nil || o.Clock == nil {
		return nil, errors.New("a source, a past and a clock are needed")
	}
	if o.Book != nil && o.Calendar != "" && o.Revisions == nil {
		return nil, errors.New("a calendar without anything to number it")
	}
	s := &server{Options: o, log: o.Log}
	if s.log == nil {
		s.log = slog.New(slog.DiscardHandler)
	}
	var err error
	if s.host, err = hostOf(o.URL); err != nil {
		return nil, err
	}
	if s.pages, err = parsePages(); err != nil {
		return nil, err
	}
	mux := http.NewServeMux()
	if err := serveFiles(mux); err != nil {
		return nil, err
	}
	s.routes(mux)
	return entrance{s}.guard(mux), nil
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
		s.message(w, r, http.StatusServiceUnavailable, "Starting", "The station has only just started and has nothing to show yet. This page reloads by itself.")
	}
	return n
}

// lag is how old the published state is.
func (s *server) lag(n *snapshot.Snapshot) time.Duration { return max(0, s.Clock().Sub(n.At)) }

// stalled reports whether the state is older than three polls: then its figures
// are not the present.
func (s *server) stalled(n *snapshot.Snapshot) bool { return s.Every > 0 && s.lag(n) > 3*s.Every }
