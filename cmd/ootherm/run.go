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
		Example: "  ootherm run",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			log := slog.New(slog.NewTextHandler(cmd.ErrOrStderr(), nil))
			return daemon.Run(cmd.Context(), config, build(), log)
		},
	}
	configFlag(c.Flags(), &config)
	return c
}
