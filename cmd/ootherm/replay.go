package main

import (
	"fmt"
	"os"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"example.com/ootherm/cmd/ootherm/internal/replay"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
)

type replayFlags struct {
	config, readings, book, until string
	columns                       []string
	timeColumn, timeZone          string
	fahrenheit, celsius, percent  bool
	keepGoing, json               bool
}

func replayCommand() *cobra.Command {
	var f replayFlags
	c := &cobra.Command{
		Use:   "replay",
		Short: "Push a recording through the station and print what it would have said",
		Long: `Push a recording through the station at full speed and print its state at the
end, every alarm's transitions, and how many readings were believed.

The recording is a CSV file: long, with the columns time, probe, temperature_c
(or temperature_f) and relative_humidity (a ratio, or percent with --percent);
or wide, with a --column for each probe. Cells stand apart by commas, semicolons or
tabs; with the latter two decimals may have commas. Times are RFC 3339; a time without a
zone is in --time-zone, UTC without it. Temperatures that no egg would stand as
Celsius and an egg room may well have as Fahrenheit are refused, until --fahrenheit
or --celsius says what they are.`,
		Example: `  ootherm replay --readings season.csv --book book.jsonl
  ootherm replay --config office.toml --readings office.csv --time-column timestamp --fahrenheit --column office=value --json`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error { return runReplay(cmd, f) },
	}
	configFlag(c.Flags(), &f.config)
	c.Flags().StringVar(&f.readings, "readings", "", "the recording (CSV)")
	c.Flags().StringVar(&f.book, "book", "", "the book's entries (JSON lines), each noted when it happened")
	c.Flags().StringVar(&f.until, "until", "", "stop at this time (RFC 3339)")
	c.Flags().StringArrayVar(&f.columns, "column", nil, "PROBE=TEMP[:RH]: the columns of a probe in a wide recording; may be repeated")
	c.Flags().StringVar(&f.timeColumn, "time-column", "time", "the column of the time")
	c.Flags().BoolVar(&f.fahrenheit, "fahrenheit", false, "the temperatures are Fahrenheit")
	c.Flags().BoolVar(&f.celsius, "celsius", false, "the temperatures are Celsius, though they look like Fahrenheit")
	c.Flags().BoolVar(&f.percent, "percent", false, "the humidities are percent, not ratios")
	c.Flags().StringVar(&f.timeZone, "time-zone", "UTC", "the zone of times that name none")
	c.Flags().BoolVar(&f.keepGoing, "keep-going", false, "count bad rows instead of stopping at the first")
	c.Flags().BoolVar(&f.json, "json", false, "print JSON")
	c.MarkFlagsMutuallyExclusive("fahrenheit", "celsius")
	need(c, "readings")
	return c
}

func runReplay(cmd *cobra.Command, f replayFlags) error {
	o := replay.Options{
		Config: f.config, Readings: f.readings, Columns: f.columns, TimeColumn: f.timeColumn,
		Fahrenheit: f.fahrenheit, Celsius: f.celsius, Percent: f.percent, KeepGoing: f.keepGoing, Version: version,
	}
	var err error
	if o.Location, err = time.LoadLocation(f.timeZone); err != nil {
		return usererr.Usage(fmt.Errorf("--time-zone: %w; write a name such as America/New_York", err))
	}
	if f.until != "" {
		if o.Until, err = time.Parse(time.RFC3339, f.until); err != nil {
			return usererr.Usage(fmt.Errorf("--until: %q is not a time such as 2026-06-01T00:00:00Z", f.until))
		}
	}
	if f.book != "" {
		if o.Book, err = replay.ReadBook(f.book); err != nil {
			return err
		}
	}
	if term.IsTerminal(int(os.Stderr.Fd())) {
		o.Progress = progressBar(cmd.ErrOrStderr())
	}
	result, err := replay.Run(cmd.Context(), o)
	if o.Progress != nil {
		fmt.Fprint(cmd.ErrOrStderr(), "\r\033[K")
	}
	if err != nil {
		return err
	}
	if result.After != "" {
		fmt.Fprintln(cmd.ErrOrStderr(), result.After)
	}
	if f.json {
		return writeJSON(cmd.OutOrStdout(), result)
	}
	return replay.Describe(cmd.OutOrStdout(), result)
}
