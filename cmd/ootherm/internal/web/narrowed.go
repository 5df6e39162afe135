package web

import (
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// Shown gives the windows that were shown of a clutch, a day at a time, in the
// order of box and day, and how right they were for the eggs that have hatched. It
// is safe from any goroutine.
type Shown interface {
	Shown(clutch string) ([]snapshot.Shown, error)
	Score() (snapshot.Score, error)
}

// narrowed is how a clutch's window narrowed, as it is drawn: the day it was said
// runs to the right, the day that was said upwards.
type narrowed struct {
	Spread  string // a polygon: check from to late after
	Run     string // a line: likely
	Left    []tick // the days that were said
	Foot    []tick // the days they were said on
	Caption string
	Label   string // all of it for those who hear the page
}

// narrowedLeft is room for a day, such as 12 Jul.
const narrowedLeft = 44.0

func (s boxPages) narrowed(c snapshot.Clutch, box string, all []snapshot.Shown) *narrowed {
	var days []snapshot.Shown
	for _, w := range all {
		if w.Box == box && w.Clutch == c.Clutch && (len(w.Eggs) == 0 || len(c.Eggs) > 0 && slices.Contains(w.Eggs, c.Eggs[0].Egg)) {
			days = append(days, w)
		}
	}
	if len(days) < 2 {
		return nil
	}
	r := s.Reader
	first, last := days[0], days[len(days)-1]
	low, high := first.Window.CheckFrom, first.Window.LateAfter
	for _, d := range days {
		if d.Window.CheckFrom.Before(low) {
			low = d.Window.CheckFrom
		}
		if d.Window.LateAfter.After(high) {
			high = d.Window.LateAfter
		}
	}
	wide, tall := last.At.Sub(first.At).Hours(), high.Sub(low).Hours()
	if !(wide > 0) || !(tall > 0) {
		return nil
	}
	x := func(t time.Time) string {
		return coordinate(narrowedLeft + t.Sub(first.At).Hours()/wide*(plotWide-narrowedLeft))
	}
	y := func(t time.Time) string {
		return coordinate(plotTop + high.Sub(t).Hours()/tall*(plotHigh-plotTop-plotFoot))
	}
	n := len(days)
	over, under, run := make([]string, n), make([]string, n), []string(nil)
	for i, d := range days {
		at := x(d.At) + ","
		over[i], under[n-1-i] = at+y(d.Window.LateAfter), at+y(d.Window.CheckFrom)
		if !d.Window.Likely.IsZero() {
			run = append(run, at+y(d.Window.Likely))
		}
	}
	width := func(w snapshot.Shown) string {
		return words.Span(w.Window.LateAfter.Sub(w.Window.CheckFrom).Round(24 * time.Hour))
	}
	v := &narrowed{
		Spread: strings.Join(append(over, under...), " "), Run: strings.Join(run, " "),
		Left: []tick{{y(high), r.ShortDate(high)}, {y(low), r.ShortDate(low)}},
		Foot: []tick{{x(first.At), r.ShortDate(first.At)}},
		Caption: fmt.Sprintf("On %s the window was %s wide, on %s %s. Line: the likely day. Shaded: check from to late after.",
			r.Date(first.At), width(first), r.Date(last.At), width(last)),
	}
	v.Label = "Clutch " + c.Clutch + ". " + v.Caption
	return v
}

// shown gives what was shown of a clutch, nothing where it cannot be had: the page
// stands without it.
func (s boxPages) shown(clutch string) []snapshot.Shown {
	if s.Options.Shown == nil {
		return nil
	}
	all, err := s.Options.Shown.Shown(clutch)
	if err != nil {
		s.log.Error("the windows shown before could not be read", "clutch", clutch, "err", err)
	}
	return all
}

// score is how right the windows were.
func (s api) score(w http.ResponseWriter, _ *http.Request) {
	score, err := s.Options.Shown.Score()
	if err != nil {
		s.log.Error("the windows shown before could not be judged", "err", err)
		http.Error(w, "the windows shown before could not be read; the station's log says why", http.StatusInternalServerError)
		return
	}
	body, err := json.Marshal(score)
	if err != nil {
		s.log.Error("the score could not be written as JSON", "err", err)
		http.Error(w, "it could not be written as JSON; the station's log says why", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	_, _ = w.Write(append(body, '\n')) // a client that went away needs no answer
}
