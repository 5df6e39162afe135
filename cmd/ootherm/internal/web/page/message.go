package page

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/forms"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/thermal/book"
)

type messageView struct {
	Frame
	Heading, Text string
}

// Message answers with one sentence: a page for a browser, plain text for a program
// that asks for plain text.
func (s *Site) Message(w http.ResponseWriter, r *http.Request, status int, heading, text string) {
	if asksForText(r) {
		http.Error(w, text, status)
		return
	}
	s.Render(w, status, "message", messageView{Frame: s.FrameOrBare(heading), Heading: heading, Text: text})
}

// asksForText reports whether a request names plain text among what it accepts, and no
// page. A browser always names pages.
func asksForText(r *http.Request) bool {
	accept := r.Header.Get("Accept")
	return strings.Contains(accept, "text/plain") && !strings.Contains(accept, "text/html")
}
func (s *Site) Done(w http.ResponseWriter, err error) {
	if err != nil {
		status, text := s.Refusal(err)
		http.Error(w, text, status)
		return
	}
	w.WriteHeader(http.StatusNoContent)
}

// Refusal is the status and the words for what was not done.
func (s *Site) Refusal(err error) (int, string) {
	var faults book.Faults
	if errors.As(err, &faults) {
		return http.StatusUnprocessableEntity, faults.In(s.Wording()).ErrorMessage()
	}
	if message, ok := usererr.Message(err); ok {
		return http.StatusUnprocessableEntity, message
	}
	s.Log.Error("a request could not be carried out", "err", err)
	return http.StatusInternalServerError, "The station could not do this; its log says why."
}

// SentForm is what a form says, or false after it was answered that it cannot be
// read.
func (s *Site) SentForm(w http.ResponseWriter, r *http.Request, title string) (url.Values, bool) {
	err := r.ParseForm()
	switch most := (*http.MaxBytesError)(nil); {
	case errors.As(err, &most):
		s.Message(w, r, http.StatusRequestEntityTooLarge, title, fmt.Sprintf("This is too large: a form has at most %d kB. Nothing was noted or changed.", most.Limit>>10))
	case err != nil:
		s.Message(w, r, http.StatusBadRequest, title, "The form could not be read. Nothing was noted or changed.")
	case len(r.PostForm) == 0:
		s.Message(w, r, http.StatusBadRequest, title, "The form came empty. Nothing was noted or changed; go back and send it again.")
	default:
		return r.PostForm, true
	}
	return nil, false
}

// Wording names times in faults of the book as the reader of this station does.
func (s *Site) Wording() book.Wording {
	return book.Wording{Time: func(t time.Time) string { return s.Reader.When(t, s.Clock()) }}
}

// Nonsense answers a request that cannot be read.
func (s *Site) Nonsense(w http.ResponseWriter, err error) {
	_, text := s.Refusal(err)
	http.Error(w, text, http.StatusBadRequest)
}

// Open is the state and the book, or nil after the request was answered.
func (s *Site) Open(w http.ResponseWriter, r *http.Request) (*snapshot.Snapshot, *book.Book) {
	n := s.State(w, r)
	if n == nil {
		return nil, nil
	}
	b := s.Book.Book()
	if b == nil {
		s.Message(w, r, http.StatusServiceUnavailable, "Starting", "The station is still opening the book. Try again in a minute.")
		return nil, nil
	}
	return n, b
}

// Keepable lets the browser keep a page, so that going back to it without a
// connection shows what was typed into it. In any other case the browser asks again.
func Keepable(w http.ResponseWriter) { w.Header().Set("Cache-Control", "private, no-cache") }

func (s *Site) Desk(n *snapshot.Snapshot, b *book.Book, at time.Time) forms.Desk {
	return forms.Desk{Book: b, Now: n, Profiles: s.Profiles, EggG: s.EggG, Reader: s.Reader, At: at}
}

func (s *Site) Local(t time.Time) string { return t.In(s.Place()).Format(forms.LocalTime) }

func (s *Site) Place() *time.Location {
	if s.Reader.Place == nil {
		return time.UTC
	}
	return s.Reader.Place
}

func Instant(t time.Time) string { return t.UTC().Format(time.RFC3339) }
