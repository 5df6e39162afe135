package main

import (
	"errors"
	"os"

	"example.com/ootherm/cmd/ootherm/internal/configpath"
	"example.com/ootherm/cmd/ootherm/internal/probes"
	"example.com/ootherm/sensor/inventory"
	"github.com/spf13/cobra"
)

func probesCommand() *cobra.Command {
	var o probes.Options
	c := &cobra.Command{
		Use:   "probes",
		Short: "Find the probes that answer, read each, and print what to paste",
		Long: `Look for probes on the I2C buses, on 1-Wire and in the kernel's own sensors. The
command reads each probe three times, and prints a [[probe]] to paste for each
that is not in the configuration. For each fault it says what mends it. On I2C it
only asks the addresses of parts that this program reads; it skips the buses of
monitors and of a mainboard.

A running station owns the buses: then the station's probes are shown.

The exit code is 0 where every found probe gives its values. It is 1 where no
probe was found, one of the configuration does not answer, or one gives no value.

--watch reads until Ctrl-C: hold a probe in your hand to see which one it is.`,
		Example: "  ootherm probes\n  ootherm probes --watch",
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			o.Out, o.Messages = cmd.OutOrStdout(), cmd.ErrOrStderr()
			if _, err := os.Lstat(o.Config); errors.Is(err, os.ErrNotExist) && !cmd.Flags().Changed("config") && os.Getenv(configpath.Variable) == "" {
				o.Config = "" // there is none before setup
			}
			return probes.Show(cmd.Context(), o)
		},
	}
	configFlag(c.Flags(), &o.Config)
	c.Flags().BoolVar(&o.Watch, "watch", false, "go on reading until Ctrl-C")
	c.Flags().BoolVar(&o.JSON, "json", false, "print JSON")
	placeFlags(c, &o.Places)
	return c
}

// placeFlags adds the flags that say where to look for probes.
func placeFlags(c *cobra.Command, p *inventory.Places) {
	c.Flags().StringVar(&p.I2C, "i2c-dir", "", "where the I2C buses are (default /dev)")
	c.Flags().StringVar(&p.W1, "w1-dir", "", "where the kernel lists 1-Wire parts (default /sys/bus/w1/devices)")
	c.Flags().StringVar(&p.IIO, "iio-dir", "", "where the kernel lists IIO devices (default /sys/bus/iio/devices)")
	c.Flags().StringVar(&p.Hwmon, "hwmon-dir", "", "where the kernel lists hardware monitors (default /sys/class/hwmon)")
}
