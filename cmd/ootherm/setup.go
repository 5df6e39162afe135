package main

import (
	"os"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/configpath"
	"example.com/ootherm/cmd/ootherm/internal/setup"
	"github.com/spf13/cobra"
)

func setupCommand() *cobra.Command {
	var o setup.Options
	c := &cobra.Command{
		Use:   "setup",
		Short: "Ask a few questions and write a configuration",
		Long: `Ask a few questions (units, places, species, probes, senders of alarms, the first
dam, box and eggs) and write a configuration with comments, which check accepts. An
existing file is never written over.

With --next-season the configuration of the last season is copied with a new data
folder. The new book begins with the dams that are not retired and the probes'
calibrations. The last season stays as it is.`,
		Example: "  sudo ootherm setup\n  sudo ootherm setup --config /etc/ootherm/2027.toml --next-season /etc/ootherm/ootherm.toml",
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			o.Build, o.In, o.Out, o.Now = build(), cmd.InOrStdin(), wrapped(cmd.OutOrStdout()), time.Now
			o.Sudo = os.Getenv("SUDO_USER")
			return setup.Run(cmd.Context(), o)
		},
	}
	c.Flags().StringVar(&o.Config, "config", configpath.New(), "the file to write (TOML); default: $OOTHERM_CONFIG, else "+configpath.Packaged+" for root where the package is installed, else your own")
	c.Flags().Lookup("config").DefValue = ""
	c.Flags().StringVar(&o.Last, "next-season", "", "the last season's configuration, whose dams are carried over")
	placeFlags(c, &o.Places)
	return c
}
