package web

import (
	"bytes"
	"context"
	"crypto/rand"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/app/now"
	"example.com/ootherm/cmd/ootherm/internal/app/words"
	"example.com/ootherm/thermal/book"
)

type recentView struct {
	Key, Mint, Text, When string
	Undone                bool
}

type notesView struct {
	frame
	Done    bool
	Instant string
	Feed    string // the calendar's address
	Forms   []formKind
	Recent  []recentView
}

type noteView struct {
	frame
	Form                formKind
	Key, Instant, Shown string
	Hidden              map[string]string
	Fields              []fieldView
	Fault               []string
}

// minted is a key that no other form has.
func minted() string { return "p-" + strings.ToLower(rand.Text()[:16]) }

// localTime is how a browser writes the time of a form.
const localTime = "2006-01-02T15:04"

// recent is how many entries can be undone from the page.
const recent = 20

// open is the state and the book, or nil after the request was answered.
func (s *server) open(w http.ResponseWriter, r *http.Request) (*now.Now, *book.Book) {
	n := s.state(w, r)
	if n == nil {
		return nil, nil
	}
	b := s.Book.Book()
	if b == nil {
		s.message(w, r, http.StatusServiceUnavailable, "Starting", "The station is still opening the book. Try again in a minute.")
		return nil, nil
	}
	return n, b
}

func (s *server) notes(w http.ResponseWriter, r *http.Request) {
	n, b := s.open(w, r)
	if b == nil {
		return
	}
	v := notesView{frame: s.frame(n, "The book"), Done: r.URL.Query().Has("noted"), Instant: instant(s.Clock()), Forms: forms()}
	if s.Calendar != "" {
		v.Feed = strings.TrimSuffix(s.URL, "/") + s.calendarPath()
	}
	all := slices.Collect(b.Arrived())
	for _, e := range slices.Backward(all) {
		if base, _, part := strings.Cut(e.Key, "."); part && e.Kind == book.KindPlaced {
			if _, _, ok := b.Entry(base); ok {
				continue // undone with the clutch that it came with
			}
		}
		if e.Kind == book.KindVoid {
			continue
		}
		if len(v.Recent) == recent {
			break
		}
		_, by, _ := b.Entry(e.Key)
		v.Recent = append(v.Recent, recentView{Key: e.Key, Mint: minted(), Text: said(e), When: s.Reader.When(e.At, s.Clock()), Undone: by != ""})
	}
	s.render(w, http.StatusOK, "notes", v)
}

func instant(t time.Time) string { return t.UTC().Format(time.RFC3339) }

// note shows an empty form. Values in the query are filled in, so that a page
// may lead to a form for its box or egg.
func (s *server) note(w http.ResponseWriter, r *http.Request) {
	n, b := s.open(w, r)
	if b == nil {
		return
	}
	f, ok := formOf(r.PathValue("kind"))
	if !ok {
		s.message(w, r, http.StatusNotFound, "No such form", "The book has a list of what can be noted.")
		return
	}
	at := s.Clock()
	sent := map[string][]string(r.URL.Query())
	if f.Kind == kindFound && len(sent["clutch"]) == 0 {
		sent["clutch"] = []string{freshClutch(b)}
	}
	delete(sent, "at")
	v := s.form(f, n, b, at, sent)
	v.Key, v.Instant, v.Shown = minted(), instant(at), s.local(at)
	if f.Kind == kindFound {
		v.Hidden = pinned(b, at)
	}
	s.render(w, http.StatusOK, "note", v)
}

func (s *server) local(t time.Time) string { return t.In(s.place()).Format(localTime) }

func (s *server) place() *time.Location {
	if s.Reader.Place == nil {
		return time.UTC
	}
	return s.Reader.Place
}

func (s *server) form(f formKind, n *now.Now, b *book.Book, at time.Time, sent map[string][]string) noteView {
	v := noteView{frame: s.frame(n, f.Title), Form: f}
	for _, name := range f.fields {
		v.Fields = append(v.Fields, s.field(name, b, n, at, sent))
	}
	when := fieldView{Name: "at", Label: "When", Type: "time", Value: s.local(at), Must: true}
	if t := sent["at"]; len(t) > 0 {
		when.Value = t[0]
	}
	v.Fields = append(v.Fields, when)
	return v
}

// freshClutch is a name that no clutch has.
func freshClutch(b *book.Book) string {
	for i := len(b.Clutches()) + 1; ; i++ {
		name := "C" + strconv.Itoa(i)
		if _, there := b.Clutch(name); !there {
			return name
		}
	}
}

