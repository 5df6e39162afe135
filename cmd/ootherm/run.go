package main

import (
	"os/signal"
	"syscall"

	"example.com/ootherm/cmd/ootherm/internal/daemon"
	"example.com/ootherm/cmd/ootherm/internal/logging"
	"github.com/spf13/cobra"
)

func runCommand() *cobra.Command {
	var config, level string
	c := &cobra.Command{
		Use:     "run",
		Short:   "Run the station",
		Example: "  ootherm run",
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			least, err := logging.Parse(level)
			if err != nil {
				return err
			}
			signal.Ignore(syscall.SIGPIPE) // a reader of the log that ends does not end the station
			return daemon.Run(cmd.Context(), config, build(), logging.New(cmd.ErrOrStderr(), least))
		},
	}
	configFlag(c.Flags(), &config)
	c.Flags().StringVar(&level, "log-level", "info", "leave out of the log what is less: critical, error, warning, notice, info, debug")
	return c
}
