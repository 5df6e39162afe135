package forms

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"sync"

	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
)

// Refused tells why the book refuses a form's entries, each reason once. It leaves
// out lines and keys, which no person wrote. It puts the field's name before a
// reason: called gives that name for a field, or for "at" or "key".
func (f Form) Refused(faults book.Faults, called func(name string, x Field) string) []string {
	var all []string
	for _, x := range faults {
		text := x.Words
		if i := slices.IndexFunc(f.Fields, func(y Field) bool { return y.fills(x.Field) }); i >= 0 {
			text = called(f.Fields[i].Name, f.Fields[i]) + ": " + text
		} else if x.Field == "at" || x.Field == "key" {
			text = called(x.Field, Field{}) + ": " + text
		}
		if !slices.Contains(all, text) {
			all = append(all, text)
		}
	}
	return all
}

// fills reports whether the answer goes into the field of an entry with a JSON name.
func (f Field) fills(entryField string) bool {
	return entryField != "" && cmp.Or(f.entryField, f.Name) == entryField
}

// SaidWhole tells an entry with those that its form made with it.
func SaidWhole(b *book.Book, e book.Entry) string {
	text := Said(e)
	if e.Kind != book.KindCandled {
		return text
	}
	for i := 1; ; i++ {
		part, _, ok := b.Entry(fmt.Sprintf("%s.%d", e.Key, i))
		if !ok {
			return text
		}
		text += "; " + part.Egg + ", " + part.Verdict
	}
}

// told are the forms that entries are told by.
var told = sync.OnceValue(All)

// Said tells an entry in a few words.
func Said(e book.Entry) string {
	all := told()
	i := slices.IndexFunc(all, func(f Form) bool {
		return f.entry == e.Kind && (f.Kind != "moved" || e.Egg == "") && (f.Kind != AmendedDam || e.Clutch == "")
	})
	title := strings.ToUpper(string(e.Kind[:1])) + string(e.Kind[1:])
	if i >= 0 {
		title = all[i].Title
	}
	if e.Kind == book.KindLooked && e.Found.Eggs() {
		title = "Looked, eggs there"
	}
	parts := []string{e.Clutch, strings.Join(e.Dam, " or "), e.Sire, e.Egg, e.Box, e.Zone, e.Verdict, e.What, e.Why, e.About, e.Text}
	if e.Kind == book.KindDam || e.Kind == book.KindAmended {
		parts = append(parts, e.Profile)
	}
	if e.Name != "" {
		parts = append(parts, "named "+e.Name)
	}
	if e.Eggs > 0 {
		parts = append(parts, words.Count(e.Eggs, "egg", "eggs"))
	}
	for _, g := range []*float64{e.TotalG, e.WaterG, e.MassG} {
		if g != nil {
			parts = append(parts, fmt.Sprintf("%g g", *g))
		}
	}
	parts = slices.DeleteFunc(parts, func(s string) bool { return s == "" })
	if len(parts) == 0 {
		return title
	}
	return title + ": " + strings.Join(parts, ", ")
}
