package replay

import (
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"slices"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/recording"
	"example.com/ootherm/thermal/book"
)

// Options name a recording in a file and say how to read and replay it.
type Options struct {
	Config, Readings    string   // paths
	Columns             []string // PROBE=TEMP[:RH], of a wide recording
	TimeColumn          string
	Fahrenheit, Percent bool
	Celsius             bool // the temperatures are Celsius even where they look like Fahrenheit
	Location            *time.Location
	Book                Book
	Until               time.Time
	KeepGoing           bool
	Version             string
	Progress            func(share float64)
}

// Run replays a recording from a file.
func Run(ctx context.Context, o Options) (Result, error) {
	c, err := config.LoadReplay(o.Config, probeconfig.Drivers())
	if err != nil {
		return Result{}, err
	}
	plan, err := plan.FromConfig(c)
	if err != nil {
		return Result{}, err
	}
	for i := range plan.Probes {
		plan.Probes[i].Thermometer = false // the recording may have humidity that the probes here do not give
	}
	form := recording.Options{TimeColumn: o.TimeColumn, Fahrenheit: o.Fahrenheit, Percent: o.Percent, Location: o.Location}
	for _, x := range o.Columns {
		column, err := recording.ParseColumn(x)
		if err != nil {
			return Result{}, usererr.Usage(err)
		}
		form.Columns = append(form.Columns, column)
	}
	file, err := os.Open(o.Readings)
	if err != nil {
		return Result{}, fmt.Errorf("the recording: %w", err)
	}
	defer file.Close()
	found, err := survey(ctx, file, o.Readings, form)
	if err != nil {
		return Result{}, err
	}
	if found.unitError != nil && !o.Celsius {
		return Result{}, found.unitError
	}
	if !o.Until.IsZero() && o.Until.Before(found.start) {
		return Result{}, usererr.Usage(fmt.Errorf("--until %s is before %s begins, at %s: nothing would be replayed", o.Until.Format(time.RFC3339), o.Readings, found.start.Format(time.RFC3339)))
	}
	if found.every > 0 {
		plan.Every = found.every
	}
	if _, err := file.Seek(0, io.SeekStart); err != nil {
		return Result{}, fmt.Errorf("the recording: %w", err)
	}
	var rows Rows
	if rows, err = recording.Open(file, o.Readings, form); err != nil {
		return Result{}, err
	}
	if !found.sorted {
		rows = sortedByTime(rows, found.rows)
	}
	r := Replay{
		Plan: plan, Rows: rows, File: o.Readings, Start: found.start, Book: o.Book, Until: o.Until,
		KeepGoing: o.KeepGoing, Version: o.Version, RateLimit: rateLimit(c, plan),
	}
	if o.Progress != nil {
		r.Progress = func(n int) { o.Progress(float64(n) / float64(found.rows)) }
	}
	result, err := r.Run(ctx)
	if err != nil {
		return Result{}, err
	}
	result.After = entriesAfter(o.Book.Entries, found.end, o.Until)
	return result, nil
}

// entriesAfter says how many entries of the book lie after the last reading. It is empty
// where there are none.
func entriesAfter(entries []book.Entry, end, until time.Time) string {
	n, last := 0, end
	for _, e := range entries {
		if e.At.After(end) && (until.IsZero() || !e.At.After(until)) {
			n++
			if e.At.After(last) {
				last = e.At
			}
		}
	}
	if n == 0 {
		return ""
	}
	return fmt.Sprintf("%s of the book after the last reading, of %s: the replay went on without readings to %s, and says how it is then. To stop at the readings' end: --until %s",
		words.Count(n, "entry", "entries"), end.UTC().Format(time.RFC3339), last.UTC().Format(time.RFC3339), end.UTC().Format(time.RFC3339))
}

// surveyResult holds what a first pass over a recording finds.
type surveyResult struct {
	start  time.Time
	end    time.Time
	every  time.Duration // the longest of the probes' usual intervals; 0: no probe has two rows
	rows   int
	sorted bool // by time, over all probes

	unitError error // the temperatures can hardly be Celsius
}

// maxIntervals is how many intervals of a probe a survey takes into account (our choice).
const maxIntervals = 4096

// surveyor reads the rows of a recording for a survey.
type surveyor struct {
	surveyResult
	last      map[string]time.Time // by probe
	intervals map[string][]time.Duration
	units     map[string]*recording.Units
	previous  time.Time // of any probe
}

