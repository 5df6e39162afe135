package main

import (
	"errors"
	"strings"

	"github.com/spf13/cobra"
)

// need marks flags that a command cannot do without.
func need(c *cobra.Command, names ...string) {
	c.PreRunE = func(cmd *cobra.Command, _ []string) error {
		var missing []string
		for _, n := range names {
			if f := cmd.Flags().Lookup(n); !f.Changed {
				missing = append(missing, "--"+n)
			}
		}
		if len(missing) > 0 {
			return usage{errors.New(strings.TrimPrefix(cmd.CommandPath(), "ootherm ") + " needs " + strings.Join(missing, " and ") + "; see " + cmd.CommandPath() + " --help")}
		}
		return nil
	}
}

// unknownCommand reports an error of the command line's own words.
func unknownCommand(err error) bool {
	s := err.Error()
	return strings.HasPrefix(s, "unknown command") || strings.Contains(s, "accepts ") && strings.Contains(s, "arg(s)")
}

// plain is an error in the words for who reads it, without package names where
// it has such words.
func plain(err error) string {
	var words interface{ ErrorMessage() string }
	if errors.As(err, &words) && err.Error() == words.(error).Error() {
		return words.ErrorMessage()
	}
	return err.Error()
}
