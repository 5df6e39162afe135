package page

import (
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// Frame is what every page has around it.
type Frame struct {
	Title, Station, Version string
	At, AtISO               string
	Trouble                 []string // with the station itself
	Undelivered             []string // of senders whose alarm messages do not get out
	Home                    bool     // this is the first page
	Places                  []placeView
	Here                    string // the place that the page belongs to
	Notice                  string // of what is shown; empty: none
	Leave                   bool   // there is a passphrase, so one can leave
	Style                   string // a style sheet of its own, for what is meant to be printed
}

// Badge is a state as a shape and a word; Kind is its class in the style sheet.
type Badge struct{ Shape, Word, Kind string }

// kinds of badge, from the worst.
const (
	KindWarm   = "warm"
	KindCold   = "cold"
	KindOther  = "other"
	KindSilent = "silent"
	KindFine   = "fine"
)

func KindOf(shape string) string {
	switch shape {
	case words.Warm:
		return KindWarm
	case words.Cold:
		return KindCold
	case words.Silent:
		return KindSilent
	case words.Fine:
		return KindFine
	}
	return KindOther
}

func (s *Site) Frame(n *snapshot.Snapshot, title string) Frame {
	f := Frame{Title: title, Station: n.Station.Name, Version: n.Station.Version,
		At: s.Reader.When(n.At, s.Clock()), AtISO: n.At.UTC().Format(time.RFC3339), Notice: s.Notice, Leave: s.Access != nil, Places: s.places()}
	for _, t := range s.Ill() {
		f.Trouble = append(f.Trouble, words.Capital(t)+".")
	}
	if n.Station.Clock == "unverified" {
		f.Trouble = append(f.Trouble, "The time of day is not verified: no time server has answered since the start. Dates and windows may be off.")
	}
	for _, d := range n.Health.Deliveries {
		if t := words.Undelivered(s.Reader, d, n.At); t != "" {
			f.Undelivered = append(f.Undelivered, t)
		}
	}
	if n.Health.Waiting > 0 {
		t := words.Count(n.Health.Waiting, "message", "messages") + " waiting to be delivered"
		if n.Health.OldestWaiting != nil {
			t += ", the oldest since " + s.Reader.When(*n.Health.OldestWaiting, n.At)
		}
		f.Trouble = append(f.Trouble, t+".")
	}
	return f
}

// In is the frame of a page that belongs to a place.
func (f Frame) In(place string) Frame {
	f.Here = place
	return f
}

// FrameOrBare is the frame of a page that needs no state: without a state it says
// nothing of the station.
func (s *Site) FrameOrBare(title string) Frame {
	if n := s.Source.Now(); n != nil {
		return s.Frame(n, title)
	}
	return Frame{Title: title, Station: "ootherm"}
}

// Tied keeps a figure and its unit on one line.
func Tied(s string) string {
	return strings.NewReplacer(" °", "\u00a0°", " %", "\u00a0%").Replace(s)
}
