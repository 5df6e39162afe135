package forms

import (
	"net/url"
	"slices"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/thermal/book"
)

// Filled is a form with some answers.
type Filled struct {
	Form    Form
	Answers url.Values // by the name of a field
	Asks    string     // the field that is left to answer, where it need not be; empty: none
}

// filled is the form of a kind with answers: pairs of a field's name and its answer.
func filled(kind string, pairs ...string) Filled {
	f, _ := Of(kind)
	x := Filled{Form: f, Answers: url.Values{}}
	for i := 0; i+1 < len(pairs); i += 2 {
		x.Answers.Set(pairs[i], pairs[i+1])
	}
	return x
}

// Needed are the forms that are needed now, the most urgent first: what is missing for a
// first window, then what the day asks for.
func (d Desk) Needed() []Filled {
	if d.Book == nil || d.Now == nil {
		return nil
	}
	var all []Filled
	add := func(kind string) {
		if !slices.ContainsFunc(all, func(x Filled) bool { return x.Form.Kind == kind }) {
			all = append(all, filled(kind))
		}
	}
	if len(d.breedingDams()) == 0 {
		add("dam")
	}
	if len(d.boxesInUse()) == 0 {
		add("box")
	}
	if len(all) > 0 {
		return all
	}
	for _, b := range d.Now.Boxes {
		for _, c := range b.Clutches {
			for _, m := range Mends(c, b) {
				if kind := m.Form.Form.Kind; len(all) == 0 && (kind == AmendedDam || kind == AmendedClutch) {
					all = append(all, m.Form)
				}
			}
		}
	}
	if d.hatching() {
		add("hatched")
		add("pipped")
	}
	if slices.ContainsFunc(d.Now.Dams, func(x snapshot.Dam) bool { return x.Due == "look" || x.Due == "overdue" }) {
		add("looked")
	}
	add(Found)
	if len(d.Now.Unplaced) > 0 {
		add("placed")
	}
	if slices.ContainsFunc(d.Now.Boxes, d.weighs) {
		add("weighed")
		add("watered")
	}
	return all
}

// hatching reports whether eggs may hatch now.
func (d Desk) hatching() bool {
	for _, b := range d.Now.Boxes {
		for _, c := range b.Clutches {
			due := c.Window != nil && !d.At.Before(c.Window.CheckFrom)
			for _, e := range c.Eggs {
				if e.Fate == string(book.Pipped) || due && e.Fate == string(book.Waiting) {
					return true
				}
			}
		}
	}
	return false
}

// Mend is what is missing for a clutch's window, and the way to mend it: a form, or else a
// help topic. Waiting alone mends it where there is neither.
type Mend struct {
	Why   string // a sentence
	Do    string // what mends it, as the text of a link; empty: nothing but waiting
	Form  Filled // without a kind: none
	Topic string // of the manual; empty: none
}

// Mends are what is missing for the window of a clutch in a box.
func Mends(c snapshot.Clutch, b snapshot.Box) (all []Mend) {
	for _, m := range c.Missing {
		all = append(all, mend(m, c, b))
	}
	return all
}

// Place is the form that puts the first egg of an unplaced clutch into a box.
func Place(u snapshot.Unplaced) Filled {
	if len(u.Eggs) == 0 {
		return filled("placed")
	}
	return filled("placed", "egg", u.Eggs[0].Egg)
}

func mend(m string, c snapshot.Clutch, b snapshot.Box) Mend {
	kind := ""
	if c.Profile != nil {
		kind = *c.Profile
	}
	amend, whose := filled(AmendedClutch, "laying", c.Clutch), "The kind of "+c.Clutch
	if c.Dam != nil && !strings.Contains(*c.Dam, " or ") {
		amend, whose = filled(AmendedDam, "whose", *c.Dam), "The kind of "+*c.Dam
	}
	amend.Asks = "profile"
	switch m {
	case snapshot.MissingKind:
		return Mend{Why: whose + " is not noted.", Do: "Note the kind", Form: amend}
	case snapshot.UnknownKind:
		return Mend{Why: whose + " is " + kind + ", which the configuration does not have.", Do: "Note another kind", Form: amend}
	case snapshot.MissingModel:
		return Mend{Why: "Nothing is known of how long a " + kind + " takes.", Do: "How to add what is known", Topic: "species"}
	case snapshot.MissingZone:
		return Mend{Why: "The book does not say where box " + b.Box + " stands.", Do: "Note where it stands", Form: filled("moved", "box", b.Box)}
	case snapshot.MissingSource:
		return Mend{Why: "The configuration has no longer the probe or the zone of box " + b.Box + ".", Do: "Note where it stands", Form: filled("moved", "box", b.Box)}
	case snapshot.MissingReading:
		return Mend{Why: "No probe tells how warm it is there.", Do: "What to do about a silent probe", Topic: "no-window"}
	case snapshot.MissingResumption:
		return Mend{Why: "Its eggs rest first, and the end of that is not noted.", Do: "Note the end of the rest", Form: filled("note", "about", c.Clutch, "text", "development resumed")}
	case snapshot.MissingWarmth:
		return Mend{Why: "It is too cold there for a hatch.", Do: "What a window rests on", Topic: "forecast"}
	}
	return Mend{Why: "What the eggs have felt is being read from the history. That takes a minute."}
}
