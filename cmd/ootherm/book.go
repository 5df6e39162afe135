package main

import (
	"bytes"
	"fmt"
	"io"
	"os"

	"example.com/ootherm/cmd/ootherm/internal/client"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
	"github.com/spf13/cobra"
)

func bookCommand() *cobra.Command {
	var config string
	c := &cobra.Command{
		Use:   "book",
		Short: "Write into the breeder's book, or read it",
		Example: `  ootherm book note found --config ootherm.toml --dam Sorrel --eggs 2 --box B1
  ootherm book undo --config ootherm.toml KEY
  ootherm book add --config ootherm.toml entries.jsonl
  ootherm book list --config ootherm.toml`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return usererr.Usage(fmt.Errorf("book needs note, undo, add, list or medium; see ootherm book --help"))
		},
	}
	c.PersistentFlags().StringVar(&config, "config", "", "the station's configuration (TOML)")
	add := &cobra.Command{
		Use:   "add [FILE]",
		Short: "Note entries: the whole file, or nothing of it",
		Long: `Note entries, one JSON object a line, from a file or standard input: all of
them, or, if anything is wrong with one, none. What is wrong is told of every
line. An entry that is in the book already is not added twice.`,
		Example: `  ootherm book add --config ootherm.toml entries.jsonl
  echo '{"key":"a1","at":"2026-04-02T19:00:00Z","entry":"dam","dam":"Sorrel","profile":"crested gecko"}' | ootherm book add --config ootherm.toml`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			lines, name, err := bookLines(cmd.InOrStdin(), args)
			if err != nil {
				return err
			}
			c, err := client.Dial(cmd.Context(), config, build())
			if err != nil {
				return err
			}
			defer c.Close()
			var before bytes.Buffer
			if err := c.WriteBook(cmd.Context(), &before); err != nil {
				return err
			}
			if err := c.Note(cmd.Context(), lines); err != nil {
				return usererr.Reword(err, name+": nothing was noted:\n"+err.Error())
			}
			said, err := added(lines, &before)
			if err != nil {
				return err
			}
			_, err = fmt.Fprintln(cmd.ErrOrStderr(), said)
			return err
		},
	}
	list := &cobra.Command{
		Use:     "list",
		Short:   "Print the book's entries, one JSON object a line",
		Example: "  ootherm book list --config ootherm.toml",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			c, err := client.Dial(cmd.Context(), config, build())
			if err != nil {
				return err
			}
			defer c.Close()
			return c.WriteBook(cmd.Context(), cmd.OutOrStdout())
		},
	}
	need(add, "config")
	need(list, "config")
	c.AddCommand(noteCommand(&config), undoCommand(&config), add, list, mediumCommand(&config))
	return c
}

// added says how many of a file's entries are new beside a book.
func added(lines []byte, before io.Reader) (string, error) {
	had, err := book.ReadAll(before)
	if err != nil {
		return "", err
	}
	entries, err := book.ReadAll(bytes.NewReader(lines))
	if err != nil {
		return "", err
	}
	there := map[string]bool{}
	for _, e := range had {
		there[e.Key] = true
	}
	old := 0
	for _, e := range entries {
		if there[e.Key] {
			old++
		}
		there[e.Key] = true
	}
	switch fresh := len(entries) - old; {
	case len(entries) == 0:
		return "nothing new: there is no entry in it", nil
	case fresh == 0:
		return fmt.Sprintf("nothing new: all %d entries were in the book already", old), nil
	case old == 0:
		return "noted: " + words.Count(fresh, "new entry", "new entries"), nil
	default:
		return fmt.Sprintf("noted: %s; %d more were in the book already", words.Count(fresh, "new entry", "new entries"), old), nil
	}
}

func bookLines(in io.Reader, args []string) (lines []byte, name string, err error) {
	if len(args) == 0 || args[0] == "-" {
		lines, err = io.ReadAll(in)
		return lines, "standard input", err
	}
	lines, err = os.ReadFile(args[0])
	return lines, args[0], err
}
