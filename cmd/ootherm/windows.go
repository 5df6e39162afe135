package main

import (
	"example.com/ootherm/cmd/ootherm/internal/client"
	"github.com/spf13/cobra"
)

func windowsCommand() *cobra.Command {
	var config string
	var asJSON bool
	c := &cobra.Command{
		Use:        "windows",
		SuggestFor: []string{"status"},
		Short:      "Print each clutch's hatch window",
		Long:       "Print each clutch's hatch window, the causes of its width, and what a window\nlacks with the command that mends it. The running station is asked; where none runs,\nits files are read.",
		Example: `  ootherm windows
  ootherm windows --json`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			c, err := client.Dial(cmd.Context(), config, build())
			if err != nil {
				return err
			}
			defer c.Close()
			n, err := c.Now(cmd.Context())
			if err != nil {
				return err
			}
			if asJSON {
				return writeJSON(cmd.OutOrStdout(), n.Boxes)
			}
			desk, err := c.Desk(cmd.Context(), n.At)
			if err != nil {
				return err
			}
			return client.DescribeBoxes(cmd.OutOrStdout(), n, c.Reader(), toConfig(config), desk.Needed())
		},
	}
	configFlag(c.Flags(), &config)
	c.Flags().BoolVar(&asJSON, "json", false, "print JSON: the boxes as in /api/v1/now")
	return c
}
