// Package recording reads recordings of probes from CSV, as spreadsheets write it: as a
// stream of rows, and as a probe that plays one back.
//
// A recording is long (a row is one reading: time, probe, temperature_c or
// temperature_f, relative_humidity) or wide (a row is one reading of each of
// several probes, whose columns are named in [Options]).
package recording

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.com/ootherm/sensor"
)

// Column is one probe of a wide recording and its columns there.
type Column struct {
	Probe    string
	Celsius  string // the temperature's; Fahrenheit where the options say so
	Humidity string // empty where there is none
}

// ParseColumn reads a column given as PROBE=TEMP or PROBE=TEMP:RH.
func ParseColumn(s string) (Column, error) {
	probe, columns, ok := strings.Cut(s, "=")
	temperature, humidity, both := strings.Cut(columns, ":")
	if !ok || probe == "" || temperature == "" || both && humidity == "" {
		return Column{}, fmt.Errorf("column %q: give it as PROBE=TEMPERATURE or PROBE=TEMPERATURE:HUMIDITY, by the names of the header", s)
	}
	return Column{Probe: probe, Celsius: temperature, Humidity: humidity}, nil
}

// Options are how a recording is to be read.
type Options struct {
	Columns    []Column       // of a wide recording; none means a long one
	TimeColumn string         // "time" when empty
	Fahrenheit bool           // temperatures of wide columns, and of a long one's temperature_c, are Fahrenheit
	Percent    bool           // humidities are percent, not ratios
	Location   *time.Location // of times without a zone; UTC when nil
}

// Row is one reading of one probe. Line counts from 1, the header's.
type Row struct {
	Line  int
	At    time.Time
	Probe string
	sensor.Measurement
}

// Causes of a [RowError].
const (
	BadRow     sensor.Cause = "bad-row"      // not CSV, or another number of cells than the header
	BadTime    sensor.Cause = "bad-time"     // not a time
	BadNumber  sensor.Cause = "bad-number"   // not a number
	OutOfOrder sensor.Cause = "out-of-order" // not later than the reading of the same probe before it
)

// RowError is one row, or one reading in a row, that cannot be used. Reading may
// go on after it.
type RowError struct {
	File   string
	Line   int
	Column string // the header's name, empty for the whole row
	Probe  string // empty for the whole row
	Why    string
	cause  sensor.Cause
}

func (e *RowError) Error() string {
	at := fmt.Sprintf("%s:%d", e.File, e.Line)
	if e.Column != "" {
		at += ": column " + e.Column
	}
	return at + ": " + e.Why
}

// Cause is what kind of fault it is, one of the constants.
func (e *RowError) Cause() sensor.Cause { return e.cause }

// Reader gives the readings of a recording one by one, in its own order.
//
// Within a probe each must be later than the one before: a reading that is not is
// a [RowError] and the reading before it stays the latest, so one wrong clock
// does not shut out all that follow unless it is in the future. Probes need not
// be in order among each other.
type Reader struct {
	file   string
	o      Options
	csv    *table
	header []string
	columns
	latest map[string]*track
	clock  clock
	currentRow
	fatal error // the end, or what the file failed with
}

// columns are where a recording has its values.
type columns struct {
	time  int
	probe int    // of the probe's name; -1 in a wide recording
	wide  []cell // the probes of a row
}

// currentRow is the row whose probes are given one by one.
type currentRow struct {
	at   time.Time
	line int
	row  []string
	next int // the next of wide in the row; len(wide) when the row is done
}

// cell is where one probe's values are in a row.
type cell struct {
	probe      *track // nil in a long recording
	celsius    int
	humidity   int // -1: none
	fahrenheit bool
}

// track is one probe's name and the time of its latest reading.
type track struct {
	name string
	at   time.Time
	any  bool
}

// Open reads the header of a recording and checks that what the options name is
// there. The name is for errors.
func Open(r io.Reader, name string, o Options) (*Reader, error) {
	if o.TimeColumn == "" {
		o.TimeColumn = "time"
	}
	if o.Location == nil {
		o.Location = time.UTC
	}
	c, err := tabulate(r, name)
	if err != nil {
		return nil, err
	}
	d := &Reader{file: name, o: o, csv: c, header: c.header, latest: map[string]*track{}, clock: clock{location: o.Location}}
	if err := d.find(); err != nil {
		return nil, err
	}
	d.next = len(d.wide)
	return d, nil
}

