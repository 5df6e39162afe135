// Command ootherm watches reptile eggs: it logs their temperature, forecasts from it when
// they hatch, and raises alarms when a room or an incubator drifts. It controls nothing.
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
	built   = "2026-11-25" // a clock that shows an earlier day is wrong
)

func build() daemon.Build {
	day, _ := time.Parse(time.DateOnly, built) // without a valid day no clock is doubted
	return daemon.Build{Version: version, Date: day}
}

// Exit codes: the command found a problem, or it was called wrongly.
const (
	exitProblem = 1
	exitUsage   = 2
)

func main() {
	daemon.RunFileCheck() // in a child process that checks a file, it does not return
	ends := []os.Signal{os.Interrupt, syscall.SIGTERM}
	if !signal.Ignored(syscall.SIGHUP) { // nohup has it ignored
		ends = append(ends, syscall.SIGHUP)
	}
	ctx, stop := signal.NotifyContext(context.Background(), ends...)
	code := execute(ctx, os.Args[1:])
	stop()
	os.Exit(code)
}

// execute runs one command and gives its exit code.
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

// rootCommand makes the whole command line.
func rootCommand() *cobra.Command {
	root := &cobra.Command{
		Use:           "ootherm",
		Short:         "Watches the temperature of reptile eggs, forecasts their hatch windows, raises alarms",
		Long:          "ootherm watches the temperature of reptile eggs, forecasts their hatch windows from the\nheat they had, and raises alarms when a room or an incubator drifts. It controls nothing.",
		SilenceUsage:  true,
		SilenceErrors: true,
	}
	root.Version = version // for --version, which says what the command says
	root.SetVersionTemplate(versionLine())
	root.SetFlagErrorFunc(flagError)
	root.AddCommand(setupCommand(), runCommand(), demoCommand(), replayCommand(), checkCommand(),
		windowsCommand(), alarmsCommand(), scoreCommand(), degreeDaysCommand(), probesCommand(), calibrateCommand(), bookCommand(), exportCommand(), backupCommand(), restoreCommand(),
		passphraseCommand(), tokenCommand(), reviewCommand(), incidentCommand(), rehearseCommand(), labelsCommand(), versionCommand())
	root.SetHelpCommand(helpCommand())
	helpWithTopics(root)
	return root
}
