package main

import (
	"fmt"
	"runtime"

	"github.com/spf13/cobra"
)

func versionCommand() *cobra.Command {
	return &cobra.Command{
		Use:     "version",
		Short:   "Print the version",
		Example: "  ootherm version",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			_, err := fmt.Fprintf(cmd.OutOrStdout(), "ootherm %s %s/%s %s\n", version, runtime.GOOS, runtime.GOARCH, runtime.Version())
			return err
		},
	}
}
