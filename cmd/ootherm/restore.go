package main

import (
	"example.com/ootherm/cmd/ootherm/internal/restore"
	"github.com/spf13/cobra"
)

func restoreCommand() *cobra.Command {
	var path string
	c := &cobra.Command{
		Use:   "restore SOURCE",
		Short: "Put a stopped station's data back from a backup, a book copy or an old card",
		Long: `Put the data of a station back after a loss. SOURCE is one of these:

  a backup            the book, the alarms and the windows
  a weekly book copy  the book alone; entries that are there are not added twice
  an old card's data folder, or the folder where the whole card is mounted
                      everything

The command checks the source first, and says what it found. Stop the station
before; a book copy can also be added while it runs. What is replaced is kept under
another name.`,
		Example: `  sudo systemctl stop ootherm
  sudo ootherm restore /media/stick/records-2026-06-01.db
  sudo ootherm restore /media/old-card
  sudo systemctl start ootherm`,
		Args: oneArgument("what to restore from: a backup, a copy of the book, or the data folder of an old card"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return restore.Run(cmd.Context(), restore.Options{Config: path, Source: args[0], Build: build(), Out: cmd.OutOrStdout()})
		},
	}
	configFlag(c.Flags(), &path)
	return c
}
