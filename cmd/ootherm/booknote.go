package main

import (
	"bytes"
	"cmp"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"net/url"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/client"
	"example.com/ootherm/cmd/ootherm/internal/forms"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/thermal/book"
	"github.com/spf13/cobra"
)

// noteCommand has a command for each form of the page, with a flag for each of
// its fields.
func noteCommand(config *string) *cobra.Command {
	c := &cobra.Command{
		Use:   "note FORM",
		Short: "Note one thing, as the page's forms do",
		Long: `Note one thing, as the page's forms do: with the same questions, and the same
answers where none is given. Eggs found count as laid since the dam's last look
and go into the next free slots.`,
		Example: `  ootherm book note found --config ootherm.toml --dam Sorrel --eggs 2 --box B1
  ootherm book note weighed --config ootherm.toml --box B1 --total-g 108.5 --at 2026-06-12T08:30
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

// flag is what a field is called on the command line.
func flag(f forms.Field) string {
	if f.Name == "newbox" {
		return "box"
	}
	return strings.ReplaceAll(f.Name, "_", "-")
}

func formCommand(f forms.Form, config *string) *cobra.Command {
	var at, key string
	var asJSON, sure bool
	c := &cobra.Command{
		Use:   f.Kind,
		Short: f.Title,
		Long:  strings.TrimSpace(f.Title + ". " + f.Hint),
		Args:  cobra.NoArgs,
	}
	example := "  ootherm book note " + f.Kind + " --config ootherm.toml"
	for _, x := range f.Fields {
		if x.Sort == forms.Many {
			c.Flags().StringArray(flag(x), nil, help(x))
		} else {
			c.Flags().String(flag(x), "", help(x))
		}
		if x.Sort == forms.Many || x.Must && x.Usual == "" {
			example += " --" + flag(x) + " " + strings.ToUpper(flag(x))
		}
		_ = c.RegisterFlagCompletionFunc(flag(x), completeField(x, config)) // fails for a flag that is not there, and it is
	}
	c.Example = example
	c.Flags().StringVar(&at, "at", "", "when, like 2026-06-12T08:30 where the station is; default: now")
	c.Flags().StringVar(&key, "key", "", "a key of your own: what is noted twice under one key is noted once")
	c.Flags().BoolVar(&asJSON, "json", false, "print the entries, one JSON object a line")
	if f.Asks() {
		c.Flags().BoolVar(&sure, "sure", false, "note also what is hardly meant, like a hatchling of 1900 g")
	}
	need(c, "config")
	c.RunE = func(cmd *cobra.Command, _ []string) error {
		client, err := client.Dial(cmd.Context(), *config, build())
		if err != nil {
			return err
		}
		defer client.Close()
		when := time.Now().UTC().Truncate(time.Second)
		if at != "" {
			place := cmp.Or(client.Reader().Place, time.UTC)
			if when, err = forms.Time(at, place); err != nil {
				return usererr.Usage(err)
			}
		}
		desk, err := client.Desk(cmd.Context(), when)
		if err != nil {
			return err
		}
		sent := desk.Opened(f)
		for _, x := range f.Fields {
			switch name := flag(x); {
			case !cmd.Flags().Changed(name):
			case x.Sort == forms.Many:
				sent[x.Name], err = cmd.Flags().GetStringArray(name)
			default:
				sent[x.Name] = make([]string, 1)
				sent[x.Name][0], err = cmd.Flags().GetString(name)
			}
			if err != nil {
				return err
			}
		}
		if err := lacking(f, desk, sent); err != nil {
			return err
		}
		entries, err := f.Entries(cmp.Or(key, "c-"+strings.ToLower(rand.Text()[:16])), when, client.Reader().Units, sent)
		if err != nil {
			return usererr.Usage(err)
		}
		if asked := desk.Doubts(entries); len(asked) > 0 && !sure {
			return usererr.New(strings.Join(append(asked, "Nothing was noted. If it is right, say so with --sure."), "\n"))
		}
		if err := noteAll(cmd, client, f, entries, asJSON); err != nil {
			return err
		}
		e := entries[0]
		_, err = fmt.Fprintf(cmd.ErrOrStderr(), "Noted: %s, %s. To undo it: ootherm book undo --config %s %s\n", forms.Said(e), client.Reader().When(e.At, time.Now()), *config, e.Key)
		return err
	}
	return c
}

func help(f forms.Field) string {
	text := strings.ToLower(f.Label[:1]) + f.Label[1:]
	switch f.Sort {
	case forms.Many:
		text += "; once for each"
	case forms.Difference:
		text += ", like 0.5F or -0.3C"
	}
	var values []string
	for _, o := range (forms.Desk{}).Options(f) {
		values = append(values, o.Value)
	}
	if len(values) > 0 && f.Other == "" {
		text += ": " + strings.Join(values, ", ")
	}
	if f.Usual != "" {
		text += "; default: " + f.Usual
	}
	return text
}

// lacking tells of a field that must be answered and was not.
func lacking(f forms.Form, d forms.Desk, sent url.Values) error {
	var all []string
	for _, x := range f.Fields {
		if !x.Must || sent.Get(x.Name) != "" {
			continue
		}
		text := "--" + flag(x)
		if x.Sort == forms.Pick {
			var values []string
			for _, o := range d.Options(x) {
				values = append(values, o.Value)
			}
			if text += " (" + strings.Join(values, ", ") + ")"; len(values) == 0 {
				text = "--" + flag(x) + " (" + strings.ToLower(x.None[:1]) + strings.TrimSuffix(x.None[1:], ".") + ")"
			}
		}
		all = append(all, text)
	}
	if len(all) == 0 {
		return nil
	}
	return usererr.Usage(errors.New("book note " + f.Kind + " needs " + strings.Join(all, " and ")))
}

// noteAll notes the entries of a form. What the book refuses is said by the form's
// flags, without the keys that no person chose.
func noteAll(cmd *cobra.Command, client *client.Client, f forms.Form, entries []book.Entry, asJSON bool) error {
	var lines bytes.Buffer
	if err := book.WriteJSON(&lines, slices.Values(entries)); err != nil {
		return err
	}
	if err := client.Note(cmd.Context(), lines.Bytes()); err != nil {
		said := []string{err.Error()}
		if faults := (book.Faults{}); errors.As(err, &faults) {
			said = f.Refused(faults, func(name string, x forms.Field) string {
				if x.Name != "" {
					name = flag(x)
				}
				return "--" + name
			})
		}
		return usererr.Reword(err, "nothing was noted: "+strings.Join(said, "\n"))
	}
	if asJSON {
		if _, err := cmd.OutOrStdout().Write(lines.Bytes()); err != nil {
			return err
		}
	}
	return nil
}

func undoCommand(config *string) *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "undo KEY",
		Short: "Undo what was noted under a key",
		Long: `Undo what was noted under a key, eggs found together with their places. Nothing is
taken out of the book: it says that the entry was undone. What depends on it must
be undone first. ootherm book list prints the keys.`,
		Example:           "  ootherm book undo --config ootherm.toml c-7k2m4q6w8e3r5t9y",
		Args:              cobra.ExactArgs(1),
		ValidArgsFunction: completeKeys(config),
		RunE: func(cmd *cobra.Command, args []string) error {
			client, err := client.Dial(cmd.Context(), *config, build())
			if err != nil {
				return err
			}
			defer client.Close()
			when := time.Now().UTC().Truncate(time.Second)
			desk, err := client.Desk(cmd.Context(), when)
			if err != nil {
				return err
			}
			e, by, ok := desk.Book.Entry(args[0])
			switch {
			case !ok:
				return fmt.Errorf("the book has no entry with the key %q; ootherm book list prints them", args[0])
			case by != "":
				return fmt.Errorf("%q is undone already", args[0])
			}
			if err := noteAll(cmd, client, forms.Form{}, forms.Undo(desk.Book, e.Key, "u-"+strings.ToLower(rand.Text()[:16]), when), asJSON); err != nil {
				return err
			}
			_, err = fmt.Fprintln(cmd.ErrOrStderr(), "Undone: "+forms.Said(e))
			return err
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print the entries, one JSON object a line")
	need(c, "config")
	return c
}

// asked is what the running station has before it, for the completion of a
// command; none starts one for that.
func asked(cmd *cobra.Command, config string) (forms.Desk, bool) {
	ctx, cancel := context.WithTimeout(cmd.Context(), 2*time.Second)
	defer cancel()
	client, err := client.DialRunning(ctx, config)
	if err != nil || client == nil {
		return forms.Desk{}, false
	}
	defer client.Close()
	desk, err := client.Desk(ctx, time.Now())
	return desk, err == nil
}

// completeField offers what may be chosen in a field.
func completeField(f forms.Field, config *string) cobra.CompletionFunc {
	return func(cmd *cobra.Command, _ []string, begun string) ([]cobra.Completion, cobra.ShellCompDirective) {
		desk, _ := asked(cmd, *config) // an empty one still knows what is the same everywhere
		var all []cobra.Completion
		for _, o := range desk.Options(f) {
			if o.Value != "" && strings.HasPrefix(o.Value, begun) {
				all = append(all, cobra.CompletionWithDesc(o.Value, o.Text))
			}
		}
		return all, cobra.ShellCompDirectiveNoFileComp
	}
}

// completeKeys offers what was noted last and may be undone.
func completeKeys(config *string) cobra.CompletionFunc {
	return func(cmd *cobra.Command, args []string, begun string) ([]cobra.Completion, cobra.ShellCompDirective) {
		desk, ok := asked(cmd, *config)
		if !ok || len(args) > 0 {
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
		const last = 20
		var all []cobra.Completion
		for _, e := range slices.Backward(slices.Collect(desk.Book.Arrived())) {
			_, by, _ := desk.Book.Entry(e.Key)
			if by != "" || e.Kind == book.KindVoid || forms.Part(desk.Book, e) || !strings.HasPrefix(e.Key, begun) {
				continue
			}
			if all = append(all, cobra.CompletionWithDesc(e.Key, forms.Said(e))); len(all) == last {
				break
			}
		}
		return all, cobra.ShellCompDirectiveNoFileComp | cobra.ShellCompDirectiveKeepOrder
	}
}
