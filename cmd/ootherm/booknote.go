package main

import (
	"fmt"
	"io"
	"net/url"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/client"
	"example.com/ootherm/cmd/ootherm/internal/forms"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/bookfile"
	"github.com/spf13/cobra"
)

// noteCommand has a command for each form of the page, with a flag for each of
// its fields.
func noteCommand(config *string) *cobra.Command {
	c := &cobra.Command{
		Use:   "note FORM",
		Short: "Note one thing, as the page's forms do",
		Long: `Note one thing, as the page's forms do: with the same questions, and the same
answers where none is given. Eggs found count as laid since the dam's last look, or
within a week where none is noted, and go into the next free slots.`,
		Example: `  ootherm book note found --dam Sorrel --eggs 2 --box B1
  ootherm book note weighed --box B1 --total-g 108.5 --at 2026-06-12T08:30
  ootherm book note hatched --help`,
		RunE: func(_ *cobra.Command, args []string) error {
			var kinds []string
			for _, f := range forms.All() {
				kinds = append(kinds, f.Kind)
			}
			if len(args) > 0 {
				return usererr.Usage(fmt.Errorf("book note has no form %q; it has %s", args[0], strings.Join(kinds, ", ")))
			}
			return usererr.Usage(fmt.Errorf("book note needs a form: %s; see ootherm book note --help", strings.Join(kinds, ", ")))
		},
	}
	for _, f := range forms.All() {
		c.AddCommand(formCommand(f, config))
	}
	return c
}

func formCommand(f forms.Form, config *string) *cobra.Command {
	var at, key string
	var asJSON, sure bool
	c := &cobra.Command{
		Use:   f.Kind,
		Short: f.Title,
		Long:  strings.TrimSpace(f.Title + ". " + f.Hint),
		Args:  noArguments,
	}
	example := "  ootherm book note " + f.Kind
	for _, x := range f.Fields {
		if x.Sort == forms.Many {
			c.Flags().StringArray(client.Flag(x), nil, client.FlagHelp(x))
		} else {
			c.Flags().String(client.Flag(x), "", client.FlagHelp(x))
		}
		if x.Sort == forms.Many || x.Must && x.Usual == "" {
			example += " --" + client.Flag(x) + " " + strings.ToUpper(client.Flag(x))
		}
		_ = c.RegisterFlagCompletionFunc(client.Flag(x), completeField(x, config)) // fails for a flag that is not there, and it is
	}
	c.Example = example
	c.Flags().StringVar(&at, "at", "", "when, like 2026-06-12T08:30 where the station is; default: now")
	c.Flags().StringVar(&key, "key", "", "a key of your own: what is noted twice under one key is noted once")
	c.Flags().BoolVar(&asJSON, "json", false, "print the entries, one JSON object a line")
	if f.Asks() {
		c.Flags().BoolVar(&sure, "sure", false, "note also what is hardly meant, like a hatchling of 1900 g")
	}
	c.RunE = func(cmd *cobra.Command, _ []string) error {
		answers, err := answersOf(cmd, f)
		if err != nil {
			return err
		}
		c, err := client.Dial(cmd.Context(), *config, build())
		if err != nil {
			return err
		}
		defer c.Close()
		entries, err := c.NoteForm(cmd.Context(), client.Filled{Form: f, Answers: answers, At: at, Key: key, Sure: sure})
		if err != nil {
			return err
		}
		if err := printEntries(cmd, entries, asJSON); err != nil {
			return err
		}
		e := entries[0]
		_, err = fmt.Fprintf(cmd.ErrOrStderr(), "Noted: %s, %s. To undo it: ootherm book undo%s %s\n", forms.Said(e), c.Reader().When(e.At, time.Now()), toConfig(*config), e.Key)
		sayLaid(cmd.ErrOrStderr(), e, answers, c.Reader())
		return err
	}
	return c
}

// answersOf reads what the flags answer to a form.
func answersOf(cmd *cobra.Command, f forms.Form) (url.Values, error) {
	answers := url.Values{}
	for _, x := range f.Fields {
		var err error
		switch name := client.Flag(x); {
		case !cmd.Flags().Changed(name):
		case x.Sort == forms.Many:
			answers[x.Name], err = cmd.Flags().GetStringArray(name)
		default:
			answers[x.Name] = make([]string, 1)
			answers[x.Name][0], err = cmd.Flags().GetString(name)
		}
		if err != nil {
			return nil, err
		}
	}
	return answers, nil
}

// sayLaid says within which days a clutch counts as laid where nobody said it.
func sayLaid(w io.Writer, e book.Entry, answers url.Values, r words.Reader) {
	if e.Kind != book.KindClutch || answers.Get("since") != "" {
		return
	}
	fmt.Fprintf(w, "Counted as %s; --since says otherwise.\n", r.Laid(snapshot.Laid{Earliest: e.LaidAfter, Latest: e.LaidBy}))
}

// printEntries prints entries where --json asks for them.
func printEntries(cmd *cobra.Command, entries []book.Entry, asJSON bool) error {
	if !asJSON {
		return nil
	}
	return bookfile.WriteJSON(cmd.OutOrStdout(), slices.Values(entries))
}

// completeField offers what may be chosen in a field. Without a running station it
// still offers what every station has.
func completeField(f forms.Field, config *string) cobra.CompletionFunc {
	return func(cmd *cobra.Command, _ []string, begun string) ([]cobra.Completion, cobra.ShellCompDirective) {
		desk, _ := client.RunningDesk(cmd.Context(), *config)
		var all []cobra.Completion
		for _, o := range desk.Options(f) {
			if o.Value != "" && strings.HasPrefix(o.Value, begun) {
				all = append(all, cobra.CompletionWithDesc(o.Value, o.Text))
			}
		}
		return all, cobra.ShellCompDirectiveNoFileComp
	}
}
