package main

import (
	"log/slog"

	"example.com/ootherm/cmd/ootherm/internal/daemon"
	"github.com/spf13/cobra"
)

func runCommand() *cobra.Command {
	var config string
	c := &cobra.Command{
		Use:     "run",
		Short:   "Run the station",
		Example: "  ootherm run --config /etc/ootherm/ootherm.toml",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			log := slog.New(slog.NewTextHandler(cmd.ErrOrStderr(), nil))
			return daemon.Run(cmd.Context(), config, build(), log)
		},
	}
	c.Flags().StringVar(&config, "config", "", "the station's configuration (TOML)")
	need(c, "config")
	return c
}
