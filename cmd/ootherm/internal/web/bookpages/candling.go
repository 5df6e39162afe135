package bookpages

import (
	"net/url"

	"example.com/ootherm/cmd/ootherm/internal/forms"
	"example.com/ootherm/cmd/ootherm/internal/web/notes"
)

// Candling is the form in which all eggs of a box are candled.
type Candling struct {
	notes.Inline
	Eggs []candledEgg
}

// candledEgg is an egg in the form, with its last verdict.
type candledEgg struct {
	Name, Field, ID, Slot, Last string
	Verdicts                    []forms.Option
}

// Candling is the form for the eggs that wait in a box; nil where none does or nothing can be
// noted.
func (m Eggs) Candling(box string) *Candling {
	if m.inlines == nil {
		return nil
	}
	b, ok := m.Book.Box(box)
	if !ok || len(b.Eggs) == 0 {
		return nil
	}
	v := &Candling{Inline: m.inlines.Of(forms.BoxCandled, "", box, url.Values{"box": {box}})}
	verdict, _ := forms.Of("candled")
	for _, id := range b.Eggs {
		e, _ := m.Book.Egg(id)
		x := candledEgg{Name: id, Field: forms.VerdictPrefix + id, ID: notes.IDOf(forms.VerdictPrefix + id), Slot: e.Slot}
		if e.Verdict != "" {
			x.Last = e.Verdict + " on " + m.Reader.ShortDate(e.VerdictAt)
		}
		for _, f := range verdict.Fields {
			if f.Name == "verdict" {
				x.Verdicts = forms.Desk{}.Options(f)
			}
		}
		v.Eggs = append(v.Eggs, x)
	}
	return v
}
