package replay

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/sensor"
	"example.com/ootherm/thermal"
)

// Extremes say how to read a table of daily minimum and maximum temperatures, and how to
// sum its heat.
type Extremes struct {
	Base, Upper          string // temperatures with their unit, such as 50F
	Method, CutOff       string
	DateColumn           string
	MinColumn, MaxColumn string
	Fahrenheit           bool // the table is in Fahrenheit; false: Celsius
}

// DayHeat is the heat of one day.
type DayHeat struct {
	Date       string  `json:"date"` // as the table writes it
	DegreeDays float64 `json:"degree_days"`
	SoFar      float64 `json:"so_far"`
}

// DegreeDays sums the heat between two thresholds over a table of daily extremes. The
// result is in degree-days of the table's own unit; a Fahrenheit day is 5/9 of a Celsius
// day. The error names the line and the column.
func (e Extremes) DegreeDays(r io.Reader) ([]DayHeat, error) {
	m, err := methodNamed(e.Method, e.CutOff)
	if err != nil {
		return nil, err
	}
	var limits [2]float64
	for i, x := range [...]struct{ flag, text string }{{"base", e.Base}, {"upper", e.Upper}} {
		if limits[i], err = config.Celsius(x.text); err != nil {
			return nil, usererr.Usage(fmt.Errorf("--%s: %w", x.flag, err))
		}
		if e.Fahrenheit {
			limits[i] = sensor.ToFahrenheit(limits[i])
		}
	}
	if !(limits[0] < limits[1]) {
		return nil, usererr.Usage(fmt.Errorf("base %s is not below upper %s", e.Base, e.Upper))
	}
	dates, days, err := e.read(r)
	if err != nil {
		return nil, err
	}
	out := make([]DayHeat, len(days))
	var sum float64
	for i, v := range m.DegreeDays(days, limits[0], limits[1]) {
		sum += v
		out[i] = DayHeat{Date: dates[i], DegreeDays: v, SoFar: sum}
	}
	return out, nil
}

// read gives the dates and extremes of a table.
func (e Extremes) read(r io.Reader) (dates []string, days []thermal.Extremes, err error) {
	in := csv.NewReader(r)
	in.TrimLeadingSpace = true
	header, err := in.Read()
	if errors.Is(err, io.EOF) {
		return nil, nil, errors.New("the table is empty; its first line names the columns")
	}
	if err != nil {
		return nil, nil, err
	}
	header[0] = strings.TrimPrefix(header[0], "\ufeff")
	var column [3]int
	for i, name := range [...]string{e.DateColumn, e.MinColumn, e.MaxColumn} {
		if column[i] = slices.Index(header, name); column[i] < 0 {
			return nil, nil, fmt.Errorf("line 1: column %q is missing; have %s", name, strings.Join(header, ", "))
		}
	}
	for {
		row, err := in.Read()
		if errors.Is(err, io.EOF) {
			return dates, days, nil
		}
		if err != nil {
			return nil, nil, err
		}
		var v [2]float64
		for i, at := range column[1:] {
			v[i], err = strconv.ParseFloat(strings.TrimSpace(row[at]), 64)
			if err != nil || math.Abs(v[i]) > 200 || math.IsNaN(v[i]) {
				line, _ := in.FieldPos(at)
				return nil, nil, fmt.Errorf("line %d, column %s: %q is no temperature; take the day out, or write its number", line, header[at], row[at])
			}
		}
		if v[0] > v[1] {
			line, _ := in.FieldPos(column[1])
			return nil, nil, fmt.Errorf("line %d: the minimum (%g) is above the maximum (%g); are the columns swapped?", line, v[0], v[1])
		}
		dates, days = append(dates, row[column[0]]), append(days, thermal.Extremes{Least: v[0], Most: v[1]})
	}
}

// methodNamed gives one of the twelve methods by the names of its shape and cut-off.
func methodNamed(shape, cutOff string) (m thermal.Method, err error) {
	switch shape {
	case "single-sine":
	case "double-sine":
		m.Double = true
	case "single-triangle":
		m.Shape = thermal.Triangle
	case "double-triangle":
		m.Shape, m.Double = thermal.Triangle, true
	default:
		return m, usererr.Usage(fmt.Errorf("--method: %q is none of single-sine, double-sine, single-triangle, double-triangle", shape))
	}
	switch cutOff {
	case "horizontal":
	case "vertical":
		m.CutOff = thermal.Vertical
	case "intermediate":
		m.CutOff = thermal.Intermediate
	default:
		return m, usererr.Usage(fmt.Errorf("--cut-off: %q is none of horizontal, vertical, intermediate", cutOff))
	}
	return m, nil
}
