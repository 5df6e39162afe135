package main

import (
	"strings"

	"github.com/spf13/cobra"

	"example.com/ootherm/cmd/ootherm/internal/client"
	"example.com/ootherm/cmd/ootherm/internal/forms"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// completes adds completion to a flag, with values from the running station.
func completes(c *cobra.Command, flag string, config *string, list func(forms.Desk) []cobra.Completion) {
	_ = c.RegisterFlagCompletionFunc(flag, completeFrom(config, list)) // it fails only for an unknown flag
}

// completeFrom gives a completion with values from the running station. Where none runs, it
// offers nothing.
func completeFrom(config *string, list func(forms.Desk) []cobra.Completion) cobra.CompletionFunc {
	return func(cmd *cobra.Command, args []string, prefix string) ([]cobra.Completion, cobra.ShellCompDirective) {
		desk, ok := client.RunningDesk(cmd.Context(), *config)
		if !ok || desk.Now == nil || desk.Book == nil || len(args) > 0 {
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
		var all []cobra.Completion
		for _, x := range list(desk) {
			if strings.HasPrefix(x, prefix) {
				all = append(all, x)
			}
		}
		return all, cobra.ShellCompDirectiveNoFileComp
	}
}

func alarmsOf(d forms.Desk) []cobra.Completion {
	var all []cobra.Completion
	for _, a := range d.Now.Alarms {
		all = append(all, cobra.CompletionWithDesc(a.Key, words.Alarm(a.Alarm).Wrong))
	}
	return all
}

func zonesOf(d forms.Desk) []cobra.Completion {
	var all []cobra.Completion
	for _, z := range d.Now.Zones {
		all = append(all, z.Zone)
	}
	return all
}

func probesOf(d forms.Desk) []cobra.Completion {
	var all []cobra.Completion
	for _, z := range d.Now.Zones {
		for _, p := range z.Probes {
			all = append(all, cobra.CompletionWithDesc(p.Probe, z.Zone))
		}
	}
	return all
}

func boxesOf(d forms.Desk) []cobra.Completion {
	var all []cobra.Completion
	for _, x := range d.Book.Boxes() {
		if x.InUse {
			all = append(all, cobra.CompletionWithDesc(x.ID, words.Count(len(x.Eggs), "egg", "eggs")))
		}
	}
	return all
}

// damsOf gives all dams of the book, also the retired ones: their results can still be read.
func damsOf(d forms.Desk) []cobra.Completion {
	var all []cobra.Completion
	for _, f := range d.Book.Dams() {
		all = append(all, f.Name)
	}
	return all
}
