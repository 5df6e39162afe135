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
	"example.com/ootherm/sensor/recording"
	"example.com/ootherm/thermal/book"
)

// Options are a recording in a file and how to read it.
type Options struct {
	Config, Readings    string   // paths
	Columns             []string // PROBE=TEMP[:RH], of a wide recording
	TimeColumn          string
	Fahrenheit, Percent bool
	Celsius             bool // they are, whatever it looks like
	Location            *time.Location
	Entries             []book.Entry
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
		plan.Probes[i].Thermometer = false // the recording has what it has, whatever the probes here are
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
	look, err := survey(ctx, file, o.Readings, form)
	if err != nil {
		return Result{}, err
	}
	if look.mistaken != nil && !o.Celsius {
		return Result{}, look.mistaken
	}
	if !o.Until.IsZero() && o.Until.Before(look.start) {
		return Result{}, usererr.Usage(fmt.Errorf("--until %s is before %s begins, at %s: nothing would be replayed", o.Until.Format(time.RFC3339), o.Readings, look.start.Format(time.RFC3339)))
	}
	if look.every > 0 {
		plan.Every = look.every
	}
	if _, err := file.Seek(0, io.SeekStart); err != nil {
		return Result{}, fmt.Errorf("the recording: %w", err)
	}
	var rows Rows
	if rows, err = recording.Open(file, o.Readings, form); err != nil {
		return Result{}, err
	}
	if !look.sorted {
		rows = sorted(rows, look.rows)
	}
	r := Replay{
		Plan: plan, Rows: rows, Start: look.start, Entries: o.Entries, Until: o.Until,
		KeepGoing: o.KeepGoing, Version: o.Version,
	}
	if o.Progress != nil {
		r.Progress = func(n int) { o.Progress(float64(n) / float64(look.rows)) }
	}
	result, err := r.Run(ctx)
	if err != nil {
		return Result{}, err
	}
	result.After = afterwards(o.Entries, look.end, o.Until)
	return result, nil
}

// afterwards says how many entries of the book lie after the last reading; empty: none.
func afterwards(entries []book.Entry, end, until time.Time) string {
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

// surveyed is what a first look at a recording found.
type surveyed struct {
	start  time.Time
	end    time.Time
	every  time.Duration // the longest of the probes' usual steps; 0: no probe has two rows
	rows   int
	sorted bool // by time, over all probes

	mistaken error // its temperatures can hardly be Celsius
}

// survey reads a recording once to learn its step, its beginning and its order.
// A bad row is left for the replay to tell.
func survey(ctx context.Context, r io.Reader, name string, o recording.Options) (surveyed, error) {
	rows, err := recording.Open(r, name, o)
	if err != nil {
		return surveyed{}, err
	}
	const most = 4096 // steps of a probe that are looked at
	found := surveyed{sorted: true}
	last := map[string]time.Time{}
	steps := map[string][]time.Duration{}
	units := map[string]*recording.Units{}
	var before time.Time
	var bad error // the first
	for {
		row, err := rows.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if errors.As(err, new(*recording.RowError)) {
			if bad == nil {
				bad = err
			}
			continue
		}
		if err != nil {
			return surveyed{}, err
		}
		if found.rows%4096 == 0 && ctx.Err() != nil {
			return surveyed{}, ctx.Err()
		}
		found.rows++
		if found.start.IsZero() || row.At.Before(found.start) {
			found.start = row.At
		}
		if row.At.After(found.end) {
			found.end = row.At
		}
		if row.At.Before(before) {
			found.sorted = false
		}
		before = row.At
		if t, ok := last[row.Probe]; ok && len(steps[row.Probe]) < most {
			steps[row.Probe] = append(steps[row.Probe], row.At.Sub(t))
		}
		last[row.Probe] = row.At
		if units[row.Probe] == nil {
			units[row.Probe] = &recording.Units{}
		}
		units[row.Probe].See(row.Measurement)
	}
	if found.rows == 0 && bad != nil {
		return surveyed{}, fmt.Errorf("%w; no row of it is good", bad)
	}
	if found.rows == 0 {
		return surveyed{}, fmt.Errorf("%s holds no readings", name)
	}
	for _, s := range steps {
		slices.Sort(s)
		found.every = max(found.every, s[len(s)/2])
	}
	if rows.Celsius() {
		found.mistaken = mistaken(name, units)
	}
	for _, probe := range slices.Sorted(maps.Keys(units)) {
		if o.Percent && units[probe].RatioAsPercent() {
			return surveyed{}, usererr.Usage(fmt.Errorf("%s: the humidity of probe %s is below 1.25, which no air is in percent: it is a ratio (0.55 is 55 %%). Leave --percent away", name, probe))
		}
	}
	return found, nil
}

// mistaken says which probe's column is Fahrenheit that was read as Celsius; nil where
// none is.
func mistaken(file string, units map[string]*recording.Units) error {
	for _, probe := range slices.Sorted(maps.Keys(units)) {
		if u := units[probe]; u.Mistaken() {
			return usererr.Usage(fmt.Errorf("%s: probe %s is between %.1f and %.1f: as Celsius no egg stands that, as Fahrenheit it is %.1f to %.1f °C. Say --fahrenheit, or, if it is Celsius, --celsius",
				file, probe, u.Least, u.Most, (u.Least-32)/1.8, (u.Most-32)/1.8))
		}
	}
	return nil
}

// sorted gives rows in the order of their times. A recording that holds one
// probe after another cannot be replayed otherwise; all of it is held in memory.
func sorted(rows Rows, n int) Rows {
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
			row.At = all[len(all)-1].row.At // it is told where it stood
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

// ReadBook reads the entries of a book from a file of JSON lines.
func ReadBook(path string) ([]book.Entry, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("the book: %w", err)
	}
	defer file.Close()
	entries, err := book.ReadAll(file)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return entries, nil
}
