package main

import (
	"bufio"
	"errors"
	"fmt"
	"os"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/daemon"
	"github.com/spf13/cobra"
	"golang.org/x/term"
)

func passphraseCommand() *cobra.Command {
	var config string
	c := &cobra.Command{
		Use:   "passphrase",
		Short: "Set the passphrase that other machines must give to see the page",
		Long: `Set the passphrase that other machines must give to see the page and to write in
the book. On a terminal it is asked twice; otherwise it is read from the first
line of the input. Only its hash is stored. Every browser must give the new one.`,
		Example: `  ootherm passphrase
  printf '%s\n' "$PASSPHRASE" | ootherm passphrase`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			text, err := askPassphrase(cmd)
			if err != nil {
				return err
			}
			if err := daemon.SetPassphrase(config, text); err != nil {
				return err
			}
			fmt.Fprintln(cmd.ErrOrStderr(), "The passphrase is set. It holds from now on, and every browser must give it; a station that ran without one needs a restart.")
			return nil
		},
	}
	configFlag(c.Flags(), &config)
	return c
}

// askPassphrase reads the passphrase from the terminal or the input.
func askPassphrase(cmd *cobra.Command) (string, error) {
	in, ok := cmd.InOrStdin().(*os.File)
	if !ok || !term.IsTerminal(int(in.Fd())) {
		line, err := bufio.NewReader(cmd.InOrStdin()).ReadString('\n')
		if err != nil && line == "" {
			return "", fmt.Errorf("no passphrase came in: %w", err)
		}
		return strings.TrimRight(line, "\r\n"), nil
	}
	var typed [2]string
	for i, prompt := range []string{"Passphrase: ", "Once more: "} {
		fmt.Fprint(cmd.ErrOrStderr(), prompt)
		b, err := term.ReadPassword(int(in.Fd()))
		fmt.Fprintln(cmd.ErrOrStderr())
		if err != nil {
			return "", fmt.Errorf("reading the passphrase: %w", err)
		}
		typed[i] = string(b)
	}
	if typed[0] != typed[1] {
		return "", errors.New("the two are not the same; nothing was changed")
	}
	return typed[0], nil
}
