package web

import (
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/forms"
	"example.com/ootherm/cmd/ootherm/internal/web/chart"
	"example.com/ootherm/cmd/ootherm/internal/web/notes"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
)

// eggForms are what is noted of an egg that waits, in the order of its days.
var eggForms = []string{"candled", "pipped", "hatched", "lost"}

// egg is one egg's row.
func (m clutchMaker) egg(id, slot, fate string) eggRow {
	v := eggRow{Icon: chart.Icon(eggSymbol(fate)), Name: id, Slot: slot, State: words.Fate(fate)}
	if m.book == nil {
		return v
	}
	e, ok := m.book.Egg(id)
	if !ok {
		return v
	}
	if !e.FateAt.IsZero() {
		v.State += " " + m.Reader.When(e.FateAt, m.n.At)
	}
	var about []string
	if e.Why != "" {
		about = append(about, e.Why)
	}
	if e.Verdict != "" {
		about = append(about, "candled "+m.Reader.ShortDate(e.VerdictAt)+": "+e.Verdict)
	}
	if e.HatchG != nil {
		about = append(about, words.Grams(*e.HatchG)+" at the hatch")
	}
	for _, h := range e.Hatchling {
		text := h.What + " " + m.Reader.ShortDate(h.At)
		if h.MassG != nil {
			text += ", " + words.Grams(*h.MassG)
		}
		about = append(about, text)
	}
	v.About = strings.Join(about, "; ")
	if !m.noting {
		return v
	}
	switch e.Fate {
	case book.Waiting, book.Pipped:
		for _, kind := range eggForms {
			if f, ok := forms.Of(kind); ok && (kind != "pipped" || e.Fate == book.Waiting) {
				v.Forms = append(v.Forms, m.inline(f, id, m.back))
			}
		}
	case book.Hatched:
		for _, what := range []string{book.Weighed, book.Fed, book.Shed} {
			f, _ := forms.Of("hatchling")
			x := notes.DoorTo(forms.Filled{Form: f, Answers: map[string][]string{"hatchling": {id}, "what": {what}}})
			x.Title = words.Capital(what)
			v.Doors = append(v.Doors, x)
		}
	}
	return v
}

// inlineForm is a form within a page, about an egg.
type inlineForm struct {
	notes.View
	Egg, Back string
}

// inline is a form for an egg, whose answer leads back to a page.
func (m clutchMaker) inline(f forms.Form, egg, back string) inlineForm {
	d := m.Desk(m.n, m.book, m.Clock())
	v := inlineForm{View: notes.View{Form: f, Key: notes.NewKey(), Fresh: true}, Egg: egg, Back: back}
	_, v.Offset = d.At.In(m.Place()).Zone()
	sent := d.Opened(f)
	for _, x := range f.Fields {
		if x.Name == "egg" {
			continue
		}
		field := notes.FieldOf(d, x, sent)
		field.ID = f.Kind + "-" + egg + "-" + x.Name
		v.Fields = append(v.Fields, field)
	}
	v.By(notes.ByStation, d.At, m.Local(d.At), m.Local(d.At))
	return v
}
