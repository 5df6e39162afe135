package book

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"iter"
	"strings"
	"time"
)

// MarshalJSON writes an entry as one line of the book. [Parse] reads the same entry
// from it.
func (e Entry) MarshalJSON() ([]byte, error) {
	for _, f := range entryFields {
		if t, ok := f.of(&e).(*time.Time); ok {
			*t = t.UTC()
		}
	}
	type fieldsOnly Entry // has no MarshalJSON of its own
	var b strings.Builder
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(fieldsOnly(e)); err != nil {
		return nil, fmt.Errorf("entry %s: %w", e.Key, err)
	}
	return []byte(strings.TrimSuffix(b.String(), "\n")), nil
}

// Same reports whether two entries have the same content; what the ledger added
// does not count.
func (e Entry) Same(o Entry) bool {
	e.Seq, e.Recorded, o.Seq, o.Recorded = 0, time.Time{}, 0, time.Time{}
	a, errA := e.MarshalJSON()
	b, errB := o.MarshalJSON()
	return errA == nil && errB == nil && string(a) == string(b)
}

// WriteJSON writes entries as JSON lines.
func WriteJSON(w io.Writer, entries iter.Seq[Entry]) error {
	for e := range entries {
		b, err := e.MarshalJSON()
		if err != nil {
			return err
		}
		if _, err := w.Write(append(b, '\n')); err != nil {
			return fmt.Errorf("export: %w", err)
		}
	}
	return nil
}

// WriteCSV writes entries as a table (RFC 4180) that a spreadsheet can open: a cell
// that it would take for a formula begins with an apostrophe. Several dams are
// joined by a semicolon; points are JSON.
func WriteCSV(w io.Writer, entries iter.Seq[Entry]) error {
	c := csv.NewWriter(w)
	c.UseCRLF = true // RFC 4180, section 2.1
	row := make([]string, len(entryFields))
	for i, f := range entryFields {
		row[i] = f.name
	}
	if err := c.Write(row); err != nil {
		return fmt.Errorf("export: %w", err)
	}
	for e := range entries {
		for i, f := range entryFields {
			text, err := f.cell(&e)
			if err != nil {
				return fmt.Errorf("entry %s: %s: %w", e.Key, f.name, err)
			}
			row[i] = Cell(text)
		}
		if err := c.Write(row); err != nil {
			return fmt.Errorf("export: %w", err)
		}
	}
	c.Flush()
	if err := c.Error(); err != nil {
		return fmt.Errorf("export: %w", err)
	}
	return nil
}

// Cell makes a text safe for a spreadsheet, which takes a cell that begins with
// one of = + - @, a tab or a carriage return for a formula.
func Cell(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}
