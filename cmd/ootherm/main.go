// Command ootherm sits beside reptile eggs: it logs their warmth, reckons from it
// when they hatch, and calls when a room or an incubator drifts. It watches; it
// switches nothing.
package main

import (
	"context"
	"fmt"
	"os"
	"os/signal"
	"syscall"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/daemon"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"github.com/spf13/cobra"
)

// version and built are set when a package is built.
var (
	version = "development"
	built   = "2026-11-25" // no clock is believed that shows an earlier day
)

func build() daemon.Build {
	day, _ := time.Parse(time.DateOnly, built) // a day that cannot be read holds no clock back
	return daemon.Build{Version: version, Date: day}
}

// Exit codes: the work found a problem, or it was asked wrongly.
const (
	exitProblem = 1
	exitUsage   = 2
)

func main() {
	daemon.RunFileCheck() // does not return in a child that only checks a file
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := execute(ctx, os.Args[1:])
	stop()
	os.Exit(code)
}

// execute runs one command and says how it ended.
func execute(ctx context.Context, args []string) int {
	root := rootCommand()
	root.SetArgs(args)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return 0
	}
	fmt.Fprintln(os.Stderr, "ootherm: "+err.Error())
	if usererr.IsUsage(err) || unknownCommand(err) {
		return exitUsage
	}
	return exitProblem
}

// rootCommand is the whole command line.
func rootCommand() *cobra.Command {
	root := &cobra.Command{
		Use:           "ootherm",
		Short:         "Watches the warmth of reptile eggs, reckons their hatch windows and calls when a room drifts",
		Long:          "ootherm watches the warmth of reptile eggs, reckons their hatch windows from the heat\nthey had, and calls when a room or an incubator drifts. It watches; it switches nothing.",
		SilenceUsage:  true,
		SilenceErrors: true,
	}
	root.SetFlagErrorFunc(flagError)
	root.AddCommand(setupCommand(), runCommand(), demoCommand(), replayCommand(), checkCommand(),
		windowsCommand(), alarmsCommand(), scoreCommand(), degreeDaysCommand(), probesCommand(), calibrateCommand(), bookCommand(), exportCommand(), backupCommand(), restoreCommand(),
		passphraseCommand(), reviewCommand(), incidentCommand(), labelsCommand(), versionCommand())
	root.SetHelpCommand(helpCommand())
	helpWithTopics(root)
	return root
}
