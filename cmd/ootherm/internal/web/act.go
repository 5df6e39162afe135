package web

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"net/url"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/thermal/book"
)

// What can be done to an alarm.
const (
	Acknowledge  = "acknowledge"    // a person has seen it
	Shelve       = "shelve"         // quiet for a while, ends by itself
	Unshelve     = "unshelve"       // end the quiet now
	OutOfService = "out-of-service" // switched off for work
	InService    = "in-service"     // back from work
)

// longest is how long an alarm may be quiet. ISA-18.2 asks that it is bounded;
// the day is our choice.
const longest = 24 * time.Hour

// Action is one thing a person does to one alarm, or to every alarm of a zone.
type Action struct {
	Do    string        `json:"do"`
	Alarm string        `json:"alarm"` // its key; empty: every alarm of the zone
	Zone  string        `json:"zone"`  // empty with an alarm's key
	Who   string        `json:"who"`   // as the person said, for the record
	For   time.Duration `json:"-"`     // how long quiet; Shelve alone
}

// parseAction checks what was sent and reads the length of a quiet.
func parseAction(a Action, quiet string) (Action, error) {
	switch a.Do {
	case Acknowledge, Unshelve, OutOfService, InService:
	case Shelve:
		d, err := time.ParseDuration(quiet)
		if err != nil || d <= 0 || d > longest {
			return Action{}, usererr.New(fmt.Sprintf("quiet for %q is not possible; say how long, from 1m to 24h", quiet))
		}
		a.For = d
	default:
		return Action{}, usererr.New(fmt.Sprintf("%q is nothing that can be done to an alarm; use %s, %s, %s, %s or %s",
			a.Do, Acknowledge, Shelve, Unshelve, OutOfService, InService))
	}
	if (a.Alarm == "") == (a.Zone == "") {
		return Action{}, usererr.New("which alarm? name one by its key, or name a zone for all of its alarms")
	}
	return a, nil
}

// The most bytes of a body that are read: largest of the book, of which many
// seasons are far under it, and largestForm of a form, of whose texts the longest is
// too.
const largest, largestForm = 16 << 20, 256 << 10

// maxLines is how many entries are read at once: a whole book is no more (our choice).
const maxLines = 20_000

// crossOrigin refuses what another site made a browser send.
func crossOrigin() *http.CrossOriginProtection {
	cross := http.NewCrossOriginProtection()
	cross.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		http.Error(w, "This was sent from another site and was not done.", http.StatusForbidden)
	}))
	return cross
}

// accept hands on a request that changes something: from here, from whom it may come, and no
// larger than most bytes.
func (s *server) accept(most int64, h http.HandlerFunc) http.Handler {
	return crossOrigin().Handler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !s.trusted(r) {
			http.Error(w, "This can only be done on the station itself; nothing was changed.", http.StatusForbidden)
			return
		}
		r.Body = http.MaxBytesReader(w, r.Body, most)
		h(w, r)
	}))
}

// act does what a form asks.
func (s alarmPages) act(w http.ResponseWriter, r *http.Request) {
	f, ok := s.sentForm(w, r, "Not done")
	if !ok {
		return
	}
	do, quiet, _ := strings.Cut(f.Get("do"), " ") // a button says with what it does for how long
	a, err := parseAction(Action{Do: do, Alarm: f.Get("alarm"), Zone: f.Get("zone"), Who: f.Get("who")}, cmp.Or(quiet, f.Get("for")))
	if err == nil {
		err = s.Writer.Act(r.Context(), a)
	}
	if err != nil {
		status, text := s.refusal(err)
		s.message(w, r, status, "Not done", text)
		return
	}
	http.Redirect(w, r, "/", http.StatusSeeOther)
}

// act does what a program asks.
func (s api) act(w http.ResponseWriter, r *http.Request) {
	if !sent(w, r, "application/json") {
		return
	}
	var body struct {
		Action
		For string `json:"for"` // like 1h
	}
	d := json.NewDecoder(r.Body)
	d.DisallowUnknownFields()
	if err := d.Decode(&body); err != nil {
		unread(w, err)
		return
	}
	a, err := parseAction(body.Action, body.For)
	if err == nil {
		err = s.Writer.Act(r.Context(), a)
	}
	s.done(w, err)
}

// note takes entries of the book, a line of JSON each.
func (s api) note(w http.ResponseWriter, r *http.Request) {
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
	if faults := (book.Faults{}); errors.As(err, &faults) && strings.Contains(r.Header.Get("Accept"), "application/json") {
		if body, err := json.Marshal(faults.In(s.wording())); err == nil {
			w.Header().Set("Content-Type", "application/json")
			w.WriteHeader(http.StatusUnprocessableEntity)
			_, _ = w.Write(append(body, '\n')) // a client that went away needs no answer
			return
		}
	}
	s.done(w, err)
}

// unread says that a body could not be read.
func unread(w http.ResponseWriter, err error) {
	if most := (*http.MaxBytesError)(nil); errors.As(err, &most) {
		http.Error(w, fmt.Sprintf("this is more than %d MB at once, so nothing of it was read; send it in parts", most.Limit>>20), http.StatusRequestEntityTooLarge)
		return
	}
	http.Error(w, "what was sent cannot be read; nothing was changed: "+err.Error(), http.StatusBadRequest)
}

// sentForm is what a form says, or false after it was answered that it cannot be
// read.
func (s *server) sentForm(w http.ResponseWriter, r *http.Request, title string) (url.Values, bool) {
	err := r.ParseForm()
	switch most := (*http.MaxBytesError)(nil); {
	case errors.As(err, &most):
		s.message(w, r, http.StatusRequestEntityTooLarge, title, fmt.Sprintf("This is too large: a form has at most %d kB. Nothing was noted or changed.", most.Limit>>10))
	case err != nil:
		s.message(w, r, http.StatusBadRequest, title, "The form could not be read. Nothing was noted or changed.")
	case len(r.PostForm) == 0:
		s.message(w, r, http.StatusBadRequest, title, "The form came empty. Nothing was noted or changed; go back and send it again.")
	default:
		return r.PostForm, true
	}
	return nil, false
}

// wording names times in faults of the book as the reader of this station does.
func (s *server) wording() book.Wording {
	return book.Wording{Time: func(t time.Time) string { return s.Reader.When(t, s.Clock()) }}
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

func (s *server) done(w http.ResponseWriter, err error) {
	if err != nil {
		status, text := s.refusal(err)
		http.Error(w, text, status)
		return
	}
	w.WriteHeader(http.StatusNoContent)
}

// refusal is the status and the words for what was not done.
func (s *server) refusal(err error) (int, string) {
	var faults book.Faults
	if errors.As(err, &faults) {
		return http.StatusUnprocessableEntity, faults.In(s.wording()).ErrorMessage()
	}
	if message, ok := usererr.Message(err); ok {
		return http.StatusUnprocessableEntity, message
	}
	s.log.Error("a request could not be carried out", "err", err)
	return http.StatusInternalServerError, "The station could not do this; its log says why."
}