// pinned is what the form of eggs found knew when it was opened: each dam's last
// look and each box's free slots. It is sent along, so that the same form makes
// the same entries however late or often it arrives.
func pinned(b *book.Book, at time.Time) map[string]string {
	h := map[string]string{}
	for _, d := range b.Dams() {
		if t, ok := b.LastLook(d.Name, at); ok {
			h["look "+d.Name] = t.UTC().Format(time.RFC3339Nano)
		}
	}
	for _, x := range b.Boxes() {
		var free []string
		for c := 'a'; c <= 'z' && len(free) < 12; c++ {
			taken := slices.ContainsFunc(x.Eggs, func(id string) bool { e, _ := b.Egg(id); return strings.EqualFold(e.Slot, string(c)) })
			if !taken {
				free = append(free, string(c))
			}
		}
		h["free "+x.ID] = strings.Join(free, " ")
	}
	return h
}

func (s *server) postNote(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		s.message(w, r, http.StatusBadRequest, "Not noted", "The form could not be read; nothing was noted.")
		return
	}
	n, b := s.open(w, r)
	if b == nil {
		return
	}
	f, ok := formOf(r.PathValue("kind"))
	if !ok {
		s.message(w, r, http.StatusNotFound, "No such form", "The book has a list of what can be noted.")
		return
	}
	entries, err := s.entries(f, r.PostForm)
	if err == nil {
		err = s.write(r.Context(), entries)
	}
	if err == nil {
		http.Redirect(w, r, "/note?noted", http.StatusSeeOther)
		return
	}
	status, text := s.refusal(err)
	sent := r.PostForm
	at, whenErr := s.when(sent)
	if whenErr != nil {
		at = s.Clock()
	}
	v := s.form(f, n, b, at, sent)
	v.Key, v.Instant, v.Shown, v.Hidden = sent.Get("key"), sent.Get("instant"), sent.Get("shown"), map[string]string{}
	for k := range sent {
		if strings.HasPrefix(k, "look ") || strings.HasPrefix(k, "free ") {
			v.Hidden[k] = sent.Get(k)
		}
	}
	v.Fault = spoken(text, entries)
	s.render(w, status, "note", v)
}

// spoken is what the book says of entries, without the keys, which no person
// chose.
func spoken(text string, entries []book.Entry) []string {
	for _, e := range slices.Backward(entries) {
		text = strings.ReplaceAll(text, "entry "+e.Key+": ", "")
	}
	return strings.Split(text, "\n")
}

// write hands entries to the station, all or none.
func (s *server) write(ctx context.Context, entries []book.Entry) error {
	var b bytes.Buffer
	if err := book.WriteJSON(&b, slices.Values(entries)); err != nil {
		return err
	}
	return s.Writer.Note(ctx, b.Bytes())
}

// when is the time of a form. Where it was left as shown, it is the instant that
// was shown: a clock that is set back shows the same hour twice.
func (s *server) when(f url.Values) (time.Time, error) {
	if f.Get("at") == f.Get("shown") && f.Get("instant") != "" {
		if t, err := time.Parse(time.RFC3339, f.Get("instant")); err == nil {
			return t, nil
		}
	}
	for _, layout := range []string{localTime, "2006-01-02T15:04:05"} {
		if t, err := time.ParseInLocation(layout, f.Get("at"), s.place()); err == nil {
			return t.UTC(), nil
		}
	}
	return time.Time{}, fault(fmt.Sprintf("%q is no time; write it like 2026-06-12T08:30", f.Get("at")))
}

// entries is what a form says. It looks at the form alone, so that a form sent
// twice says the same.
func (s *server) entries(f formKind, sent url.Values) ([]book.Entry, error) {
	at, err := s.when(sent)
	if err != nil {
		return nil, err
	}
	text := func(name string) string { return strings.TrimSpace(strings.ReplaceAll(sent.Get(name), "\r\n", "\n")) }
	e := book.Entry{Key: text("key"), At: at, Kind: f.entry}
	for _, name := range f.fields {
		var mass **float64
		switch v := text(name); name {
		case "dam":
			e.Dam = slices.DeleteFunc(slices.Clone(sent["dam"]), func(d string) bool { return d == "" })
		case "name":
			e.Dam = book.Names{v}
		case "box", "newbox":
			e.Box = v
		case "egg", "hatchling":
			e.Egg = v
		case "zone":
			e.Zone = v
		case "probe":
			e.Probe = v
		case "offset":
			if e.OffsetK, err = s.difference(v); err != nil {
				return nil, err
			}
		case "slot":
			e.Slot = v
		case "profile":
			e.Profile = v
		case "verdict":
			e.Verdict = v
		case "what":
			e.What = v
		case "why":
			e.Why = v
		case "sire":
			e.Sire = v
		case "medium":
			e.Medium = v
		case "text":
			e.Text = v
		case "about":
			e.About = v
		case "clutch":
			e.Clutch = v
		case "eggs":
			if e.Eggs, err = strconv.Atoi(v); err != nil {
				return nil, fault("say how many eggs there are")
			}
		case "total_g":
			mass = &e.TotalG
		case "water_g":
			mass = &e.WaterG
		case "dry_g":
			mass = &e.DryG
		case "mass_g":
			mass = &e.MassG
		}
		if v := text(name); mass != nil && v != "" {
			g, err := strconv.ParseFloat(strings.Replace(v, ",", ".", 1), 64)
			if err != nil || math.IsNaN(g) || math.IsInf(g, 0) {
				return nil, fault(fmt.Sprintf("%q is no mass; write grams, like 112.5", v))
			}
			*mass = &g
		}
	}
	switch f.Kind {
	case "pairing":
		if len(e.Dam) != 1 {
			return nil, fault("choose one dam")
		}
	case "looked":
		e.Found = "false"
	case kindFound:
		return found(e, sent)
	}
	return []book.Entry{e}, nil
}

