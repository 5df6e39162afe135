package main

import (
	"fmt"
	"io"
	"runtime"
	"runtime/debug"

	"example.com/ootherm/cmd/ootherm/internal/licence"
	"github.com/spf13/cobra"
)

func versionCommand() *cobra.Command {
	var licences bool
	c := &cobra.Command{
		Use:   "version",
		Short: "Print the version, or the licences",
		Example: `  ootherm version
  ootherm version --licences`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if licences {
				_, err := io.WriteString(cmd.OutOrStdout(), licence.Text)
				return err
			}
			_, err := io.WriteString(cmd.OutOrStdout(), versionLine())
			return err
		},
	}
	c.Flags().BoolVar(&licences, "licences", false, "print the licence of ootherm and of every module that is linked in")
	return c
}

// versionLine names the version, the machine that it is built for, and the revision.
func versionLine() string {
	line := fmt.Sprintf("ootherm %s %s/%s %s", version, runtime.GOOS, runtime.GOARCH, runtime.Version())
	if info, ok := debug.ReadBuildInfo(); ok {
		line += revision(info.Settings)
	}
	return line + "\n"
}

// revision names the commit that a program was built from, as the compiler noted it; it is
// empty where none was noted.
func revision(settings []debug.BuildSetting) string {
	text, changed := "", ""
	for _, x := range settings {
		switch x.Key {
		case "vcs.revision":
			text = " revision " + x.Value
		case "vcs.modified":
			if x.Value == "true" {
				changed = " with changes"
			}
		}
	}
	if text == "" {
		return ""
	}
	return text + changed
}
