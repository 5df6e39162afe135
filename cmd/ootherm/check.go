package main

import (
	"github.com/spf13/cobra"

	"example.com/ootherm/cmd/ootherm/internal/app"
)

func checkCommand() *cobra.Command {
	var config string
	c := &cobra.Command{
		Use:     "check",
		Short:   "Say all that is wrong with the configuration, and what to think of",
		Example: "  ootherm check --config /etc/ootherm/ootherm.toml",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return app.Check(cmd.OutOrStdout(), config)
		},
	}
	c.Flags().StringVar(&config, "config", "", "the station's configuration (TOML)")
	need(c, "config")
	return c
}
