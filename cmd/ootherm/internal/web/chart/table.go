package chart

import "html/template"

// Table is the figures of a drawing, for those who hear the page and for the pointer.
type Table struct {
	Title  string // what unfolds it
	Head   []string
	Rows   []Row
	Hidden bool // it is read aloud and not seen
}

// Row is one row of a table. At is its share of the drawing's width, for the pointer.
type Row struct {
	At    float64
	Cells []string
}

// HTML is the table; nothing where it has no rows.
func (t Table) HTML() template.HTML {
	if len(t.Rows) == 0 {
		return ""
	}
	var c canvas
	if t.Hidden {
		c.open("div", "class", "unseen")
	} else {
		c.open("details", "class", "fold figures-of")
		c.word("summary", t.Title)
	}
	c.open("table")
	if t.Hidden {
		c.word("caption", t.Title)
	}
	c.open("thead")
	c.open("tr")
	for _, h := range t.Head {
		c.word("th", h, "scope", "col")
	}
	c.close("tr")
	c.close("thead")
	c.open("tbody")
	for _, r := range t.Rows {
		attrs := []string(nil)
		if r.At >= 0 && r.At <= 1 {
			attrs = []string{"data-x", trimmed(100*r.At, 1)}
		}
		c.open("tr", attrs...)
		for i, cell := range r.Cells {
			if i == 0 {
				c.word("th", cell, "scope", "row")
			} else {
				c.word("td", cell)
			}
		}
		c.close("tr")
	}
	c.close("tbody")
	c.close("table")
	if t.Hidden {
		c.close("div")
	} else {
		c.close("details")
	}
	return c.html()
}
