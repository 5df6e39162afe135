package replay

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"example.com/ootherm/alert/backtest"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/sensor/recording"
)

// DriftBacktestOptions name the recordings of a backtest, say how to read them, and how many
// failures to lay over each of their probes.
type DriftBacktestOptions struct {
	Files      []string
	Columns    []string // PROBE=TEMP, for wide files that have these columns; other files use *_c and *_f
	TimeColumn string   // empty: time, or timestamp
	Fahrenheit bool     // of columns that do not say so
	Celsius    bool     // the temperatures are Celsius even where they look like Fahrenheit
	Location   *time.Location
	KeepGoing  bool // leave bad rows out instead of stopping at the first
	Failures   int
	Seed       uint64
}

// DriftBacktest counts how the drift alarm and simpler alarms did on the failures.
type DriftBacktest struct {
	Failures int           `json:"failures_laid"` // over each probe, at each end
	BadRows  int           `json:"bad_rows"`      // left out
	Low      backtest.Side `json:"low"`
	High     backtest.Side `json:"high"`
}

// BacktestDrift lays failures over recordings and counts the calls of the station's drift
// alarm.
func BacktestDrift(ctx context.Context, o DriftBacktestOptions) (DriftBacktest, error) {
	var all []backtest.Recording
	result := DriftBacktest{Failures: o.Failures}
	for _, path := range o.Files {
		found, bad, err := o.read(ctx, path)
		if err != nil {
			return DriftBacktest{}, err
		}
		all = append(all, found...)
		result.BadRows += bad
	}
	var err error
	if result.Low, result.High, err = backtest.Run(ctx, all, o.Failures, o.Seed); err != nil {
		return DriftBacktest{}, err
	}
	return result, nil
}

// read gives what each probe of a file measured, sorted by name, and the number of bad
// rows.
func (o DriftBacktestOptions) read(ctx context.Context, path string) ([]backtest.Recording, int, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, 0, fmt.Errorf("the recording: %w", err)
	}
	defer file.Close()
	form, err := o.format(file, path)
	if err != nil {
		return nil, 0, err
	}
	if _, err := file.Seek(0, io.SeekStart); err != nil {
		return nil, 0, fmt.Errorf("the recording: %w", err)
	}
	rows, err := recording.Open(file, path, form)
	if err != nil {
		return nil, 0, err
	}
	name := strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))
	byProbe, units, bad := map[string]*backtest.Recording{}, map[string]*recording.Units{}, 0
	for n := 0; ; n++ {
		if n%4096 == 0 && ctx.Err() != nil {
			return nil, 0, ctx.Err()
		}
		row, err := rows.Next()
		switch {
		case errors.Is(err, io.EOF):
			if err := fahrenheitError(path, units); err != nil && rows.Celsius() && !o.Celsius {
				return nil, 0, err
			}
			all := make([]backtest.Recording, 0, len(byProbe))
			for _, r := range byProbe {
				all = append(all, *r)
			}
			slices.SortFunc(all, func(a, b backtest.Recording) int { return cmp.Compare(a.Name, b.Name) })
			if len(all) == 0 {
				return nil, 0, fmt.Errorf("%s holds no temperatures", path)
			}
			return all, bad, nil
		case errors.As(err, new(*recording.RowError)) && o.KeepGoing:
			bad++
			continue
		case err != nil:
			return nil, 0, err
		case math.IsNaN(row.Celsius):
			continue
		}
		r := byProbe[row.Probe]
		if r == nil {
			r = &backtest.Recording{Name: name + " " + row.Probe}
			byProbe[row.Probe], units[row.Probe] = r, &recording.Units{}
		}
		units[row.Probe].See(row.Measurement)
		r.Samples = append(r.Samples, backtest.Sample{At: row.At, Celsius: row.Celsius})
	}
}

