package api

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"

	"example.com/ootherm/cmd/ootherm/internal/problem"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/thermal/book"
)

// maxLines is how many entries are read at once: a whole book is no more (our choice).
const maxLines = 20_000

// act does what a program asks.
func (s Programs) ServeAct(w http.ResponseWriter, r *http.Request) {
	if !sent(w, r, "application/json") {
		return
	}
	var body struct {
		page.Action
		For string `json:"for"` // like 1h
	}
	d := json.NewDecoder(r.Body)
	d.DisallowUnknownFields()
	if err := d.Decode(&body); err != nil {
		unread(w, err)
		return
	}
	a, err := page.ParseAction(body.Action, body.For)
	if err == nil {
		err = s.Writer.Act(r.Context(), a)
	}
	s.Done(w, err)
}

// ServeTest sends a test message, for a command on the station itself.
func (s Programs) ServeTest(w http.ResponseWriter, r *http.Request) {
	if !page.BySocket(r) {
		http.Error(w, "ask on the station itself, with ootherm check --send NAME", http.StatusForbidden)
		return
	}
	if !sent(w, r, "application/json") {
		return
	}
	var body struct {
		Sender string `json:"sender"`
	}
	d := json.NewDecoder(r.Body)
	d.DisallowUnknownFields()
	if err := d.Decode(&body); err != nil {
		unread(w, err)
		return
	}
	switch err := s.SendTest(r.Context(), body.Sender); {
	case err == nil:
		w.WriteHeader(http.StatusNoContent)
	case usererr.IsUsage(err):
		http.Error(w, err.Error(), http.StatusBadRequest)
	default:
		http.Error(w, err.Error(), http.StatusBadGateway)
	}
}

// note takes entries of the book, a line of JSON each.
func (s Programs) TakeEntries(w http.ResponseWriter, r *http.Request) {
	if !sent(w, r, "application/x-ndjson", "application/jsonl", "application/json") {
		return
	}
	lines, err := io.ReadAll(r.Body)
	if err != nil {
		unread(w, err)
		return
	}
	if n := bytes.Count(bytes.TrimSpace(lines), []byte("\n")) + 1; n > maxLines {
		http.Error(w, fmt.Sprintf("these are %d lines, and a book has room for %d entries; nothing was noted", n, maxLines), http.StatusRequestEntityTooLarge)
		return
	}
	draft, err := book.ReadDraft(bytes.NewReader(lines))
	if err != nil {
		unread(w, err)
		return
	}
	err = s.Writer.Note(r.Context(), draft)
	if faults := (book.Faults{}); errors.As(err, &faults) {
		faults = faults.In(s.Wording())
		problem.Write(w, http.StatusUnprocessableEntity, faults.ErrorMessage(), faults)
		return
	}
	s.Done(w, err)
}

// unread says that a body could not be read.
func unread(w http.ResponseWriter, err error) {
	if most := (*http.MaxBytesError)(nil); errors.As(err, &most) {
		http.Error(w, fmt.Sprintf("this is more than %d MB at once, so nothing of it was read; send it in parts", most.Limit>>20), http.StatusRequestEntityTooLarge)
		return
	}
	http.Error(w, "what was sent cannot be read; nothing was changed: "+err.Error(), http.StatusBadRequest)
}

// sent reports whether the body is of a kind that is read here; a plain form of
// another site cannot send one of these.
func sent(w http.ResponseWriter, r *http.Request, kinds ...string) bool {
	kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err == nil {
		for _, k := range kinds {
			if kind == k {
				return true
			}
		}
	}
	http.Error(w, fmt.Sprintf("send it with Content-Type: %s", kinds[0]), http.StatusUnsupportedMediaType)
	return false
}
