package main

import (
	"time"

	"example.com/ootherm/cmd/ootherm/internal/client"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"github.com/spf13/cobra"
)

func rehearseCommand() *cobra.Command {
	var config string
	var asJSON bool
	c := &cobra.Command{
		Use:   "rehearse [ZONE...]",
		Short: "Lay heater failures over a zone's last three weeks: would it have called you?",
		Long: `Lay heater failures over a zone's own last three weeks, with its own bands: heaters
that die at each low limit, heaters that stay on at each high one. The command says of how
many the early warning would have told before the limit, how far ahead, how often it warns
falsely, and how often the readings themselves passed the limit. So a band shows its price. Without a zone it rehearses all of them.`,
		Example: `  ootherm rehearse
  ootherm rehearse room --json`,
		RunE: func(cmd *cobra.Command, zones []string) error {
			c, err := client.Dial(cmd.Context(), config, build())
			if err != nil {
				return err
			}
			defer c.Close()
			if len(zones) == 0 {
				n, err := c.Now(cmd.Context())
				if err != nil {
					return err
				}
				for _, z := range n.Zones {
					zones = append(zones, z.Zone)
				}
			}
			all := []snapshot.Rehearsal{}
			for _, z := range zones {
				x, err := c.Rehearsal(cmd.Context(), z)
				if err != nil {
					return err
				}
				all = append(all, x)
			}
			if asJSON {
				return writeJSON(cmd.OutOrStdout(), struct {
					Zones []snapshot.Rehearsal `json:"zones"`
				}{all})
			}
			return client.DescribeRehearsals(wrapped(cmd.OutOrStdout()), c.Reader(), all, time.Now())
		},
	}
	configFlag(c.Flags(), &config)
	c.ValidArgsFunction = completeFrom(&config, zonesOf)
	c.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return c
}