// find sets the columns, or says which are missing.
func (d *Reader) find() error {
	var missing []string
	column := func(name string) int {
		i := slices.Index(d.header, name)
		if i < 0 {
			missing = append(missing, strconv.Quote(name))
		}
		return i
	}
	d.time, d.probe = column(d.o.TimeColumn), -1
	if len(d.o.Columns) == 0 {
		d.probe = column("probe")
		if slices.Contains(d.header, "temperature_c") && slices.Contains(d.header, "temperature_f") {
			return fmt.Errorf("%s: the header has both temperature_c and temperature_f: take one out, it is not clear which is meant", d.file)
		}
		c := cell{fahrenheit: d.o.Fahrenheit, humidity: slices.Index(d.header, "relative_humidity")}
		if c.celsius = slices.Index(d.header, "temperature_c"); c.celsius < 0 {
			c.fahrenheit = true
			if c.celsius = slices.Index(d.header, "temperature_f"); c.celsius < 0 {
				missing = append(missing, `"temperature_c" or "temperature_f"`)
			}
		}
		d.wide = []cell{c}
	}
	for _, w := range d.o.Columns {
		if d.latest[w.Probe] != nil {
			return fmt.Errorf("%s: probe %q has two columns: give each probe one", d.file, w.Probe)
		}
		t := &track{name: w.Probe}
		d.latest[w.Probe] = t
		c := cell{probe: t, celsius: column(w.Celsius), humidity: -1, fahrenheit: d.o.Fahrenheit}
		if w.Humidity != "" {
			c.humidity = column(w.Humidity)
		}
		d.wide = append(d.wide, c)
	}
	if missing != nil {
		return fmt.Errorf("%s: no column %s; the header has %q", d.file, strings.Join(missing, ", "), d.header)
	}
	for i, name := range d.header {
		used := i == d.time || i == d.probe || slices.ContainsFunc(d.wide, func(c cell) bool { return i == c.celsius || i == c.humidity })
		if used && slices.Contains(d.header[i+1:], name) {
			return fmt.Errorf("%s: the header has the column %q twice", d.file, name)
		}
	}
	return nil
}

// Celsius reports whether temperatures are taken as Celsius; else they are converted.
func (d *Reader) Celsius() bool { return !d.wide[0].fahrenheit }

// Moist reports whether the recording has humidities, of one probe at least.
func (d *Reader) Moist() bool {
	return slices.ContainsFunc(d.wide, func(c cell) bool { return c.humidity >= 0 })
}

// Next is the next reading. The error is [io.EOF] at the end, a [*RowError] for a
// reading that cannot be used, after which Next may be called again, and anything
// else when the file itself cannot be read. A row without a temperature and
// without a humidity is a reading of nothing: both NaN.
func (d *Reader) Next() (Row, error) {
	none := Row{Measurement: sensor.None()}
	if d.next == len(d.wide) {
		if err := d.advance(); err != nil {
			return none, err
		}
	}
	c := &d.wide[d.next]
	d.next++
	t := c.probe
	if t == nil {
		name := strings.TrimSpace(d.row[d.probe])
		if name == "" {
			return none, d.fault(d.probe, "", BadRow, "the reading names no probe")
		}
		if t = d.latest[name]; t == nil {
			t = &track{name: strings.Clone(name)}
			d.latest[t.name] = t
		}
	}
	m := sensor.None()
	var err error
	if m.Celsius, err = d.number(c.celsius, t.name); err != nil {
		return none, err
	}
	if c.fahrenheit {
		m.Celsius = sensor.FromFahrenheit(m.Celsius)
	}
	if c.humidity >= 0 {
		if m.Humidity, err = d.number(c.humidity, t.name); err != nil {
			return none, err
		}
		if d.o.Percent {
			m.Humidity /= 100
		} else if m.Humidity > mostRatio {
			return none, d.fault(c.humidity, t.name, BadNumber, fmt.Sprintf("a humidity of %g is no ratio (0.55 is 55 %%): say that they are percent, with --percent", m.Humidity))
		}
	}
	at := d.at
	if t.any && !at.After(t.at) {
		at = d.clock.again(at)
	}
	if t.any && !at.After(t.at) {
		return none, d.fault(d.time, t.name, OutOfOrder, fmt.Sprintf("probe %s at %s is not after its reading before, %s: sort the recording by time, each time once",
			t.name, d.at.Format(time.RFC3339), t.at.Format(time.RFC3339)))
	}
	t.at, t.any = at, true
	return Row{Line: d.line, At: at, Probe: t.name, Measurement: m}, nil
}

// mostRatio is the most that a humidity can be: parts tell up to 1.19 where it is
// wet (SHT4x data sheet, p. 12, from memory).
const mostRatio = 1.25

