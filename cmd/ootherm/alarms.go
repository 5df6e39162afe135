package main

import (
	"errors"
	"time"

	"example.com/ootherm/alert/panel"
	"example.com/ootherm/cmd/ootherm/internal/client"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"github.com/spf13/cobra"
)

func alarmsCommand() *cobra.Command {
	var config, acknowledge, quiet, off, on, who string
	var span time.Duration
	var asJSON bool
	c := &cobra.Command{
		Use:        "alarms",
		SuggestFor: []string{"status"},
		Short:      "Print the alarms, acknowledge one, or make it quiet for a while",
		Long: "Print the alarms with their keys. Acknowledge one, make one quiet for a while (which ends\n" +
			"by itself), or switch a zone off for work and on again. The running station is asked;\nwhere none runs, its files are changed.",
		Example: `  ootherm alarms
  ootherm alarms --acknowledge temperature-low.warning/room --who Ann
  ootherm alarms --quiet temperature-low.warning/room --for 1h
  ootherm alarms --off room`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) == 0 {
				return nil
			}
			return usererr.Usage(errors.New("alarms takes no word such as " + args[0] + "; to acknowledge one: ootherm alarms --acknowledge KEY"))
		},
		RunE: func(cmd *cobra.Command, _ []string) error {
			var a panel.Action
			actions := 0
			for flag, x := range map[string]panel.Action{
				"acknowledge": {Do: "acknowledge", Alarm: acknowledge}, "quiet": {Do: "shelve", Alarm: quiet},
				"off": {Do: "out-of-service", Zone: off}, "on": {Do: "in-service", Zone: on},
			} {
				if cmd.Flags().Changed(flag) {
					a, actions = x, actions+1
				}
			}
			switch {
			case actions > 1:
				return usererr.Usage(errors.New("alarms takes one of --acknowledge, --quiet, --off and --on at a time"))
			case actions == 1 && a.Alarm == "" && a.Zone == "":
				return usererr.Usage(errors.New("alarms: name the alarm by its key, or the zone; see ootherm alarms --help"))
			case cmd.Flags().Changed("for") && a.Do != "shelve":
				return usererr.Usage(errors.New("alarms: --for says how long --quiet lasts"))
			}
			c, err := client.Dial(cmd.Context(), config, build())
			if err != nil {
				return err
			}
			defer c.Close()
			if actions == 1 {
				a.Who = who
				if err := c.Act(cmd.Context(), a, span); err != nil {
					return err
				}
			}
			n, err := c.Now(cmd.Context())
			if err != nil {
				return err
			}
			if asJSON {
				return writeJSON(cmd.OutOrStdout(), n.Alarms)
			}
			return client.DescribeAlarms(cmd.OutOrStdout(), n, c.Reader())
		},
	}
	f := c.Flags()
	configFlag(f, &config)
	f.StringVar(&acknowledge, "acknowledge", "", "the key of an alarm that somebody has seen")
	f.StringVar(&quiet, "quiet", "", "the key of an alarm to make quiet for a while")
	f.DurationVar(&span, "for", time.Hour, "how long it is quiet, at most 24h")
	f.StringVar(&off, "off", "", "a zone to switch off for work")
	f.StringVar(&on, "on", "", "a zone to switch on again")
	f.StringVar(&who, "who", "", "who does it, for the record")
	f.BoolVar(&asJSON, "json", false, "print JSON: the alarms as in /api/v1/now")
	completes(c, "acknowledge", &config, alarmsOf)
	completes(c, "quiet", &config, alarmsOf)
	completes(c, "off", &config, zonesOf)
	completes(c, "on", &config, zonesOf)
	return c
}
