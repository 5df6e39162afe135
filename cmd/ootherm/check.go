package main

import (
	"time"

	"example.com/ootherm/cmd/ootherm/internal/check"
	"github.com/spf13/cobra"
)

func checkCommand() *cobra.Command {
	var config, send string
	c := &cobra.Command{
		Use:     "check",
		Short:   "Show every fault of the configuration, and what to think of",
		Example: "  ootherm check\n  ootherm check --send mail",
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			out := wrapped(cmd.OutOrStdout())
			if cmd.Flags().Changed("send") {
				return check.Send(cmd.Context(), out, config, send, time.Now)
			}
			if err := check.Configuration(out, config); err != nil {
				return err
			}
			if err := check.Coverage(cmd.Context(), out, config, build()); err != nil {
				return err
			}
			if err := check.Copies(cmd.Context(), out, config, build()); err != nil {
				return err
			}
			return check.Reach(cmd.Context(), out, config)
		},
	}
	configFlag(c.Flags(), &config)
	c.Flags().StringVar(&send, "send", "", "have the running station, else this program, send a test message by the sender of this name")
	return c
}
