package main

import (
	"errors"
	"fmt"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/replay"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"github.com/spf13/cobra"
)

// driftFlags are the flags of score --drift.
type driftFlags struct {
	on                   bool
	columns              []string
	timeColumn, timeZone string
	fahrenheit, celsius  bool
	keepGoing            bool
	failures             int
	pace                 time.Duration
}

func (f *driftFlags) add(c *cobra.Command) {
	c.Flags().BoolVar(&f.on, "drift", false, "judge the drift alarm over recordings (CSV), named after the flags")
	c.Flags().StringArrayVar(&f.columns, "column", nil, "with --drift: PROBE=TEMP, a column of a wide recording; may be repeated")
	c.Flags().StringVar(&f.timeColumn, "time-column", "", "with --drift: the column of the time (time or timestamp)")
	c.Flags().StringVar(&f.timeZone, "time-zone", "UTC", "with --drift: the zone of times that name none")
	c.Flags().BoolVar(&f.fahrenheit, "fahrenheit", false, "with --drift: the temperatures of --column are Fahrenheit")
	c.Flags().BoolVar(&f.celsius, "celsius", false, "with --drift: the temperatures are Celsius, though they look like Fahrenheit")
	c.Flags().BoolVar(&f.keepGoing, "keep-going", false, "with --drift: leave bad rows out instead of stopping at the first")
	c.MarkFlagsMutuallyExclusive("fahrenheit", "celsius")
	c.Flags().IntVar(&f.failures, "failures", 60, "with --drift: failures laid over each probe, at each end")
	c.Flags().DurationVar(&f.pace, "pace", config.DefaultEvery, "with --drift: judge also at this time between two polls; with --config: that of the station; 0: do not")
}

// scoreDrift runs the backtest of the drift alarm.
func scoreDrift(cmd *cobra.Command, f scoreFlags, files []string) error {
	d := f.drift
	switch {
	case f.book || f.durations != "" || f.plot != "" || cmd.Flags().Changed("model"):
		return usererr.Usage(errors.New("score --drift judges recordings: it takes no --book, --durations, --model or --plot"))
	case len(files) == 0:
		return usererr.Usage(errors.New("score --drift needs a recording (CSV); see ootherm score --help"))
	case d.failures < 1 || d.failures > 100_000:
		return usererr.Usage(fmt.Errorf("--failures: %d; write a number from 1 to 100000", d.failures))
	case d.pace < 0 || d.pace > 0 && d.pace < time.Second || d.pace > time.Hour:
		return usererr.Usage(fmt.Errorf("--pace: %v; write a time from 1s to 1h, or 0", d.pace))
	}
	given := ""
	if cmd.Flags().Changed("config") {
		given = f.config
	}
	where, err := time.LoadLocation(d.timeZone)
	if err != nil {
		return usererr.Usage(fmt.Errorf("--time-zone: %w; write a name such as America/New_York", err))
	}
	result, err := replay.BacktestDrift(cmd.Context(), replay.DriftBacktestOptions{
		Files: files, Columns: d.columns, TimeColumn: d.timeColumn, Fahrenheit: d.fahrenheit, Celsius: d.celsius, Location: where,
		KeepGoing: d.keepGoing, Failures: d.failures, Seed: 1,
		Pace: d.pace, PaceGiven: cmd.Flags().Changed("pace"), Config: given,
	})
	if err != nil {
		return err
	}
	if result.BadRows > 0 {
		fmt.Fprintf(cmd.ErrOrStderr(), "%d bad rows left out\n", result.BadRows)
	}
	if f.json {
		return writeJSON(cmd.OutOrStdout(), result)
	}
	return replay.DescribeDriftBacktest(cmd.OutOrStdout(), result)
}