// survey reads a recording once to find its interval, its bounds and its order. It skips
// bad rows: the replay reports them.
func survey(ctx context.Context, r io.Reader, name string, o recording.Options) (surveyResult, error) {
	rows, err := recording.Open(r, name, o)
	if err != nil {
		return surveyResult{}, err
	}
	s := &surveyor{
		surveyResult: surveyResult{sorted: true},
		last:         map[string]time.Time{}, intervals: map[string][]time.Duration{}, units: map[string]*recording.Units{},
	}
	var firstBad error
	for {
		row, err := rows.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if errors.As(err, new(*recording.RowError)) {
			if firstBad == nil {
				firstBad = err
			}
			continue
		}
		if err != nil {
			return surveyResult{}, err
		}
		if s.rows%4096 == 0 && ctx.Err() != nil {
			return surveyResult{}, ctx.Err()
		}
		s.add(row)
	}
	if s.rows == 0 && firstBad != nil {
		return surveyResult{}, fmt.Errorf("%w; no row of it is good", firstBad)
	}
	if s.rows == 0 {
		return surveyResult{}, fmt.Errorf("%s holds no readings", name)
	}
	for _, x := range s.intervals {
		slices.Sort(x)
		s.every = max(s.every, x[len(x)/2])
	}
	if rows.Celsius() {
		s.unitError = fahrenheitError(name, s.units)
	}
	for _, probe := range slices.Sorted(maps.Keys(s.units)) {
		if o.Percent && s.units[probe].RatioAsPercent() {
			return surveyResult{}, usererr.Usage(fmt.Errorf("%s: the humidity of probe %s is below 1.25, which no air is in percent: it is a ratio (0.55 is 55 %%). Leave --percent away", name, probe))
		}
	}
	return s.surveyResult, nil
}

// add takes a good row into account.
func (s *surveyor) add(row recording.Row) {
	s.rows++
	if s.start.IsZero() || row.At.Before(s.start) {
		s.start = row.At
	}
	if row.At.After(s.end) {
		s.end = row.At
	}
	if row.At.Before(s.previous) {
		s.sorted = false
	}
	s.previous = row.At
	if t, ok := s.last[row.Probe]; ok && len(s.intervals[row.Probe]) < maxIntervals {
		s.intervals[row.Probe] = append(s.intervals[row.Probe], row.At.Sub(t))
	}
	s.last[row.Probe] = row.At
	if s.units[row.Probe] == nil {
		s.units[row.Probe] = &recording.Units{}
	}
	s.units[row.Probe].See(row.Measurement)
}

// fahrenheitError gives an error that names the first probe whose Celsius can only be
// Fahrenheit; nil where there is none.
func fahrenheitError(file string, units map[string]*recording.Units) error {
	for _, probe := range slices.Sorted(maps.Keys(units)) {
		if u := units[probe]; u.Mistaken() {
			return usererr.Usage(fmt.Errorf("%s: probe %s is between %.1f and %.1f: as Celsius no egg stands that, as Fahrenheit it is %.1f to %.1f °C. Say --fahrenheit, or, if it is Celsius, --celsius",
				file, probe, u.Least, u.Most, sensor.FromFahrenheit(u.Least), sensor.FromFahrenheit(u.Most)))
		}
	}
	return nil
}

// sortedByTime gives rows in the order of their times, for a recording that holds one
// probe after another. It keeps all rows in memory.
func sortedByTime(rows Rows, n int) Rows {
	type item struct {
		row recording.Row
		err error
	}
	all := make([]item, 0, n)
	for {
		row, err := rows.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		bad := errors.As(err, new(*recording.RowError))
		if bad && len(all) > 0 {
			row.At = all[len(all)-1].row.At // a bad row stays behind the row before it
		}
		all = append(all, item{row, err})
		if err != nil && !bad {
			break
		}
	}
	slices.SortStableFunc(all, func(a, b item) int { return a.row.At.Compare(b.row.At) })
	return rowsFunc(func() (recording.Row, error) {
		if len(all) == 0 {
			return recording.Row{}, io.EOF
		}
		x := all[0]
		all = all[1:]
		return x.row, x.err
	})
}

type rowsFunc func() (recording.Row, error)

func (f rowsFunc) Next() (recording.Row, error) { return f() }

// Book is a book to be noted, and where it was read.
type Book struct {
	Entries []book.Entry
	file    string
	draft   book.Draft
}

// located adds the file and the lines of a book to what is wrong with its entries.
func (b Book) located(err error) error {
	var faults book.Faults
	if b.file == "" || !errors.As(err, &faults) {
		return err
	}
	_, all := book.Book{}.Prepare(b.draft.Check(func(e book.Entry) (of book.Faults) {
		for _, f := range faults {
			if f.Key == e.Key {
				of = append(of, f)
			}
		}
		return of
	}))
	return fmt.Errorf("%s:\n%w", b.file, all)
}

// ReadBook reads the entries of a book from a file of JSON lines. The error lists every line
// that cannot be read, and every entry that breaks a rule of the book.
func ReadBook(path string) (Book, error) {
	file, err := os.Open(path)
	if err != nil {
		return Book{}, fmt.Errorf("the book: %w", err)
	}
	defer file.Close()
	draft, err := book.ReadDraft(file)
	if err != nil {
		return Book{}, fmt.Errorf("%s: %w", path, err)
	}
	if _, err := (book.Book{}).Prepare(draft); err != nil {
		return Book{}, fmt.Errorf("%s:\n%w", path, err)
	}
	return Book{draft.Entries(), path, draft}, nil
}