// format finds out from a file's header how to read it.
func (o DriftBacktestOptions) format(r io.Reader, path string) (recording.Options, error) {
	header, err := recording.Header(r, path)
	if err != nil {
		return recording.Options{}, err
	}
	// The backtest does not use humidity, so percent is as good as a ratio.
	form := recording.Options{TimeColumn: o.TimeColumn, Fahrenheit: o.Fahrenheit, Percent: true, Location: o.Location}
	if form.TimeColumn == "" && !slices.Contains(header, "time") && slices.Contains(header, "timestamp") {
		form.TimeColumn = "timestamp"
	}
	for _, x := range o.Columns {
		column, err := recording.ParseColumn(x)
		if err != nil {
			return recording.Options{}, usererr.Usage(err)
		}
		if column.Humidity = ""; slices.Contains(header, column.Celsius) {
			form.Columns = append(form.Columns, column)
		}
	}
	allEndWith := func(suffix string) bool {
		return !slices.ContainsFunc(form.Columns, func(c recording.Column) bool { return !strings.HasSuffix(c.Celsius, suffix) })
	}
	switch {
	case slices.Contains(header, "probe") && len(form.Columns) == 0:
		return form, nil
	case len(form.Columns) > 0: // their names may give the unit
		form.Fahrenheit = allEndWith("_f") || o.Fahrenheit && !allEndWith("_c")
		return form, nil
	}
	for _, suffix := range []string{"_c", "_f"} {
		for _, h := range header {
			if strings.HasSuffix(h, suffix) {
				form.Columns = append(form.Columns, recording.Column{Probe: strings.TrimSuffix(h, suffix), Celsius: h})
			}
		}
		if len(form.Columns) > 0 {
			form.Fahrenheit = suffix == "_f"
			return form, nil
		}
	}
	return recording.Options{}, usererr.Usage(fmt.Errorf("%s: which of its columns %q are temperatures? Name them with --column PROBE=COLUMN", path, header))
}

// DescribeDriftBacktest writes the tables of both sides, for a person.
func DescribeDriftBacktest(w io.Writer, r DriftBacktest) error {
	t := tabwriter.NewWriter(w, 0, 8, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintf(t, `%d heater failures and as many runaways were laid over each probe.
called   of those that came to the limit, before it was reached
lead     median share of the time from failure to limit; 0 for what was not called
false    calls in 30 days on the recording as it is
drift    what the station runs
line     a straight line through the last one to three hours, t-test on its slope
plain    the limit, 10 minutes later
rate     5 K an hour for 10 minutes
cycle    calls of the drift on the recording, and with a cycle of 1 and of 2 K laid over
in 80 %%  of the called, how many came to the limit within the interval that was told
off      by how much the time that was told was wrong, median

`, r.Failures)
	for _, s := range []backtest.Side{r.Low, r.High} {
		if s.High {
			fmt.Fprintln(t, "\nHigh end: the limit is 1 K above the 99.8 % quantile")
		} else {
			fmt.Fprintln(t, "Low end: the limit is 1 K below the 0.2 % quantile")
		}
		fmt.Fprintln(t, "\tlimit\t\t\tdrift\t\t\tline\t\t\tplain\t\trate\t\tcycle\t\t\ttime left\t\t")
		fmt.Fprintln(t, "zone\tC\tdays\tfailures\tcalled\tlead\tfalse\tcalled\tlead\tfalse\tlead\tfalse\tcalled\tfalse\t0\t1\t2 K\tin 80 %\toff, h\t")
		for _, row := range append(slices.Clone(s.Zones), s.All) {
			drift, line, plain, rate := row.By[backtest.Drift], row.By[backtest.Line], row.By[backtest.Plain], row.By[backtest.Rate]
			fmt.Fprintf(t, "%s\t%s\t%.1f\t%d\t", row.Zone, optional(row.LimitC, 1, "%.1f"), row.Days, row.Failures)
			for _, x := range []backtest.Score{drift, line} {
				fmt.Fprintf(t, "%s\t%s\t%.2f\t", optional(x.Share, 100, "%.1f %%"), optional(x.Lead, 1, "%.2f"), x.In30Days)
			}
			fmt.Fprintf(t, "%s\t%.2f\t", optional(plain.Lead, 1, "%.2f"), plain.In30Days)
			fmt.Fprintf(t, "%s\t%.2f\t%d\t", optional(rate.Share, 100, "%.1f %%"), rate.In30Days, drift.FalseCalls)
			for _, n := range row.Cycles {
				fmt.Fprintf(t, "%d\t", n)
			}
			fmt.Fprintf(t, "%s\t%s\t\n", optional(row.Within, 100, "%.0f %%"), optional(row.Off, 1, "%.1f"))
		}
	}
	return t.Flush()
}

// optional formats a figure times a factor; a figure that is not known is "-".
func optional(v *float64, times float64, format string) string {
	if v == nil {
		return "-"
	}
	return fmt.Sprintf(format, *v*times)
}
