package main

import (
	"fmt"
	"slices"

	"example.com/ootherm/cmd/ootherm/internal/client"
	"example.com/ootherm/cmd/ootherm/internal/label"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"github.com/spf13/cobra"
)

func labelsCommand() *cobra.Command {
	var config, out string
	var boxes []string
	var dpi int
	c := &cobra.Command{
		Use:   "labels",
		Short: "Draw the labels of boxes, for a label printer",
		Long: `Draw a label of 50 x 25 mm for each box in use, or for the named boxes, as a PNG
of one bit a dot. A label has the box's name, a QR code that opens its page, and
its clutches. It has no due date, because that changes. The command prints the
names of the files. The page /labels prints the same labels from a browser.`,
		Example: `  ootherm labels --out labels
  ootherm labels --box B1,B2 --dpi 300 --out labels`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if !slices.Contains(label.Resolutions(), dpi) {
				return usererr.Usage(fmt.Errorf("--dpi %d: label printers have %s", dpi, label.ResolutionList()))
			}
			files, err := client.Labels(cmd.Context(), config, build(), boxes, dpi, out)
			if err != nil {
				return err
			}
			for _, f := range files {
				if _, err := fmt.Fprintln(cmd.OutOrStdout(), f); err != nil {
					return err
				}
			}
			return nil
		},
	}
	configFlag(c.Flags(), &config)
	c.Flags().StringSliceVar(&boxes, "box", nil, "these boxes alone, like B1,B2")
	c.Flags().StringVar(&out, "out", "", "the folder for the pictures; it is created if it does not exist")
	c.Flags().IntVar(&dpi, "dpi", label.Resolutions()[0], "dots per inch of the printer: "+label.ResolutionList())
	completes(c, "box", &config, boxesOf)
	need(c, "out")
	return c
}
