package main

import (
	"encoding/csv"
	"fmt"
	"os"
	"strconv"

	"example.com/ootherm/cmd/ootherm/internal/replay"
	"github.com/spf13/cobra"
)

func degreeDaysCommand() *cobra.Command {
	var e replay.Extremes
	var readings string
	var asJSON bool
	c := &cobra.Command{
		Use:   "degree-days",
		Short: "Sum the heat of a record that has only each day's minimum and maximum",
		Long: `Sum the heat between a base and an upper threshold over a table of daily minima
and maxima. The command lays a sine or a triangle through each day's extremes,
single or double, with a horizontal, vertical or intermediate cut-off (Zalom et
al. 1983, University of California Leaflet 21373). It is for records without finer
readings; a station's own readings do not need it.

Prints CSV: each day's degree-days and the sum so far, in the table's own unit.
Divide Fahrenheit degree-days by 1.8 for the Celsius ones that a profile takes.`,
		Example: `  ootherm degree-days --readings year.csv --fahrenheit --base 50F --upper 70F
  ootherm degree-days --readings year.csv --base 15C --upper 31C --method double-sine --cut-off vertical --json`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			file, err := os.Open(readings)
			if err != nil {
				return fmt.Errorf("the readings: %w", err)
			}
			defer file.Close()
			days, err := e.DegreeDays(file)
			if err != nil {
				return fmt.Errorf("%s: %w", readings, err)
			}
			if asJSON {
				return writeJSON(cmd.OutOrStdout(), days)
			}
			unit := "c"
			if e.Fahrenheit {
				unit = "f"
			}
			out := csv.NewWriter(cmd.OutOrStdout())
			_ = out.Write([]string{"date", "degree_days_" + unit, "so_far_" + unit}) // the writer keeps its error
			for _, d := range days {
				_ = out.Write([]string{d.Date, strconv.FormatFloat(d.DegreeDays, 'f', 3, 64), strconv.FormatFloat(d.SoFar, 'f', 3, 64)})
			}
			out.Flush()
			return out.Error()
		},
	}
	c.Flags().StringVar(&readings, "readings", "", "the table of daily extremes (CSV)")
	c.Flags().StringVar(&e.Base, "base", "", "the lower threshold with its unit, such as 50F or 10C")
	c.Flags().StringVar(&e.Upper, "upper", "", "the upper threshold with its unit")
	c.Flags().StringVar(&e.Method, "method", "single-sine", "single-sine, double-sine, single-triangle or double-triangle")
	c.Flags().StringVar(&e.CutOff, "cut-off", "horizontal", "above the upper threshold: horizontal, vertical or intermediate")
	c.Flags().StringVar(&e.DateColumn, "date-column", "date", "the column of the day")
	c.Flags().StringVar(&e.MinColumn, "min-column", "min", "the column of the day's minimum")
	c.Flags().StringVar(&e.MaxColumn, "max-column", "max", "the column of the day's maximum")
	c.Flags().BoolVar(&e.Fahrenheit, "fahrenheit", false, "the temperatures of the table are Fahrenheit")
	c.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	need(c, "readings", "base", "upper")
	return c
}
