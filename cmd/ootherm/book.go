package main

import (
	"fmt"
	"io"
	"os"

	"example.com/ootherm/cmd/ootherm/internal/client"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"github.com/spf13/cobra"
)

func bookCommand() *cobra.Command {
	var config string
	c := &cobra.Command{
		Use:   "book",
		Short: "Write into the breeder's book, or read it",
		Example: `  ootherm book note found --dam Sorrel --eggs 2 --box B1
  ootherm book undo KEY
  ootherm book add entries.jsonl
  ootherm book list`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return usererr.Usage(fmt.Errorf("book needs note, undo, add, list or medium; see ootherm book --help"))
		},
	}
	configFlag(c.PersistentFlags(), &config)
	add := &cobra.Command{
		Use:   "add [FILE]",
		Short: "Note entries: the whole file, or nothing of it",
		Long: `Note entries, one JSON object a line, from a file or standard input: all of
them, or, if anything is wrong with one, none. What is wrong is told of every
line. An entry that is in the book already is not added twice. The file - is
standard input.`,
		Example: `  ootherm book add entries.jsonl
  echo '{"key":"a1","at":"2026-04-02T19:00:00Z","entry":"dam","dam":"Sorrel","profile":"crested gecko"}' | ootherm book add`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			lines, name, err := bookLines(cmd.InOrStdin(), args)
			if err != nil {
				return err
			}
			c, err := client.DialBook(cmd.Context(), config, build())
			if err != nil {
				return err
			}
			defer c.Close()
			report, err := c.Add(cmd.Context(), lines, name)
			if err != nil {
				return err
			}
			_, err = fmt.Fprintln(cmd.ErrOrStderr(), report)
			return err
		},
	}
	list := &cobra.Command{
		Use:     "list",
		Short:   "Print the book's entries, one JSON object a line",
		Example: "  ootherm book list",
		Args:    noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			c, err := client.DialBook(cmd.Context(), config, build())
			if err != nil {
				return err
			}
			defer c.Close()
			return c.WriteBook(cmd.Context(), cmd.OutOrStdout())
		},
	}
	c.AddCommand(noteCommand(&config), undoCommand(&config), add, list, mediumCommand(&config))
	return c
}

func bookLines(in io.Reader, args []string) (lines []byte, name string, err error) {
	if len(args) == 0 || args[0] == "-" {
		lines, err = io.ReadAll(in)
		return lines, "standard input", err
	}
	lines, err = os.ReadFile(args[0])
	return lines, args[0], err
}
