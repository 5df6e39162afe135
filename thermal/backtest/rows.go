package backtest

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Row is one mean incubation duration of one treatment of a study.
type Row struct {
	Study      string
	Author     string // the first; empty: not told
	Year       string
	Order      string
	Family     string
	Species    string
	Celsius    float64 // mean
	DailyRange float64 // K, trough to peak; 0: constant
	Days       float64 // from laying to hatch, the mean of the eggs
	SD         float64 // days, of one egg; 0: not told
	Eggs       int     // 0: not told
}

// column is one column that a table may have.
type column struct {
	name     string
	required bool
	read     func(*Row, string) error
}

func columns() []column {
	text := func(required bool, to func(*Row) *string) func(*Row, string) error {
		return func(r *Row, s string) error {
			if s == "" && required {
				return errors.New("is empty")
			}
			*to(r) = s
			return nil
		}
	}
	number := func(low, high float64, required bool, to func(*Row) *float64) func(*Row, string) error {
		return func(r *Row, s string) error {
			if (s == "" || s == "NA") && !required {
				return nil
			}
			v, err := strconv.ParseFloat(s, 64)
			if err != nil {
				return fmt.Errorf("%q is not a number", s)
			}
			if !(v >= low && v <= high) {
				return fmt.Errorf("%g is not within %g to %g", v, low, high)
			}
			*to(r) = v
			return nil
		}
	}
	return []column{
		{"study", true, text(true, func(r *Row) *string { return &r.Study })},
		{"first_author", false, text(false, func(r *Row) *string { return &r.Author })},
		{"year", false, text(false, func(r *Row) *string { return &r.Year })},
		{"order", true, text(false, func(r *Row) *string { return &r.Order })},
		{"family", true, text(false, func(r *Row) *string { return &r.Family })},
		{"species", true, text(true, func(r *Row) *string { return &r.Species })},
		{"temperature_c", true, number(0, 50, true, func(r *Row) *float64 { return &r.Celsius })},
		{"daily_range_c", false, number(0, 40, false, func(r *Row) *float64 { return &r.DailyRange })},
		{"duration_days", true, number(math.SmallestNonzeroFloat64, 2000, true, func(r *Row) *float64 { return &r.Days })},
		{"sd_days", false, number(0, 1000, false, func(r *Row) *float64 { return &r.SD })},
		{"n", false, func(r *Row, s string) error {
			var v float64
			if err := number(0, 1e6, false, func(*Row) *float64 { return &v })(r, s); err != nil {
				return err
			}
			r.Eggs = int(v)
			return nil
		}},
	}
}

// ReadRows reads a table of durations: a CSV whose first line names its columns.
// study, order, family, species, temperature_c and duration_days are needed (an
// order or a family that is not known may be left empty). first_author, year,
// daily_range_c, sd_days and n are optional; other columns are ignored. The error names the line and the
// column.
func ReadRows(r io.Reader) ([]Row, error) {
	c := csv.NewReader(r)
	c.TrimLeadingSpace = true
	header, err := c.Read()
	if errors.Is(err, io.EOF) {
		return nil, errors.New("the table is empty; its first line names the columns")
	}
	if err != nil {
		return nil, fmt.Errorf("%w", err)
	}
	header[0] = strings.TrimPrefix(header[0], "\ufeff")
	cols := columns()
	place := make([]int, len(cols))
	for i, col := range cols {
		place[i] = slices.Index(header, col.name)
		if place[i] < 0 && col.required {
			return nil, fmt.Errorf("line 1: column %q is missing; have %s", col.name, strings.Join(header, ", "))
		}
	}
	var rows []Row
	for {
		record, err := c.Read()
		if errors.Is(err, io.EOF) {
			return rows, nil
		}
		if err != nil {
			return nil, fmt.Errorf("%w", err)
		}
		var row Row
		for i, col := range cols {
			if place[i] < 0 {
				continue
			}
			if err := col.read(&row, strings.TrimSpace(record[place[i]])); err != nil {
				line, at := c.FieldPos(place[i])
				return nil, fmt.Errorf("line %d, column %d (%s): %w", line, at, col.name, err)
			}
		}
		rows = append(rows, row)
	}
}
