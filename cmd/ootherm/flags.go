package main

import (
	"errors"
	"fmt"
	"regexp"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"example.com/ootherm/cmd/ootherm/internal/configpath"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
)

// configFlag adds the flag --config. Its default depends on the machine, so the help texts
// name the rule and not the path.
func configFlag(flags *pflag.FlagSet, path *string) {
	flags.StringVar(path, "config", configpath.Default(), "the station's configuration (TOML); default: $OOTHERM_CONFIG, else "+configpath.Packaged+", else your own")
	flags.Lookup("config").DefValue = ""
}

// toConfig gives the flag that leads another command to the same configuration. It is empty
// for the default configuration.
func toConfig(path string) string { return configpath.Flag(path) }

// need makes flags required.
func need(c *cobra.Command, names ...string) {
	c.PreRunE = func(cmd *cobra.Command, _ []string) error {
		var missing []string
		for _, n := range names {
			if f := cmd.Flags().Lookup(n); !f.Changed {
				missing = append(missing, "--"+n)
			}
		}
		if len(missing) > 0 {
			return usererr.Usage(errors.New(strings.TrimPrefix(cmd.CommandPath(), "ootherm ") + " needs " + strings.Join(missing, " and ") + "; see " + cmd.CommandPath() + " --help"))
		}
		return nil
	}
}

// oneArgument refuses a command line without exactly one argument. What names the argument,
// and the first example of the command shows the line to type.
func oneArgument(what string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		name := strings.TrimPrefix(c.CommandPath(), "ootherm ")
		switch {
		case len(args) == 0:
			return usererr.Usage(fmt.Errorf("%s needs %s; type it like: %s", name, what, exampleOf(c)))
		case len(args) > 1:
			return usererr.Usage(fmt.Errorf("%s takes one argument, %s, and got %d; put a name with spaces in quotes", name, what, len(args)))
		}
		return nil
	}
}

// noArguments refuses a command line with an argument, and says by which flag a file is named.
func noArguments(c *cobra.Command, args []string) error {
	if len(args) == 0 || c.HasSubCommands() {
		return cobra.NoArgs(c, args) // which knows similar commands
	}
	hint := "see " + c.CommandPath() + " --help"
	switch x, toml := args[0], strings.HasSuffix(args[0], ".toml"); {
	case toml && c.Flags().Lookup("config") != nil:
		hint = "name the configuration with --config " + x
	case !toml && c.Flags().Lookup("readings") != nil:
		hint = "name the recording with --readings " + x
	}
	return usererr.Usage(fmt.Errorf("%s takes no argument, and got %q; %s", strings.TrimPrefix(c.CommandPath(), "ootherm "), args[0], hint))
}

// exampleOf gives the first line of a command's examples that calls the command.
func exampleOf(c *cobra.Command) string {
	for line := range strings.Lines(c.Example) {
		if strings.Contains(line, c.CommandPath()+" ") {
			return strings.TrimSpace(line)
		}
	}
	return c.UseLine()
}

// unknownCommand reports whether an error is about an unknown command or a wrong number of
// arguments.
func unknownCommand(err error) bool {
	s := err.Error()
	return strings.HasPrefix(s, "unknown command") || strings.Contains(s, "accepts ") && strings.Contains(s, "arg(s)")
}

// inFlags puts the name of a flag into an error about the parameter of that name.
func inFlags(err error, names ...string) error {
	if err == nil {
		return nil
	}
	text := err.Error()
	for _, n := range names {
		if rest, ok := strings.CutPrefix(text, n+": "); ok {
			return usererr.Reword(err, "--"+n+": "+rest)
		}
	}
	return err
}

// badValue matches the command line library's error for a flag's invalid value. It gives
// the value and the name of the flag.
var badValue = regexp.MustCompile(`^invalid argument "(.*)" for "(?:-., )?--(.+)" flag: `)

// flagError explains an error in a flag.
func flagError(cmd *cobra.Command, err error) error {
	if strings.HasPrefix(err.Error(), "unknown ") {
		return usererr.Usage(fmt.Errorf("%w; see %s --help", err, cmd.CommandPath()))
	}
	m := badValue.FindStringSubmatch(err.Error())
	if m == nil || cmd.Flags().Lookup(m[2]) == nil {
		return usererr.Usage(err)
	}
	what, ok := map[string]string{"float64": "no number", "int": "no whole number", "duration": "no length of time; write it like 10m or 1h30m", "bool": "neither true nor false"}[cmd.Flags().Lookup(m[2]).Value.Type()]
	if !ok {
		return usererr.Usage(err)
	}
	return usererr.Usage(fmt.Errorf("--%s: %q is %s", m[2], m[1], what))
}
