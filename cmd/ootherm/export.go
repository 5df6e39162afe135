package main

import (
	"errors"
	"fmt"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/client"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"github.com/spf13/cobra"
)

func exportCommand() *cobra.Command {
	var config, probe, from, to string
	var table bool
	c := &cobra.Command{
		Use:   "export",
		Short: "Print the book, or a probe's readings",
		Long: `Print the book as JSON lines, or a probe's readings as CSV in the form that
replay reads. With --csv either is a table for a spreadsheet. The running station is asked; where none runs, its files are read.`,
		Example: `  ootherm export > book.jsonl
  ootherm export --probe shelf --from 2026-05-01T00:00:00Z > shelf.csv
  ootherm export --csv --probe shelf > spreadsheet.csv`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if probe == "" && (cmd.Flags().Changed("from") || cmd.Flags().Changed("to")) {
				return usererr.Usage(errors.New("export: --from and --to are of a probe's readings: name it with --probe; the book is always whole"))
			}
			first, last := time.Unix(0, 0), time.Now().Add(24*time.Hour)
			for _, f := range []struct {
				name, text string
				into       *time.Time
			}{{"from", from, &first}, {"to", to, &last}} {
				if f.text == "" {
					continue
				}
				t, err := time.Parse(time.RFC3339, f.text)
				if err != nil {
					return usererr.Usage(fmt.Errorf("--%s: %q is not a time such as 2026-06-01T00:00:00Z", f.name, f.text))
				}
				*f.into = t
			}
			c, err := client.Dial(cmd.Context(), config, build())
			if err != nil {
				return err
			}
			defer c.Close()
			if table && probe == "" {
				return c.BookCSV(cmd.Context(), cmd.OutOrStdout())
			}
			if probe == "" {
				return c.WriteBook(cmd.Context(), cmd.OutOrStdout())
			}
			return c.Readings(cmd.Context(), cmd.OutOrStdout(), probe, first, last, table)
		},
	}
	configFlag(c.Flags(), &config)
	c.Flags().BoolVar(&table, "csv", false, "a table for a spreadsheet: its times are those of the station's clock on the wall")
	c.Flags().StringVar(&probe, "probe", "", "a probe's readings instead of the book")
	c.Flags().StringVar(&from, "from", "", "of readings: not before this time (RFC 3339)")
	c.Flags().StringVar(&to, "to", "", "of readings: before this time (RFC 3339)")
	return c
}
