// Package web serves what the station knows: the page for the phone and the
// desk, the JSON, the health and, through a handler given to it, the metrics.
// It reads the published state and the past, and writes only through the
// station. It fetches nothing from elsewhere, and every page works without its scripts.
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
//   - The scripts of page/: live.js brings an open page up to date, worker.js keeps pages for
//     when the station is away, form.js and waiting.js keep what was typed in localStorage
//     until the station has it, fold.js what was opened, locale.js writes hours and days as
//     the browser's language does. A worker needs HTTPS or this machine; the others do not.
//   - A page is served by one of two sites, for Celsius and for Fahrenheit: what a page shows
//     follows from its site's reader, and no handler asks for units.
//   - The calendar's SEQUENCE is one number for the feed: minutes since 2026, or one more
//     than the last where the clock was set back, and the same while the feed is the same.
//   - A message links to an alarm's page: opening it does nothing, its buttons ask.
package web

import (
	"errors"
	"net/http"

	"example.com/ootherm/cmd/ootherm/internal/problem"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/access"
	"example.com/ootherm/cmd/ootherm/internal/web/changes"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/web/response"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
)

// New makes the handler of everything the station serves.
func New(o page.Options) (http.Handler, error) {
	if o.Source == nil || o.Past == nil || o.Clock == nil {
		return nil, errors.New("a source, a past and a clock are needed")
	}
	if o.Book != nil && o.Calendar != "" && o.Revisions == nil {
		return nil, errors.New("a calendar without anything to number it")
	}
	s := page.New(o)
	entrance, err := access.New(s)
	if err != nil {
		return nil, err
	}
	s.Trusts = entrance.Trusted
	station, events := s.Reader.Units, &changes.Stream{Site: s}
	sites := map[words.Units]http.Handler{}
	for _, u := range []words.Units{words.Celsius, words.Fahrenheit} {
		mux := http.NewServeMux()
		if err := page.ServeFiles(mux); err != nil {
			return nil, err
		}
		routes(mux, s.In(u), entrance)
		mux.Handle("GET /events", events)
		mux.Handle("POST /units", page.CrossOrigin().Handler(http.HandlerFunc(chooseUnits)))
		sites[u] = mux
	}
	all := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { sites[unitsOf(r, station)].ServeHTTP(w, r) })
	return entrance.Guard(response.New(problem.ForPrograms(all), func(r *http.Request) any { return sharedBy(s, r) })), nil
}

// reading is what the first page depends on.
type reading struct {
	now     *snapshot.Snapshot
	book    *book.Book
	address string
	trusted bool
	units   words.Units
}

// sharedBy is what an answer depends on that other readers may get too; nil: it is for one
// reader alone.
func sharedBy(s *page.Site, r *http.Request) any {
	if r.URL.Path != "/" || r.Header.Get("If-None-Match") == "" {
		return nil // a form has a key of its own; who has no page yet gets the present one
	}
	x := reading{now: s.Source.Now(), address: r.URL.RequestURI(), trusted: s.Trusted(r), units: unitsOf(r, s.Reader.Units)}
	if s.Book != nil {
		x.book = s.Book.Book()
	}
	if x.now == nil {
		return nil
	}
	return x
}
