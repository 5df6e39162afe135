package notes

import (
	"net/url"
	"slices"

	"example.com/ootherm/cmd/ootherm/internal/forms"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

type choice struct {
	forms.Option
	Chosen bool
}

// FieldView is a field of a form as the page shows it: buttons, a list, or
// something to type into.
type FieldView struct {
	forms.Field
	Type, Value string
	ID          string
	Then        string      // kind of the form that is open once something to choose was added
	AddsTitle   string      // of the form that adds something to choose
	Units       words.Units // of a difference of temperature; else empty
	Options     []choice
}

// How many options are shown as buttons; more go into a list, which takes a tap
// more. Boxes have short names, and eggs found are noted in five taps.
const thumbs, boxThumbs = 8, 48

// fieldOf makes a field with what was answered before.
func FieldOf(d forms.Desk, f forms.Field, sent url.Values) FieldView {
	v := FieldView{Field: f, ID: "f-" + f.Name, Type: map[forms.Sort]string{forms.Text: "text", forms.Long: "long", forms.Number: "number", forms.Difference: "text", forms.Pick: "radio", forms.Many: "checkbox"}[f.Sort]}
	if f.Sort == forms.Difference {
		v.Units = UnitsOf(sent, d.Reader.Units)
		v.Label += map[bool]string{true: ", °F", false: ", °C"}[v.Units == words.Fahrenheit]
	}
	if f.Sort != forms.Pick && f.Sort != forms.Many {
		v.Value = sent.Get(f.Name)
		return v
	}
	if adds, ok := forms.Of(f.Adds); ok {
		v.AddsTitle = adds.Title
	}
	for _, o := range d.Options(f) {
		v.Options = append(v.Options, choice{o, slices.Contains(sent[f.Name], o.Value)})
	}
	if n := len(v.Options); f.Sort == forms.Pick && n > thumbs && (f.Name != "box" || n > boxThumbs) {
		v.Type = "list"
	}
	if f.Other != "" {
		for _, s := range sent[f.Name] {
			if !slices.ContainsFunc(v.Options, func(o choice) bool { return o.Value == s }) {
				v.Value = s
			}
		}
	}
	return v
}

// UnitsOf are the units in which a form was filled in. A reader may choose others before it
// is sent.
func UnitsOf(sent url.Values, reader words.Units) words.Units {
	if u := words.Units(sent.Get("units")); u == words.Celsius || u == words.Fahrenheit {
		return u
	}
	return reader
}

// Chosen reports whether an answer is chosen already. A list without one begins
// with none.
func (f FieldView) Chosen() bool {
	return slices.ContainsFunc(f.Options, func(o choice) bool { return o.Chosen })
}
