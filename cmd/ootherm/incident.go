package main

import (
	"bytes"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/client"
	"github.com/spf13/cobra"
)

func incidentCommand() *cobra.Command {
	var config, from, to, zone string
	var asJSON bool
	c := &cobra.Command{
		Use:   "incident",
		Short: "Look back at hours that went wrong",
		Long: `Look back at a span of time: the highest and lowest temperature of each zone, how
long it was beyond each limit, the gaps in the readings, the alarms, how far along
each clutch was, what it felt, and how that moved its hatch. The command does not
say whether the eggs live. Times are local to the station, or have a time zone.
Without times it shows the last day.`,
		Example: `  ootherm incident --from 2026-05-12T08:00 --to 2026-05-12T18:00
  ootherm incident --from 2026-05-12T08:00:00Z --zone room --json`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			c, err := client.Dial(cmd.Context(), config, build())
			if err != nil {
				return err
			}
			defer c.Close()
			var b bytes.Buffer
			if err := c.Incident(cmd.Context(), &b, from, to, zone); err != nil {
				return inFlags(err, "from", "to", "zone")
			}
			if asJSON {
				_, err = cmd.OutOrStdout().Write(b.Bytes())
				return err
			}
			return client.DescribeIncident(cmd.OutOrStdout(), c.Reader(), b.Bytes(), time.Now())
		},
	}
	configFlag(c.Flags(), &config)
	c.Flags().StringVar(&from, "from", "", "the beginning, like 2026-05-12T08:00; default: a day before the end")
	c.Flags().StringVar(&to, "to", "", "the end; default: now")
	c.Flags().StringVar(&zone, "zone", "", "only this zone")
	c.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	completes(c, "zone", &config, zonesOf)
	return c
}
