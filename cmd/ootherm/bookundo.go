package main

import (
	"fmt"

	"example.com/ootherm/cmd/ootherm/internal/client"
	"example.com/ootherm/cmd/ootherm/internal/forms"
	"github.com/spf13/cobra"
)

func undoCommand(config *string) *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "undo KEY",
		Short: "Undo what was noted under a key",
		Long: `Undo what was noted under a key, eggs found together with their places. Nothing is
taken out of the book: it says that the entry was undone. What depends on it must
be undone first. ootherm book list prints the keys.`,
		Example:           "  ootherm book undo c-7k2m4q6w8e3r5t9y",
		Args:              oneArgument("the key of an entry"),
		ValidArgsFunction: completeKeys(config),
		RunE: func(cmd *cobra.Command, args []string) error {
			c, err := client.DialBook(cmd.Context(), *config, build())
			if err != nil {
				return err
			}
			defer c.Close()
			e, voids, err := c.Undo(cmd.Context(), args[0])
			if err != nil {
				return err
			}
			if err := printEntries(cmd, voids, asJSON); err != nil {
				return err
			}
			_, err = fmt.Fprintln(cmd.ErrOrStderr(), "Undone: "+forms.Said(e))
			return err
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print the entries, one JSON object a line")
	return c
}

// completeKeys offers the newest entries that may be undone.
func completeKeys(config *string) cobra.CompletionFunc {
	return func(cmd *cobra.Command, args []string, begun string) ([]cobra.Completion, cobra.ShellCompDirective) {
		desk, ok := client.RunningDesk(cmd.Context(), *config)
		if !ok || len(args) > 0 {
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
		var all []cobra.Completion
		for _, e := range client.Undoable(desk.Book, begun) {
			all = append(all, cobra.CompletionWithDesc(e.Key, forms.Said(e)))
		}
		return all, cobra.ShellCompDirectiveNoFileComp | cobra.ShellCompDirectiveKeepOrder
	}
}
