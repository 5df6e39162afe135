package main

import (
	"fmt"
	"text/tabwriter"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/daemon"
	"github.com/spf13/cobra"
)

func tokenCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "token",
		Short: "Let other programs read the metrics and the JSON: make, list and revoke tokens",
		Long: `Let other programs read the metrics and the JSON of a station whose page asks for a
passphrase. A token reads and never writes. Only its hash is stored. It holds at once,
and until it is revoked.`,
		Example: `  ootherm token make prometheus
  curl -H "Authorization: Bearer TOKEN" http://eggroom.local:8080/metrics`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	c.AddCommand(tokenMakeCommand(), tokenListCommand(), tokenRevokeCommand())
	return c
}

func tokenMakeCommand() *cobra.Command {
	var config string
	c := &cobra.Command{
		Use:   "make NAME",
		Short: "Make a token and print it once",
		Args:  oneArgument("the name of a token"),
		RunE: func(cmd *cobra.Command, args []string) error {
			f, err := daemon.ReadingTokens(config)
			if err != nil {
				return err
			}
			secret, err := f.Make(args[0], time.Now())
			if err != nil {
				return err
			}
			fmt.Fprintln(cmd.OutOrStdout(), secret)
			fmt.Fprintln(cmd.ErrOrStderr(), "This is the only time that the token is shown. Send it as Bearer, or as the password of any user.")
			return nil
		},
	}
	configFlag(c.Flags(), &config)
	return c
}

func tokenListCommand() *cobra.Command {
	var config string
	c := &cobra.Command{
		Use:   "list",
		Short: "List the tokens by name",
		Args:  noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			f, err := daemon.ReadingTokens(config)
			if err != nil {
				return err
			}
			all, err := f.List()
			if err != nil {
				return err
			}
			if len(all) == 0 {
				fmt.Fprintln(cmd.ErrOrStderr(), "There is no token.")
				return nil
			}
			w := tabwriter.NewWriter(cmd.OutOrStdout(), 0, 0, 2, ' ', 0)
			fmt.Fprintln(w, "name\tmade")
			for _, t := range all {
				fmt.Fprintf(w, "%s\t%s\n", t.Name, t.Made)
			}
			return w.Flush()
		},
	}
	configFlag(c.Flags(), &config)
	return c
}

func tokenRevokeCommand() *cobra.Command {
	var config string
	c := &cobra.Command{
		Use:   "revoke NAME",
		Short: "End a token: the next request with it is refused",
		Args:  oneArgument("the name of a token"),
		RunE: func(cmd *cobra.Command, args []string) error {
			f, err := daemon.ReadingTokens(config)
			if err != nil {
				return err
			}
			if err := f.Revoke(args[0]); err != nil {
				return err
			}
			fmt.Fprintf(cmd.ErrOrStderr(), "The token %s is revoked.\n", args[0])
			return nil
		},
	}
	configFlag(c.Flags(), &config)
	return c
}
