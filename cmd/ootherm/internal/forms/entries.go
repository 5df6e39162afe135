package forms

import (
	"cmp"
	"fmt"
	"net/url"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
)

// Entries makes the entries of a form that was filled in: under the form's key, at a
// time, with differences of temperature in the reader's units. It looks at the form
// alone, so a form that is sent twice makes the same entries. Its error is for the
// person who filled the form in.
func (f Form) Entries(key string, at time.Time, units words.Units, sent url.Values) ([]book.Entry, error) {
	e := book.Entry{Key: key, At: at, Kind: f.entry}
	if !writable(at) {
		return nil, usererr.New("say when it was, like 2026-06-12T08:30")
	}
	for _, x := range f.Fields {
		if x.enter == nil {
			continue
		}
		if err := x.enter(&e, answer{text: x.answered(sent), all: sent[x.Name], units: units}); err != nil {
			return nil, err
		}
	}
	switch f.Kind {
	case "pairing", "rested", "retired":
		if len(e.Dam) != 1 {
			return nil, usererr.New("choose one dam")
		}
	case "looked":
		e.Found = "false"
	case Found:
		return found(e, sent)
	case BoxCandled:
		return boxCandled(e, sent)
	}
	return []book.Entry{e}, nil
}

// boxCandled makes the verdicts of the eggs in a box. An egg's own verdict goes before that
// of all; an egg without either is left out.
func boxCandled(e book.Entry, sent url.Values) (all []book.Entry, err error) {
	eggs := sent.Get(eggsPrefix + e.Box)
	if e.Box == "" || eggs == "" {
		return nil, usererr.New("choose a box in which an egg waits")
	}
	for egg := range strings.SplitSeq(eggs, eggsApart) {
		verdict := cmp.Or(sent.Get(VerdictPrefix+egg), sent.Get("every"))
		if verdict == "" {
			continue
		}
		if !slices.Contains(Values(verdicts), verdict) {
			return nil, usererr.New(fmt.Sprintf("%q is no verdict; it is fertile, infertile, slug or unsure", verdict))
		}
		one := book.Entry{Key: e.Key, At: e.At, Kind: e.Kind, Egg: egg, Verdict: verdict}
		if n := len(all); n > 0 {
			one.Key = fmt.Sprintf("%s.%d", e.Key, n)
		}
		all = append(all, one)
	}
	if len(all) == 0 {
		return nil, usererr.New("choose a verdict for all eggs, or one for each")
	}
	return all, nil
}

// answered is the single answer to a field. Where a field takes an answer that is
// not among its options, what was written goes before what was chosen.
func (f Field) answered(sent url.Values) string {
	v := sent.Get(f.Name)
	if f.Other != "" {
		for _, s := range sent[f.Name] {
			if strings.TrimSpace(s) != "" {
				v = s
			}
		}
	}
	return strings.TrimSpace(strings.ReplaceAll(v, "\r\n", "\n"))
}

// writable reports whether an entry can hold a time: JSON has years of four digits (RFC
// 3339 section 1). Which of them make sense is a rule of the book.
func writable(t time.Time) bool {
	year := t.UTC().Year()
	return year >= 1 && year <= 9999
}

// laidAfter is the earliest time at which eggs may have been laid.
func laidAfter(e book.Entry, sent url.Values) (time.Time, error) {
	since := sent.Get("since")
	if since != sinceLook {
		d, err := time.ParseDuration(since)
		if err != nil || d <= 0 {
			return time.Time{}, usererr.New("say since when the eggs may have been laid")
		}
		return e.At.Add(-d), nil
	}
	if len(e.Dam) == 0 {
		return e.At.Add(-firstLook), nil
	}
	// The earliest of several dams': it may be hers.
	var first time.Time
	for _, d := range e.Dam {
		last := e.At.Add(-firstLook)
		if look := sent.Get(lookPrefix + d); look != noLook {
			var err error
			if last, err = time.Parse(time.RFC3339Nano, look); err != nil {
				return time.Time{}, usererr.New("this form does not know when " + d + " was last looked at: open it again, or choose how long ago her lay box was last seen empty")
			}
		}
		if first.IsZero() || last.Before(first) {
			first = last
		}
	}
	return first, nil
}

// found makes a clutch and the places of its eggs. The box goes into the places,
// because a clutch has none of its own.
func found(e book.Entry, sent url.Values) ([]book.Entry, error) {
	box := e.Box
	e.Box = ""
	if box == "" {
		return nil, usererr.New("choose the box that the eggs are in")
	}
	e.LaidBy = e.At
	var err error
	if e.LaidAfter, err = laidAfter(e, sent); err != nil {
		return nil, err
	}
	if !writable(e.LaidAfter) {
		return nil, usererr.New("say since when the eggs may have been laid")
	}
	if e.LaidAfter.After(e.LaidBy) {
		return nil, usererr.New("the last look that found none is later than the time of this form: look at the time, or choose how long before it the eggs may have been laid")
	}
	slots := strings.Fields(strings.ReplaceAll(sent.Get("slots"), ",", " "))
	if len(slots) == 0 {
		slots = strings.Fields(sent.Get(freePrefix + box))
	}
	if e.Eggs < 1 || e.Eggs > 100 || len(slots) < e.Eggs {
		return nil, usererr.New(fmt.Sprintf("%d eggs need as many slots, and there are %d: write a name for each, like a b c", e.Eggs, len(slots)))
	}
	all := []book.Entry{e}
	for i := range e.Eggs {
		all = append(all, book.Entry{Key: fmt.Sprintf("%s.%d", e.Key, i+1), At: e.At, Kind: book.KindPlaced, Egg: book.EggID(e.Clutch, i+1), Box: box, Slot: slots[i]})
	}
	return all, nil
}
