package main

import (
	"time"

	"example.com/ootherm/cmd/ootherm/internal/calibrate"
	"github.com/spf13/cobra"
)

func calibrateCommand() *cobra.Command {
	var config string
	c := &cobra.Command{
		Use:   "calibrate PROBE",
		Short: "Compare a probe with ice, a trusted thermometer or damp salts",
		Long: `Compare a probe with melting ice, with a thermometer you trust, or with the air
over damp salts. The command shows the readings until they settle, works out the
correction, and notes it in the book. The correction holds from now on, or from an
earlier day. The stored readings stay as they were. A calibration replaces the
offset of the configuration.

The running station reads the probe; where none runs, this command does.`,
		Example: "  ootherm calibrate dummy-box",
		Args:    oneArgument("the name of a probe"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return calibrate.Run(cmd.Context(), calibrate.Options{
				Config: config, Probe: args[0], Build: build(), In: cmd.InOrStdin(), Out: cmd.OutOrStdout(), Now: time.Now,
			})
		},
	}
	configFlag(c.Flags(), &config)
	c.ValidArgsFunction = completeFrom(&config, probesOf)
	return c
}
