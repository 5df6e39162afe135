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
over damp salts; show it settle, reckon what it is off by, and write that into
the book. From then on, or from an earlier day, all that the probe gave is
corrected where it is used; the readings themselves stay as they were. A
calibration takes the place of the configuration's offset.

The running station reads the probe; when none runs, it is read from here.`,
		Example: "  ootherm calibrate dummy-box --config /etc/ootherm/ootherm.toml",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			return calibrate.Run(cmd.Context(), calibrate.Options{
				Config: config, Probe: args[0], Build: build(), In: cmd.InOrStdin(), Out: cmd.OutOrStdout(), Now: time.Now,
			})
		},
	}
	c.Flags().StringVar(&config, "config", "", "the station's configuration (TOML)")
	c.ValidArgsFunction = completeFrom(&config, probesOf)
	need(c, "config")
	return c
}
