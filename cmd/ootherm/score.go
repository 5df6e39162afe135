package main

import (
	"errors"
	"fmt"
	"os"

	"example.com/ootherm/cmd/ootherm/internal/client"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/thermal/backtest"
	"example.com/ootherm/thermal/profile"
	"github.com/spf13/cobra"
)

type scoreFlags struct {
	durations, model, plot string
	book, json             bool
	config                 string
	drift                  driftFlags
}

func scoreCommand() *cobra.Command {
	var f scoreFlags
	c := &cobra.Command{
		Use:   "score",
		Short: "Measure how right the hatch model and the drift alarm are, on what they have not seen",
		Long: `Measure how right the hatch model is, or the drift alarm.

With --durations, predict each row of a table of incubation durations from other
rows, never from itself: knowing only the species' family, one row of the nearest
other temperature, or all rows of other temperatures. Without --json the bent
curve and the straight degree-day line stand side by side, then the model by clade.
The table is a CSV
with the columns study, order, family, species, temperature_c and duration_days;
daily_range_c, sd_days and n are read where they are.

With --book, say how right the windows were that this station showed for the eggs
that have hatched here.

With --drift, lay heater failures and runaways over recordings of rooms and count
what the drift alarm calls before the limit is reached, with what lead, and what it
calls on the untouched recording; beside it a straight line through the last hours,
the limit itself with a delay of 10 minutes, and the alarm of a rate of change. The
recordings are CSV files as replay reads them: long (time, probe, temperature_c), or
wide, where each column whose name ends in _c or _f is a probe, or those given with
--column. All is counted at the recordings' own pace, and as a station reads the same
that polls every --pace: readings far apart flatter an alarm. With --config the pace is
the station's, and its zones tell which probe is of a room, a shelf or an incubator;
else the name of the probe or of the file does.`,
		Example: `  ootherm score --durations durations.csv
  ootherm score --durations durations.csv --model degree-days --plot line.svg --json
  ootherm score --book
  ootherm score --drift room.csv incubator.csv
  ootherm score --drift --config ootherm.toml shelf.csv
  ootherm score --drift --column office=value --fahrenheit office.csv --json`,
		Args: func(cmd *cobra.Command, args []string) error {
			if f.drift.on {
				return nil
			}
			return noArguments(cmd, args)
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if f.drift.on {
				return scoreDrift(cmd, f, args)
			}
			return score(cmd, f)
		},
	}
	c.Flags().StringVar(&f.durations, "durations", "", "a table of incubation durations (CSV)")
	c.Flags().StringVar(&f.model, "model", profile.ModelCurve, "the model: degree-days or curve")
	c.Flags().StringVar(&f.plot, "plot", "", "draw predicted against actual days into this file (SVG)")
	c.Flags().BoolVar(&f.book, "book", false, "judge the windows shown for the eggs that hatched here")
	configFlag(c.Flags(), &f.config)
	f.drift.add(c)
	c.Flags().BoolVar(&f.json, "json", false, "print JSON, all shares as ratios")
	return c
}

func score(cmd *cobra.Command, f scoreFlags) error {
	switch {
	case f.book && (f.durations != "" || f.plot != "" || cmd.Flags().Changed("model")):
		return usererr.Usage(errors.New("score --book judges what was shown here: it takes --config and --json alone"))
	case f.book:
		return scoreBook(cmd, f)
	case f.durations == "":
		return usererr.Usage(errors.New("score needs --durations, --book or --drift; see ootherm score --help"))
	case f.model != profile.ModelCurve && f.model != profile.ModelLine:
		return usererr.Usage(fmt.Errorf("--model: %q is no model; write %s or %s", f.model, profile.ModelLine, profile.ModelCurve))
	}
	rows, err := readDurations(f.durations)
	if err != nil {
		return err
	}
	result, err := backtest.Score(rows, f.model)
	if err != nil {
		return err
	}
	if len(result.Rows) == 0 {
		return fmt.Errorf("%s: no species has two mean temperatures, so nothing can be predicted from another row", f.durations)
	}
	if f.plot != "" {
		if err := draw(f.plot, result); err != nil {
			return err
		}
	}
	if f.json {
		return writeJSON(cmd.OutOrStdout(), result)
	}
	other := profile.ModelLine
	if f.model == other {
		other = profile.ModelCurve
	}
	beside, err := backtest.Score(rows, other)
	if err != nil {
		return err
	}
	out := cmd.OutOrStdout()
	if err := backtest.Describe(out, f.model, result, other, beside); err != nil {
		return err
	}
	fmt.Fprintf(out, "\nBy clade, %s:\n\n", f.model)
	return backtest.DescribeClades(out, result)
}

func scoreBook(cmd *cobra.Command, f scoreFlags) error {
	c, err := client.Dial(cmd.Context(), f.config, build())
	if err != nil {
		return err
	}
	defer c.Close()
	result, err := c.Score(cmd.Context())
	if err != nil {
		return err
	}
	if f.json {
		return writeJSON(cmd.OutOrStdout(), result)
	}
	return client.DescribeScore(cmd.OutOrStdout(), result)
}

func readDurations(path string) ([]backtest.Row, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("the durations: %w", err)
	}
	defer file.Close()
	rows, err := backtest.ReadRows(file)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return rows, nil
}

func draw(path string, r backtest.Result) error {
	file, err := os.Create(path)
	if err != nil {
		return fmt.Errorf("the drawing: %w", err)
	}
	return errors.Join(backtest.WriteSVG(file, r), file.Close())
}
