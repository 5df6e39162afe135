package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"example.com/ootherm/cmd/ootherm/internal/atomicfile"
	"example.com/ootherm/cmd/ootherm/internal/client"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"github.com/spf13/cobra"
	"golang.org/x/sys/unix"
)

func backupCommand() *cobra.Command {
	var config string
	c := &cobra.Command{
		Use:   "backup FILE",
		Short: "Copy the book, the alarms and the windows to a file, the station running or not",
		Long: `Copy the records (the book, the alarms, the waiting messages, the windows that
were shown) to a new file. The copy is complete and of one moment. It does not
hold the readings, which export prints, nor the passphrase and the configuration:
copy /etc/ootherm too.`,
		Example: "  ootherm backup /media/stick/records-2026-06-01.db",
		Args:    oneArgument("the file to write"),
		RunE: func(cmd *cobra.Command, args []string) error {
			c, err := client.Dial(cmd.Context(), config, build())
			if err != nil {
				return err
			}
			defer c.Close()
			if err := writeNew(args[0], func(f *os.File) error { return c.Backup(cmd.Context(), f) }); err != nil {
				return err
			}
			folder, err := filepath.Abs(filepath.Dir(config))
			if err != nil {
				return fmt.Errorf("the folder of the configuration: %w", err)
			}
			_, err = fmt.Fprintf(cmd.ErrOrStderr(), "The book, the alarms and the windows are in %s. It does not hold the readings, the passphrase and the configuration: also copy %s.\n", args[0], folder)
			return err
		},
	}
	configFlag(c.Flags(), &config)
	return c
}

// writeNew writes a file that does not exist yet, completely or not at all.
func writeNew(path string, fill func(*os.File) error) error {
	folder := filepath.Dir(path)
	switch info, err := os.Stat(folder); {
	case errors.Is(err, os.ErrNotExist):
		return usererr.Usage(fmt.Errorf("the folder %s is missing: make it, or plug in and mount the stick, and call this again", folder))
	case err == nil && !info.IsDir():
		return usererr.Usage(fmt.Errorf("%s is a file, and no folder for %s", folder, filepath.Base(path)))
	}
	if err := unix.Access(folder, unix.W_OK); err != nil {
		return fmt.Errorf("this user may not write in the folder %s: %w", folder, err)
	}
	if _, err := os.Lstat(path); !errors.Is(err, os.ErrNotExist) {
		return errors.Join(err, fmt.Errorf("%s is there already and is left as it is; name a new file", path))
	}
	return atomicfile.Write(path, fill)
}
