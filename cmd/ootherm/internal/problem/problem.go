// Package problem answers programs with problem details (RFC 9457), where a person gets a
// sentence. It owns the form of an error under /api/. It must not know why an error came.
package problem

import (
	"bytes"
	"encoding/json"
	"net/http"
	"strings"
)

// ContentType is the media type of problem details (RFC 9457 section 3).
const ContentType = "application/problem+json"

// maxDetailBytes is how much of a text is kept as a detail (our choice).
const maxDetailBytes = 64 << 10

// Details is one problem. Its type is about:blank: the status says what kind of problem it is
// (RFC 9457 section 4.2.1).
type Details struct {
	Type   string `json:"type"`
	Title  string `json:"title"`            // the name of the status
	Status int    `json:"status"`           // as in the status line
	Detail string `json:"detail"`           // what is wrong and what to do, for a person
	Faults any    `json:"faults,omitempty"` // of entries for the book: what is wrong with each
}

// Write answers with a problem. Faults are the single faults of what was sent; nil where
// there are none.
func Write(w http.ResponseWriter, status int, detail string, faults any) {
	body, err := json.Marshal(Details{"about:blank", http.StatusText(status), status, strings.TrimSpace(detail), faults})
	if err != nil { // of faults that JSON cannot hold
		http.Error(w, detail, status)
		return
	}
	h := w.Header()
	h.Del("Content-Length")
	h.Set("Content-Type", ContentType)
	h.Set("X-Content-Type-Options", "nosniff")
	w.WriteHeader(status)
	_, _ = w.Write(append(body, '\n')) // a client that went away needs no answer
}

// ForPrograms answers under /api/ with a problem where the handler answers an error as text
// or as a page. The text becomes the detail.
func ForPrograms(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !strings.HasPrefix(r.URL.Path, "/api/") {
			next.ServeHTTP(w, r)
			return
		}
		x := &writer{ResponseWriter: w}
		next.ServeHTTP(x, r)
		if x.status != 0 {
			Write(w, x.status, x.detail(), nil)
		}
	})
}

// writer holds back an error that is text or a page.
type writer struct {
	http.ResponseWriter
	status int // of the error that is held back; 0: none is
	text   bytes.Buffer
	sent   bool
}

// Unwrap lets http.ResponseController reach the connection.
func (w *writer) Unwrap() http.ResponseWriter { return w.ResponseWriter }

func (w *writer) WriteHeader(status int) {
	if !w.sent && w.status == 0 && status >= http.StatusBadRequest && strings.HasPrefix(w.Header().Get("Content-Type"), "text/") {
		w.status = status
		return
	}
	w.sent = w.sent || status >= http.StatusOK // before: only informational
	w.ResponseWriter.WriteHeader(status)
}

func (w *writer) Write(p []byte) (int, error) {
	if w.status != 0 {
		w.text.Write(p[:min(len(p), maxDetailBytes-w.text.Len())])
		return len(p), nil
	}
	w.sent = true
	return w.ResponseWriter.Write(p)
}

func (w *writer) detail() string {
	if strings.HasPrefix(w.Header().Get("Content-Type"), "text/html") {
		return "This address shows nothing to a program. /api/v1/openapi.json lists those that do."
	}
	return w.text.String()
}
