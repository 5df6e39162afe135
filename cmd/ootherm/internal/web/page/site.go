// Package page owns what every page shares: what a site needs, the frame around a page, the
// templates, the style sheets and the scripts, refusals in words, and the limits of what is
// taken. It must not know what any page shows.
package page

import (
	"context"
	"io"
	"iter"
	"log/slog"
	"net/http"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/review"
)

// Source gives the published state; nil before the first.
type Source interface{ Now() *snapshot.Snapshot }

// Past gives the readings of a probe, corrected, in the order of their times,
// from one time (included) to another (not included). It is safe from any
// goroutine and holds no store open across a slow client.
type Past interface {
	Readings(ctx context.Context, probe string, from, to time.Time) iter.Seq2[Point, error]
	// Raw gives them as the part gave them, without correction or bounds.
	Raw(ctx context.Context, probe string, from, to time.Time) iter.Seq2[Point, error]
	// Hourly gives what a probe measured in each hour of a span, corrected; hours without a
	// reading are left out.
	Hourly(ctx context.Context, probe string, from, to time.Time) iter.Seq2[Hour, error]
}

// Point is one reading of the past. Celsius and Humidity (a ratio) are NaN where
// there is none; Cause says why it is not believed and is empty when it is.
type Point struct {
	At       time.Time
	Celsius  float64
	Humidity float64
	Cause    string
}

// Hour is what a probe measured in about an hour. Temperatures are Celsius, the humidity a
// ratio; it is NaN where there is none.
type Hour struct {
	From, To          time.Time
	Mean, Least, Most float64
	Humidity          float64 // mean
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
	Shown     Shown     // nil: no windows were kept
	Writer    Writer    // nil: nothing can be written
	Incidents Incidents // looks back at a span; nil: no page does
	Access    Access    // lets other machines in; nil: nobody writes from elsewhere
	Reader    words.Reader
	URL       string           // the configured address, whose host may be asked for
	Notice    string           // shown on every page; empty: none
	Every     time.Duration    // between two polls
	Clock     func() time.Time // the station's time, that of Now.At
	Log       *slog.Logger     // nil: silent
	BookOptions
	CalendarOptions
	ProgramOptions
}

// BookOptions are what the pages of the book need.
type BookOptions struct {
	Book     Book                                    // nil: the book cannot be read
	Paces    func() map[string]review.Duration       // how long the clutches that are over took, by clutch; nil: not known
	Profiles []string                                // the kinds of animal that a dam may be
	EggG     func(kind string) (least, most float64) // how heavy an egg of a kind may be, grams; nil: of no kind is it known
	// Bands are the temperatures that eggs of a kind want and those that are safe for them; nil:
	// of no kind are they known.
	Bands    func(kind string) (wanted, safe snapshot.Band)
	LabelURL string // the address that labels carry; empty: none was chosen, so none are made
}

// ProgramOptions are what programs and commands may ask for.
type ProgramOptions struct {
	Metrics  http.Handler                                   // served at /metrics; nil: none
	Backup   func(io.Writer) error                          // writes the records out; nil: nobody may ask
	SendTest func(ctx context.Context, sender string) error // sends a test message; nil: nobody may ask
}

// CalendarOptions are what the calendar needs.
type CalendarOptions struct {
	Calendar  string    // the secret in the calendar's address; empty: no calendar
	Revisions Revisions // number the calendar; needed where there is one
}

// Site holds what every page needs.
type Site struct {
	Options
	pages map[string]pageTemplate
	// Trusts reports whether a request may read and write.
	Trusts func(*http.Request) bool
}

// Render writes a page whole or not at all: half a page that looks like a whole
// one would hide an alarm.
func (s *Site) Render(w http.ResponseWriter, status int, page string, view any) {
	var b strings.Builder
	t, err := s.pages[page]()
	if err == nil {
		err = t.Execute(&b, view)
	}
	if err != nil {
		s.Log.Error("a page could not be made", "page", page, "err", err)
		http.Error(w, "The page could not be made; the station's log says why. /api/v1/now still tells the state.", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_, _ = w.Write([]byte(b.String())) // a client that went away needs no answer
}

// State is the published state, or nil after the request was answered in words.
func (s *Site) State(w http.ResponseWriter, r *http.Request) *snapshot.Snapshot {
	n := s.Source.Now()
	if n == nil {
		w.Header().Set("Refresh", "5")
		s.Message(w, r, http.StatusServiceUnavailable, "Starting", "The station has only just started and has nothing to show yet. This page reloads by itself.")
	}
	return n
}

// Lag is how old the published state is.
func (s *Site) Lag(n *snapshot.Snapshot) time.Duration { return max(0, s.Clock().Sub(n.At)) }

// Stalled reports whether the state is older than three polls: then its figures
// are not the present.
func (s *Site) Stalled(n *snapshot.Snapshot) bool { return s.Every > 0 && s.Lag(n) > 3*s.Every }

// New makes what every page needs. A nil logger becomes a silent one.
func New(o Options) *Site {
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	return &Site{Options: o, pages: templates(), Trusts: func(*http.Request) bool { return false }}
}

// In is the site for a reader of other units.
func (s *Site) In(units words.Units) *Site {
	c := *s
	c.Reader.Units = units
	return &c
}

// Trusted reports whether a request may read and write.
func (s *Site) Trusted(r *http.Request) bool { return s.Trusts(r) }
