package main

import (
	"log/slog"
	"os/signal"
	"syscall"

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
			signal.Ignore(syscall.SIGPIPE) // a reader of the log that ends does not end the station
			log := slog.New(slog.NewTextHandler(cmd.ErrOrStderr(), nil))
			return daemon.Run(cmd.Context(), config, build(), log)
		},
	}
	configFlag(c.Flags(), &config)
	return c
}
