// Package notes shows the forms of the book, takes them, and lists and undoes what was noted. It
// must not know what an entry means.
package notes

import (
	"cmp"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/forms"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/web/calendar"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
)

// Pages shows the book's forms and takes them.
type Pages struct{ *page.Site }

type notesView struct {
	page.Frame
	Log
	Feed    string // the calendar's address
	Needed  []Door
	Groups  []groupView
	Earlier string // leads to the entries before these; empty: there are none
}

// View is a form as it is shown. Its time is Time, as the reader's clock shows
// it; while that is Shown, it is Instant to the second. Clock says whose clock
// that is, the station's or the phone's.
type View struct {
	page.Frame
	Form                             forms.Form
	Key, Time, Instant, Shown, Clock string
	Offset                           int // of the station's hour, seconds east of UTC
	Fresh                            bool
	Done                             bool   // what this form lacked was noted just now
	Then                             string // kind of the form that is open after this one; empty: the book
	Hidden                           map[string]string
	Fields                           []FieldView
	Fault                            []string
}

// Whose clock the time of a form is.
const (
	ByStation = "station"
	byPhone   = "phone"
)

// apart is how far a phone's clock may be from the station's before the person is
// asked; our choice. Times within a minute or two change no window.
const apart = 5 * time.Minute

// sure is the field in which a form says what it was asked.
const sure = "sure"

func (s Pages) ServeList(w http.ResponseWriter, r *http.Request) {
	n, b := s.Open(w, r)
	if b == nil {
		return
	}
	v := notesView{Frame: s.Frame(n, "The book"), Groups: groups(), Log: s.part(r, b, "", anything, 0, recent)}
	v.Here = "note"
	if v.Total > recent {
		v.Earlier = EarlierHref(2)
	}
	for _, x := range s.Desk(n, b, s.Clock()).Needed() {
		v.Needed = append(v.Needed, DoorTo(x))
	}
	if s.Calendar != "" {
		v.Feed = strings.TrimSuffix(s.URL, "/") + calendar.Path(s.Calendar)
	}
	page.Keepable(w)
	s.Render(w, http.StatusOK, "notes", v)
}

// formOf finds the form that is asked for, or answers that there is none.
func (s Pages) formOf(w http.ResponseWriter, r *http.Request) (forms.Form, bool) {
	f, ok := forms.Of(r.PathValue("kind"))
	if !ok {
		s.Message(w, r, http.StatusNotFound, "No such form", "The book has a list of what can be noted.")
	}
	return f, ok
}

// note shows an empty form. Values in the query are filled in, so that a page
// may lead to a form for its box or egg.
func (s Pages) ServeForm(w http.ResponseWriter, r *http.Request) {
	n, b := s.Open(w, r)
	if b == nil {
		return
	}
	f, ok := s.formOf(w, r)
	if !ok {
		return
	}
	d := s.Desk(n, b, s.Clock())
	sent := d.Opened(f)
	asked := r.URL.Query()
	sent["back"] = asked["back"]
	for _, x := range f.Fields {
		if v, ok := asked[x.Name]; ok {
			sent[x.Name] = v
		}
	}
	v := s.form(f, n, d, sent)
	v.Key, v.Fresh = NewKey(), true
	v.Done, v.Then = asked.Has("noted"), then(asked)
	v.By(ByStation, d.At, s.Local(d.At), s.Local(d.At))
	page.Keepable(w)
	s.Render(w, http.StatusOK, "note", v)
}

func (s Pages) form(f forms.Form, n *snapshot.Snapshot, d forms.Desk, sent url.Values) View {
	v := View{Frame: s.Frame(n, f.Title).In("note"), Form: f, Hidden: map[string]string{}}
	for _, x := range f.Fields {
		field := FieldOf(d, x, sent)
		field.Then = f.Kind
		v.Fields = append(v.Fields, field)
	}
	if back := BackTo(sent); back != "" {
		v.Hidden["back"] = back
	}
	for k := range sent {
		if forms.Pinned(k) {
			v.Hidden[k] = sent.Get(k)
		}
	}
	_, v.Offset = d.At.In(s.Place()).Zone()
	return v
}

// by sets whose clock the form's time is by, the time as it stands in the form and
// as it was shown, and when that was.
func (v *View) By(clock string, t time.Time, stands, shown string) {
	v.Clock, v.Instant, v.Time, v.Shown = clock, page.Instant(t), stands, shown
}