// again is the second time that a clock shows what it shows at a time, in the
// hour that comes twice when summer time ends; the time itself at any other.
func (c *clock) again(at time.Time) time.Time {
	if slices.Contains(zoned, c.layout) {
		return at
	}
	_, now := at.Zone()
	_, soon := at.Add(3 * time.Hour).Zone()
	later := at.Add(time.Duration(now-soon) * time.Second)
	if now <= soon || later.Hour() != at.Hour() || later.Minute() != at.Minute() {
		return at
	}
	return later
}

// skipped reports whether no clock ever showed this time: it lies in the hour
// that is left out when summer time begins.
func (c *clock) skipped(text string, at time.Time) bool {
	shown, err := time.Parse(c.layout, text)
	return err == nil && !slices.Contains(zoned, c.layout) && (shown.Hour() != at.Hour() || shown.Minute() != at.Minute())
}

// advance reads the next row and its time.
func (d *Reader) advance() error {
	if d.fatal != nil {
		return d.fatal
	}
	row, err := d.csv.Read()
	if err == io.EOF {
		d.fatal = io.EOF
		return io.EOF
	}
	if err != nil {
		var p *csv.ParseError
		if !errors.As(err, &p) {
			d.fatal = fmt.Errorf("%s: after line %d: %w", d.file, d.line, err)
			return d.fatal
		}
		d.line = p.StartLine + d.csv.skipped
		why := p.Err.Error()
		if errors.Is(err, csv.ErrFieldCount) {
			why = fmt.Sprintf("%d cells where the header has %d", len(row), len(d.header))
			if len(row) > len(d.header) && d.csv.Comma == ',' {
				why += ": with decimal commas, separate cells by semicolons"
			}
		}
		return &RowError{File: d.file, Line: d.line, Why: why, cause: BadRow}
	}
	d.row = row
	d.line, _ = d.csv.FieldPos(0)
	d.line += d.csv.skipped
	text := strings.TrimSpace(row[d.time])
	if text != d.clock.cell {
		at, ok := d.clock.parse(text)
		if !ok {
			return d.fault(d.time, "", BadTime, fmt.Sprintf("%.40q is no time: write it as 2026-04-02T19:00:00Z or 2026-04-02 19:00:00", text))
		}
		if d.clock.skipped(text, at) {
			return d.fault(d.time, "", BadTime, fmt.Sprintf("%.40q is an hour that summer time leaves out in %s: see that --time-zone is the clock's", text, d.o.Location))
		}
		if y := at.UTC().Year(); y < 1970 || y > 2199 { // as the book has it
			return d.fault(d.time, "", BadTime, fmt.Sprintf("%.40q is in the year %d, and no recording is: see the logger's clock", text, y))
		}
		d.clock.cell, d.clock.at = strings.Clone(text), at
	}
	d.at, d.next = d.clock.at, 0
	return nil
}

// number is the number in a cell, NaN for an empty one.
func (d *Reader) number(i int, probe string) (float64, error) {
	text := strings.TrimSpace(d.row[i])
	if text == "" {
		return math.NaN(), nil
	}
	figure := text
	if d.csv.Comma != ',' && !strings.Contains(text, ".") {
		figure = strings.Replace(text, ",", ".", 1)
	}
	v, err := strconv.ParseFloat(figure, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return math.NaN(), d.fault(i, probe, BadNumber, fmt.Sprintf("%.40q is no number", text))
	}
	return v, nil
}

func (d *Reader) fault(i int, probe string, cause sensor.Cause, why string) error {
	return &RowError{File: d.file, Line: d.line, Column: d.header[i], Probe: probe, Why: why, cause: cause}
}

// layouts of a time: with a zone, and without one, as spreadsheets write it.
var (
	zoned = []string{time.RFC3339, "2006-01-02 15:04:05Z07:00", "2006-01-02T15:04:05Z0700", "2006-01-02 15:04:05Z0700", "2006-01-02 15:04:05 Z07:00", "2006-01-02 15:04:05 Z0700"}
	naive = []string{time.DateTime, "2006-01-02T15:04:05", "2006-01-02 15:04", "2006-01-02T15:04"}
)

// clock reads times as a recording writes them.
type clock struct {
	location *time.Location
	layout   string    // of the last time read
	cell     string    // the last time cell: wide exports repeat none, long ones often
	at       time.Time // what that said
}

// parse tries the layout that fitted last, then the others. Fractions of a
// second are taken wherever seconds are.
func (c *clock) parse(s string) (time.Time, bool) {
	if c.layout != "" {
		if t, err := time.ParseInLocation(c.layout, s, c.location); err == nil {
			return t, true
		}
	}
	for _, layout := range slices.Concat(zoned, naive) {
		if t, err := time.ParseInLocation(layout, s, c.location); err == nil {
			c.layout = layout
			return t, true
		}
	}
	return time.Time{}, false
}
