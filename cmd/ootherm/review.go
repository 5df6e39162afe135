package main

import (
	"bytes"

	"example.com/ootherm/cmd/ootherm/internal/client"
	"github.com/spf13/cobra"
)

func reviewCommand() *cobra.Command {
	var config, from, to, dam string
	var asJSON bool
	c := &cobra.Command{
		Use:   "review",
		Short: "Print the results of a season for each dam",
		Long: `Print the results of a season: eggs laid, fertile, hatched and alive at 14 days, for
the room and for each dam, with 95 % intervals. A clutch belongs to the day on
which it was found. Without days it is the year so far. The days of clutches are
compared with those expected from the heat they felt.`,
		Example: `  ootherm review --from 2026-01-01 --to 2026-09-30
  ootherm review --dam Sorrel`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			c, err := client.Dial(cmd.Context(), config, build())
			if err != nil {
				return err
			}
			defer c.Close()
			var b bytes.Buffer
			if err := c.Review(cmd.Context(), &b, from, to, dam); err != nil {
				return inFlags(err, "from", "to", "dam")
			}
			if asJSON {
				_, err = cmd.OutOrStdout().Write(b.Bytes())
				return err
			}
			return client.DescribeReview(cmd.OutOrStdout(), b.Bytes(), dam)
		},
	}
	configFlag(c.Flags(), &config)
	c.Flags().StringVar(&from, "from", "", "the first day, like 2026-01-01")
	c.Flags().StringVar(&to, "to", "", "the last day")
	c.Flags().StringVar(&dam, "dam", "", "print everything about one dam")
	c.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	completes(c, "dam", &config, damsOf)
	return c
}
