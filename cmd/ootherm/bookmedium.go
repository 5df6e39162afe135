package main

import (
	"errors"
	"fmt"

	"example.com/ootherm/cmd/ootherm/internal/client"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/thermal/book/husbandry"
	"github.com/spf13/cobra"
)

func mediumCommand(config *string) *cobra.Command {
	var boxes []string
	var dry, ratio float64
	var asJSON bool
	c := &cobra.Command{
		Use:   "medium",
		Short: "Print how much water each box lost, and what to add",
		Long: `Print how much water each box lost by its weighings (without the eggs that were
taken out), how much to add, how fast it dries, and when to weigh it next. With
--dry and --ratio, print how much water a fresh medium takes.`,
		Example: `  ootherm book medium
  ootherm book medium --box B1 --json
  ootherm book medium --dry 40 --ratio 0.8`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			fresh := cmd.Flags().Changed("dry") || cmd.Flags().Changed("ratio")
			switch {
			case fresh && !(dry > 0 && ratio > 0):
				return usererr.Usage(errors.New("--dry and --ratio go together, each above 0: grams, and water to dry medium by mass"))
			case fresh && asJSON:
				return writeJSON(cmd.OutOrStdout(), map[string]float64{"dry_g": dry, "ratio": ratio, "water_g": husbandry.WaterFor(dry, ratio)})
			case fresh:
				_, err := fmt.Fprintf(cmd.OutOrStdout(), "%g g of water (the same in ml)\n", husbandry.WaterFor(dry, ratio))
				return err
			}
			c, err := client.Dial(cmd.Context(), *config, build())
			if err != nil {
				return err
			}
			defer c.Close()
			n, err := c.Now(cmd.Context())
			if err != nil {
				return err
			}
			media, err := client.Media(n, boxes)
			if err != nil {
				return err
			}
			if asJSON {
				return writeJSON(cmd.OutOrStdout(), media)
			}
			return client.DescribeMedia(cmd.OutOrStdout(), media, n.At, c.Reader())
		},
	}
	c.Flags().StringSliceVar(&boxes, "box", nil, "these boxes alone, like B1,B2")
	completes(c, "box", config, boxesOf)
	c.Flags().Float64Var(&dry, "dry", 0, "grams of dry medium, for a fresh one")
	c.Flags().Float64Var(&ratio, "ratio", 0, "water to dry medium by mass, for a fresh one")
	c.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return c
}
