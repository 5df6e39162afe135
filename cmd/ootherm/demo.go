package main

import (
	"fmt"
	"log/slog"

	"example.com/ootherm/cmd/ootherm/internal/daemon"
	"github.com/spf13/cobra"
)

func demoCommand() *cobra.Command {
	var listen, data string
	c := &cobra.Command{
		Use:   "demo",
		Short: "Show an invented season on this machine",
		Long: `Show an invented season: half a year of a shelf and an incubator, clutches of
several dams, hatchlings, a power cut, and a heater that has just failed. It starts
in about ten seconds, listens on this machine alone, and needs no configuration.
Its data is deleted at Ctrl-C unless --data is given.`,
		Example: "  ootherm demo\n  ootherm demo --listen 127.0.0.1:8090 --data season",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			log := slog.New(slog.NewTextHandler(cmd.ErrOrStderr(), nil))
			return daemon.Demo(cmd.Context(), listen, data, build(), log, func(address string) {
				fmt.Fprintf(cmd.OutOrStdout(), "The egg room is at http://%s (Ctrl-C ends it)\n", address)
			})
		},
	}
	c.Flags().StringVar(&listen, "listen", "127.0.0.1:8080", "where to listen, on this machine")
	c.Flags().StringVar(&data, "data", "", "keep the data in this folder")
	return c
}
