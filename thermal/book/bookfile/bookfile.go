// Package bookfile owns the files that leave the book: entries as JSON lines, which
// [book.ReadAll] reads back, and as a table for a spreadsheet. It takes entries in
// the order in which they are written. It must not know where they come from, nor
// who asked for them.
package bookfile

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"iter"
	"reflect"
	"strconv"
	"strings"
	"time"

	"example.com/ootherm/thermal/book"
)

// WriteJSON writes entries as JSON lines.
func WriteJSON(w io.Writer, entries iter.Seq[book.Entry]) error {
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
// that it would take for a formula begins with an apostrophe. The columns are the
// fields of an entry, in the order of a JSON line. Several dams are joined by a
// semicolon; points are JSON. Times are those of a place, as [SpreadsheetTime] writes them; the
// last column, time_zone, is how far that of "at" is from UTC.
func WriteCSV(w io.Writer, entries iter.Seq[book.Entry], place *time.Location) error {
	c := csv.NewWriter(w)
	c.UseCRLF = true // RFC 4180, section 2.1
	names := append(fieldNames(reflect.TypeFor[book.Entry]()), "time_zone")
	if err := c.Write(names); err != nil {
		return fmt.Errorf("export: %w", err)
	}
	row := make([]string, len(names))
	for e := range entries {
		fields := reflect.ValueOf(e)
		for i := range fields.NumField() {
			text, err := cell(fields.Field(i).Interface(), place)
			if err != nil {
				return fmt.Errorf("entry %s: %s: %w", e.Key, names[i], err)
			}
			row[i] = notFormula(text)
		}
		row[len(row)-1] = SpreadsheetZone(e.At, place)
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

// fieldNames are the JSON names of a structure's fields.
func fieldNames(entry reflect.Type) []string {
	names := make([]string, entry.NumField())
	for i := range names {
		names[i], _, _ = strings.Cut(entry.Field(i).Tag.Get("json"), ",")
	}
	return names
}

// cell is the value of a field as text, empty when the field is absent.
func cell(value any, place *time.Location) (string, error) {
	switch v := value.(type) {
	case string:
		return v, nil
	case book.Kind:
		return string(v), nil
	case book.Found:
		return string(v), nil
	case book.Names:
		return strings.Join(v, "; "), nil
	case []book.Point:
		if len(v) == 0 {
			return "", nil
		}
		b, err := json.Marshal(v)
		return string(b), err
	case int:
		if v == 0 {
			return "", nil
		}
		return strconv.Itoa(v), nil
	case uint64:
		if v == 0 {
			return "", nil
		}
		return strconv.FormatUint(v, 10), nil
	case *float64:
		if v == nil {
			return "", nil
		}
		return strconv.FormatFloat(*v, 'f', -1, 64), nil
	case time.Time:
		if v.IsZero() {
			return "", nil
		}
		return SpreadsheetTime(v, place), nil
	}
	return "", fmt.Errorf("a value of type %T has no cell", value)
}

// SpreadsheetTime writes a time so that a spreadsheet takes it for a time, whatever its
// language and the options it opens the table with: date and time of day at a place (ISO 8601
// with a T), without the zone, to the second.
func SpreadsheetTime(t time.Time, place *time.Location) string {
	return t.In(place).Round(time.Second).Format("2006-01-02T15:04:05")
}

// SpreadsheetZone writes how far a place is from UTC at a time, as UTC+02:00. It tells the two
// hours apart that have the same times when the clocks go back.
func SpreadsheetZone(t time.Time, place *time.Location) string {
	return t.In(place).Format("UTC-07:00")
}

// notFormula makes a text safe for a spreadsheet, which takes a cell that begins
// with one of = + - @, a tab or a carriage return for a formula.
func notFormula(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}
