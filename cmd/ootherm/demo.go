package main

import (
	"fmt"
	"log/slog"
	"net"
	"os"
	"os/user"

	"example.com/ootherm/cmd/ootherm/internal/daemon"
	"example.com/ootherm/cmd/ootherm/internal/logging"
	"github.com/spf13/cobra"
)

func demoCommand() *cobra.Command {
	var listen, data string
	c := &cobra.Command{
		Use:   "demo",
		Short: "Show an invented season on this machine",
		Long: `Show an invented season: half a year of a shelf and an incubator, clutches of
several dams, hatchlings, a power cut, and a heater that has just failed. The page is
there at once and shows how far the season is made, which takes from half a minute to
several minutes. It needs no configuration. With
--listen 0.0.0.0:8080 other machines can look at it, and write nothing. Its data is
deleted at Ctrl-C unless --data is given.`,
		Example: "  ootherm demo\n  ootherm demo --listen 127.0.0.1:8090 --data season",
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			log := logging.New(cmd.ErrOrStderr(), slog.LevelInfo)
			return daemon.Demo(cmd.Context(), listen, data, build(), log, func(address string) {
				fmt.Fprintf(cmd.OutOrStdout(), "The page is at http://%s; it shows how far the season is made. Ctrl-C ends the demo.\n", fromHere(address))
				fmt.Fprintln(cmd.OutOrStdout(), fromElsewhere(address, here()))
			})
		},
	}
	c.Flags().StringVar(&listen, "listen", "127.0.0.1:8080", "where to listen; 0.0.0.0 with a port lets other machines look")
	c.Flags().StringVar(&data, "data", "", "keep the data in this folder")
	return c
}

// thisMachine is how other machines call this one.
type thisMachine struct {
	user, name string
	addresses  []string // IPv4
}

// here gives the user, the host name and the addresses of this machine, as far as they are
// known.
func here() thisMachine {
	m := thisMachine{user: "USER", name: "HOST"}
	if u, err := user.Current(); err == nil {
		m.user = u.Username
	}
	if name, err := os.Hostname(); err == nil {
		m.name = name
	}
	m.addresses = daemon.NetworkAddresses()
	return m
}

// fromHere is the address of a page for a browser on this machine.
func fromHere(address string) string {
	if host, port, err := net.SplitHostPort(address); err == nil && net.ParseIP(host).IsUnspecified() {
		return net.JoinHostPort("127.0.0.1", port)
	}
	return address
}

// fromElsewhere says how to see a page of this machine from another one.
func fromElsewhere(address string, m thisMachine) string {
	host, port, err := net.SplitHostPort(address)
	if err != nil {
		return ""
	}
	ip := net.ParseIP(host)
	switch {
	case ip.IsLoopback():
		return fmt.Sprintf("From another machine: ssh -L %s:127.0.0.1:%s %s@%s, and there http://127.0.0.1:%s", port, port, m.user, m.name, port)
	case ip.IsUnspecified() && len(m.addresses) > 0:
		return "Other machines can look, and write nothing: http://" + net.JoinHostPort(m.addresses[0], port)
	}
	return "Other machines can look, and write nothing: http://" + address
}
