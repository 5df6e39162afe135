package main

import (
	"fmt"
	"io"
	"runtime"

	"example.com/ootherm/cmd/ootherm/internal/licence"
	"github.com/spf13/cobra"
)

func versionCommand() *cobra.Command {
	var licences bool
	c := &cobra.Command{
		Use:   "version",
		Short: "Print the version, or the licences",
		Example: `  ootherm version
  ootherm version --licences`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if licences {
				_, err := io.WriteString(cmd.OutOrStdout(), licence.Text)
				return err
			}
			_, err := fmt.Fprintf(cmd.OutOrStdout(), "ootherm %s %s/%s %s\n", version, runtime.GOOS, runtime.GOARCH, runtime.Version())
			return err
		},
	}
	c.Flags().BoolVar(&licences, "licences", false, "print the licence of ootherm and of every module that is linked in")
	return c
}