func (s Pages) TakeForm(w http.ResponseWriter, r *http.Request) {
	sent, ok := s.SentForm(w, r, "Not noted")
	if !ok {
		return
	}
	n, b := s.Open(w, r)
	if b == nil {
		return
	}
	f, ok := s.formOf(w, r)
	if !ok {
		return
	}
	entries, err := s.entries(f, sent)
	var asked []string
	if err == nil {
		for _, x := range s.Desk(n, b, s.Clock()).Missing(f, sent) {
			err = usererr.New(x.Short() + ": choose one")
		}
	}
	if err == nil {
		// A probable mistake is questioned once: the form comes back with the
		// question, and is noted when it is sent again unchanged with it.
		if asked = s.Desk(n, b, s.Clock()).Doubts(entries); len(asked) > 0 && sent.Get(sure) != strings.Join(asked, " ") {
			err = usererr.New(strings.Join(append(slices.Clone(asked), "If it is right as it stands, note it once more."), "\n"))
		}
	}
	if err == nil {
		err = s.write(r.Context(), entries)
	}
	if err == nil {
		http.Redirect(w, r, afterNote(sent, entries), http.StatusSeeOther)
		return
	}
	status, said := s.refused(f, err)
	at, whenErr := s.When(sent)
	var skewed skew
	switch {
	case errors.As(whenErr, &skewed):
		at = skewed.at // as the station's clock has it
	case whenErr != nil:
		at = s.Clock()
	}
	b = s.Book.Book()
	v := s.form(f, n, s.Desk(n, b, at), sent)
	v.Key, v.Fault, v.Then = sent.Get("key"), said, then(sent)
	if len(asked) > 0 {
		v.Hidden[sure] = strings.Join(asked, " ")
	}
	v.By(ByStation, at, sent.Get("at"), sent.Get("shown"))
	switch {
	case skewed.at.After(time.Time{}):
		v.By(ByStation, at, s.Local(at), s.Local(at))
		if n.Station.Clock == "unverified" {
			v.Fault = append(v.Fault, "The station's own clock is not verified: no time server has answered since its start.")
		}
	case sent.Get("clock") == byPhone:
		v.Clock = byPhone
	}
	if e, _, there := b.Entry(v.Key); there {
		// The form is in the book already, and what it says now is something else.
		v.Key = NewKey()
		v.Fault = []string{"This form is in the book already, as: " + forms.Said(e) + ". If what stands below is another entry, note it now; if it corrects the first, undo that one in the book."}
	}
	s.Render(w, status, "note", v)
}

// write hands entries to the station, all or none.
func (s Pages) write(ctx context.Context, entries []book.Entry) error {
	return s.Writer.Note(ctx, book.NewDraft(entries...))
}

// refused is the status, and what to say on a page about a form that was not
// noted: other entries are told as the book's page lists them.
func (s Pages) refused(f forms.Form, err error) (int, []string) {
	var faults book.Faults
	if !errors.As(err, &faults) {
		status, text := s.Refusal(err)
		return status, strings.Split(text, "\n")
	}
	t := s.Wording()
	t.Entry = func(e book.Entry) string { return forms.Said(e) + ", " + t.Time(e.At) }
	return http.StatusUnprocessableEntity, f.Refused(faults.In(t), func(name string, x forms.Field) string {
		switch name {
		case "at":
			return "When"
		case "key":
			return "The form"
		}
		return x.Short()
	})
}

// skew is the error of a phone whose clock differs from the station's. It has a type
// of its own because the form that comes back needs its time.
type skew struct {
	at time.Time // of the entry, by the station's clock
	error
}

func (e skew) Unwrap() error { return e.error }

// when is the time of a form. By the phone's clock it is the instant that the
// phone computed, unless that clock is off. By the station's it is the instant
// that was shown, where it was left as shown: a clock that is set back shows the
// same hour twice.
func (s Pages) When(f url.Values) (time.Time, error) {
	t, err := time.Parse(time.RFC3339, f.Get("instant"))
	if err == nil && f.Get("clock") == byPhone {
		if sentAt, err := time.Parse(time.RFC3339, f.Get("sent")); err == nil {
			here := s.Clock()
			if d := sentAt.Sub(here); d.Abs() > apart {
				way := "ahead of"
				if d < 0 {
					way = "behind"
				}
				return time.Time{}, skew{t.Add(-d), usererr.New(fmt.Sprintf("This phone's clock is %s %s the station's, which shows %s. The time below is now by the station's clock: look at it, then note it.",
					words.Span(d.Abs()), way, s.Reader.When(here, sentAt)))}
			}
		}
		return t.UTC(), nil
	}
	if err == nil && f.Get("at") == f.Get("shown") {
		return t.UTC(), nil
	}
	return forms.Time(f.Get("at"), s.Place())
}

// entries is what a form says.
func (s Pages) entries(f forms.Form, sent url.Values) ([]book.Entry, error) {
	at, err := s.When(sent)
	if err != nil {
		return nil, err
	}
	return f.Entries(strings.TrimSpace(sent.Get("key")), at, UnitsOf(sent, s.Reader.Units), sent)
}

// postUndo voids an entry, with the places that came with it.
func (s Pages) TakeUndo(w http.ResponseWriter, r *http.Request) {
	sent, ok := s.SentForm(w, r, "Not undone")
	if !ok {
		return
	}
	_, b := s.Open(w, r)
	if b == nil {
		return
	}
	at, err := time.Parse(time.RFC3339, sent.Get("at"))
	if err != nil {
		err = usererr.New("the form does not say when; open the book again")
	}
	voids := forms.Undo(b, sent.Get("undo"), sent.Get("key"), at)
	if err == nil {
		err = s.write(r.Context(), voids)
	}
	if err != nil {
		status, said := s.refused(forms.Form{}, err)
		s.Message(w, r, status, "Not undone", words.Capital(strings.Join(said, ". "))+".")
		return
	}
	http.Redirect(w, r, cmp.Or(BackTo(sent), "/note")+"?noted="+undone, http.StatusSeeOther)
}

// minted is a key that no other form has.
func NewKey() string { return "p-" + strings.ToLower(rand.Text()[:16]) }
