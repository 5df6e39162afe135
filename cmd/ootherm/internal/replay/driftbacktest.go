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
	// Pace is how often the station polls; 0: recordings are watched at their own pace alone.
	Pace time.Duration
	// Config is a configuration whose polling interval is the pace, and whose zones tell the
	// kinds of the probes; empty: none.
	Config string
	// PaceGiven keeps the pace where there is a configuration.
	PaceGiven bool
}

// DriftBacktest counts how the drift alarm and simpler alarms did on the failures.
type DriftBacktest struct {
	Failures int           `json:"failures_laid"` // over each probe, at each end
	BadRows  int           `json:"bad_rows"`      // left out
	Low      backtest.Side `json:"low"`
	High     backtest.Side `json:"high"`
	// Station is the same at the pace of the station; nil: not asked for.
	Station *DriftAtPace `json:"at_station_pace"`
}

// DriftAtPace counts as [DriftBacktest] does, of recordings as a station reads them that polls
// at a pace.
type DriftAtPace struct {
	Every float64       `json:"pace_seconds"`
	Low   backtest.Side `json:"low"`
	High  backtest.Side `json:"high"`
}

// BacktestDrift lays failures over recordings and counts the calls of the station's drift
// alarm.
func BacktestDrift(ctx context.Context, o DriftBacktestOptions) (DriftBacktest, error) {
	var all []backtest.Recording
	result := DriftBacktest{Failures: o.Failures}
	pace, kinds, err := o.station()
	if err != nil {
		return DriftBacktest{}, err
	}
	for _, path := range o.Files {
		found, bad, err := o.read(ctx, path, kinds)
		if err != nil {
			return DriftBacktest{}, err
		}
		all = append(all, found...)
		result.BadRows += bad
	}
	if result.Low, result.High, err = backtest.Run(ctx, all, o.Failures, o.Seed); err != nil {
		return DriftBacktest{}, err
	}
	if pace > 0 {
		x := DriftAtPace{Every: pace.Seconds()}
		if x.Low, x.High, err = backtest.RunAtPace(ctx, all, pace, o.Failures, o.Seed); err != nil {
			return DriftBacktest{}, err
		}
		result.Station = &x
	}
	return result, nil
}

// read gives what each probe of a file measured, sorted by name, and the number of bad
// rows.
func (o DriftBacktestOptions) read(ctx context.Context, path string, kinds zoneKinds) ([]backtest.Recording, int, error) {
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
			r = &backtest.Recording{Name: name + " " + row.Probe, Kind: kinds.of(row.Probe, name)}
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