// difference is a difference of temperature as the reader writes it, in kelvin;
// nil for none.
func (s *server) difference(text string) (*float64, error) {
	if text == "" {
		return nil, nil
	}
	v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return nil, fault(fmt.Sprintf("%q is no difference of temperature; write degrees, like 0.5 or -0.5", text))
	}
	if s.Reader.Units == words.Fahrenheit {
		v /= 1.8
	}
	return &v, nil
}

// found is a clutch and its eggs' places. The box is the clutch's eggs', not its
// own.
func found(e book.Entry, sent url.Values) ([]book.Entry, error) {
	box := e.Box
	e.Box = ""
	if box == "" {
		return nil, fault("choose the box that the eggs are in")
	}
	e.LaidBy = e.At
	if since := sent.Get("since"); since == "look" {
		// The earliest of several dams': it may be hers.
		for _, d := range e.Dam {
			t, err := time.Parse(time.RFC3339Nano, sent.Get("look "+d))
			if err != nil {
				return nil, fault("no earlier look is noted for " + d + ": choose how long ago her lay box was last seen empty")
			}
			if e.LaidAfter.IsZero() || t.Before(e.LaidAfter) {
				e.LaidAfter = t
			}
		}
		if len(e.Dam) == 0 {
			return nil, fault("without a dam there is no last look: choose how long ago the lay box was last seen empty")
		}
	} else {
		d, err := time.ParseDuration(since)
		if err != nil || d <= 0 {
			return nil, fault("say since when the eggs may have been laid")
		}
		e.LaidAfter = e.At.Add(-d)
	}
	slots := strings.Fields(strings.ReplaceAll(sent.Get("slots"), ",", " "))
	if len(slots) == 0 {
		slots = strings.Fields(sent.Get("free " + box))
	}
	if e.Eggs < 1 || e.Eggs > 100 || len(slots) < e.Eggs {
		return nil, fault(fmt.Sprintf("%d eggs need as many slots, and there are %d: write a name for each, like a b c", e.Eggs, len(slots)))
	}
	all := []book.Entry{e}
	for i := range e.Eggs {
		all = append(all, book.Entry{Key: fmt.Sprintf("%s.%d", e.Key, i+1), At: e.At, Kind: book.KindPlaced, Egg: book.EggID(e.Clutch, i+1), Box: box, Slot: slots[i]})
	}
	return all, nil
}

// postUndo voids an entry, with the places that came with it.
func (s *server) postUndo(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		s.message(w, r, http.StatusBadRequest, "Not undone", "The form could not be read; nothing was undone.")
		return
	}
	_, b := s.open(w, r)
	if b == nil {
		return
	}
	key, undo := r.PostForm.Get("key"), r.PostForm.Get("undo")
	at, err := time.Parse(time.RFC3339, r.PostForm.Get("at"))
	if err != nil {
		err = fault("the form does not say when; open the book again")
	}
	var voids []book.Entry
	for i, target := 0, undo; ; i++ {
		if _, _, ok := b.Entry(target); !ok && i > 0 {
			break
		}
		voids = append(voids, book.Entry{Key: fmt.Sprintf("%s.%d", key, i), At: at, Kind: book.KindVoid, Void: target})
		target = fmt.Sprintf("%s.%d", undo, i+1)
	}
	if err == nil {
		err = s.write(r.Context(), voids)
	}
	if err != nil {
		status, text := s.refusal(err)
		s.message(w, r, status, "Not undone", strings.Join(spoken(text, voids), " "))
		return
	}
	http.Redirect(w, r, "/note?noted", http.StatusSeeOther)
}
