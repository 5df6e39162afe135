package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"example.com/ootherm/cmd/ootherm/internal/manual"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
)

const (
	pipeWidth    = 80 // characters, where the output is no terminal
	maxHelpWidth = 92 // characters; longer lines are hard to read
)

// helpCommand shows the help of a command, or a topic of the manual.
func helpCommand() *cobra.Command {
	var man string
	c := &cobra.Command{
		Use:   "help [TOPIC | COMMAND]",
		Short: "Show a topic of the manual, or the help of a command",
		Long: `Show a topic of the manual, or the help of a command. Without either, list both.
The same topics are on the page under /help, and in the package as ootherm-TOPIC(7).`,
		Example:           "  ootherm help first-clutch\n  ootherm help book note",
		ValidArgsFunction: completeHelp,
		RunE: func(cmd *cobra.Command, args []string) error {
			if man != "" {
				return writeManPages(man, cmd.Root())
			}
			return showHelp(cmd, args)
		},
	}
	c.Flags().StringVar(&man, "man", "", "write the man pages into this folder")
	_ = c.Flags().MarkHidden("man") // fails for a flag that is not there, and it is
	return c
}

// showHelp shows what the arguments name: a command goes before a topic.
func showHelp(cmd *cobra.Command, args []string) error {
	root := cmd.Root()
	if found, rest, err := root.Find(args); err == nil && len(rest) == 0 {
		found.InitDefaultHelpFlag()
		return found.Help()
	}
	if len(args) == 1 {
		if topic, ok := manual.Find(args[0]); ok {
			_, err := io.WriteString(cmd.OutOrStdout(), topic.Terminal(helpWidth(cmd.OutOrStdout())))
			return err
		}
	}
	return usererr.Usage(errors.New("there is no topic or command " + strings.Join(args, " ") + "; ootherm help lists all"))
}

// helpWidth gives the width of help texts: that of the terminal, within bounds.
func helpWidth(w io.Writer) int {
	f, ok := w.(*os.File)
	if !ok {
		return pipeWidth
	}
	width, _, err := term.GetSize(int(f.Fd()))
	if err != nil {
		return pipeWidth
	}
	return min(width, maxHelpWidth)
}

// topicsOf names the topics to read beside the help of a command, by the path of the
// command below the program.
func topicsOf(command string) []string {
	return map[string][]string{
		"alarms":      {"alarm-kinds", "senders"},
		"backup":      {"data-and-copies"},
		"book":        {"noting", "book-format"},
		"book add":    {"book-format"},
		"book list":   {"book-format"},
		"book medium": {"water"},
		"book note":   {"noting", "first-clutch"},
		"book undo":   {"noting"},
		"calibrate":   {"calibration"},
		"check":       {"configuration", "senders"},
		"degree-days": {"recordings"},
		"export":      {"data-and-copies", "recordings"},
		"incident":    {"looking-back"},
		"labels":      {"labels-and-calendar"},
		"passphrase":  {"other-machines"},
		"probes":      {"wiring", "placing-probes"},
		"replay":      {"recordings"},
		"restore":     {"card-died"},
		"review":      {"season-review"},
		"run":         {"install", "configuration"},
		"score":       {"accuracy", "early-warning"},
		"setup":       {"install", "next-season"},
		"windows":     {"forecast", "no-window"},
	}[command]
}

// helpWithTopics adds the list of topics to the help of the program itself, and the
// topics to read to that of a command.
func helpWithTopics(root *cobra.Command) {
	usual := root.HelpFunc()
	root.SetHelpFunc(func(cmd *cobra.Command, args []string) {
		usual(cmd, args)
		if cmd != root {
			if more := topicsOf(strings.TrimPrefix(cmd.CommandPath(), root.Name()+" ")); len(more) > 0 {
				fmt.Fprintf(cmd.OutOrStdout(), "\nRead more: ootherm help %s\n", strings.Join(more, ", ootherm help "))
			}
			return
		}
		fmt.Fprint(cmd.OutOrStdout(), "\nTopics of the manual (ootherm help TOPIC):\n")
		for _, g := range manual.Groups() {
			fmt.Fprintf(cmd.OutOrStdout(), "\n  %s\n", g.Title)
			for _, t := range g.Topics {
				fmt.Fprintf(cmd.OutOrStdout(), "    %-20s  %s\n", t.Name, t.Title)
			}
		}
	})
}

// completeHelp offers topics and commands.
func completeHelp(cmd *cobra.Command, args []string, _ string) ([]cobra.Completion, cobra.ShellCompDirective) {
	at, rest, err := cmd.Root().Find(args)
	if err != nil || len(rest) > 0 {
		return nil, cobra.ShellCompDirectiveNoFileComp
	}
	var all []cobra.Completion
	for _, c := range at.Commands() {
		if c.IsAvailableCommand() {
			all = append(all, cobra.CompletionWithDesc(c.Name(), c.Short))
		}
	}
	if len(args) == 0 {
		for _, t := range manual.Topics() {
			all = append(all, cobra.CompletionWithDesc(t.Name, t.Title))
		}
	}
	return all, cobra.ShellCompDirectiveNoFileComp
}

// writeManPages writes ootherm(1), made of the commands, and a page of section 7 for
// each topic. The same program writes the same bytes.
func writeManPages(folder string, root *cobra.Command) error {
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return fmt.Errorf("the folder for the man pages: %w", err)
	}
	pages := map[string]string{"ootherm.1": manual.CommandPage(describeCommands(root), root.Name(), root.Short, version)}
	for _, t := range manual.Topics() {
		pages["ootherm-"+t.Name+".7"] = t.ManPage(version)
	}
	for name, text := range pages {
		if err := os.WriteFile(filepath.Join(folder, name), []byte(text), 0o644); err != nil {
			return fmt.Errorf("a man page: %w", err)
		}
	}
	return nil
}

// describeCommands writes all commands as Markdown.
func describeCommands(root *cobra.Command) string {
	var b strings.Builder
	fmt.Fprintf(&b, "# %s\n\n%s\n", root.Name(), root.Long)
	b.WriteString("\n## Commands\n")
	describeCommand(&b, root)
	b.WriteString("\n## Topics\n\nEach topic is a page of section 7, and `ootherm help TOPIC` shows it too.\n\n")
	for _, t := range manual.Topics() {
		fmt.Fprintf(&b, "- **ootherm-%s**(7): %s\n", t.Name, t.Title)
	}
	return b.String()
}

// describeCommand writes what stands below a command, with its flags and examples.
func describeCommand(b *strings.Builder, parent *cobra.Command) {
	for _, c := range parent.Commands() {
		if !c.IsAvailableCommand() && c.Name() != "help" {
			continue
		}
		fmt.Fprintf(b, "\n### %s\n", c.CommandPath())
		text := c.Long
		if text == "" {
			text = c.Short + "."
		}
		fmt.Fprintf(b, "\n%s\n", text)
		if c.Runnable() {
			fmt.Fprintf(b, "\n```\n%s\n```\n", c.UseLine())
		}
		if flags := strings.TrimRight(c.LocalFlags().FlagUsagesWrapped(pipeWidth-10), "\n"); flags != "" {
			fmt.Fprintf(b, "\n```\n%s\n```\n", flags)
		}
		if c.Example != "" {
			fmt.Fprintf(b, "\nFor example:\n\n```\n%s\n```\n", c.Example)
		}
		describeCommand(b, c)
	}
}
