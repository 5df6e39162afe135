// Command fit owns the fit of the priors: it reads a table of published durations, fits
// one mixed model to it and writes the tables that package profile embeds. It must not
// know how a profile uses them.
//
// # The model
//
// A row is the mean log duration of one treatment. At its usual temperature a species has
// a level and a slope; along the curve of the hatch model they give every other
// temperature. Level and slope are a common course of the usual temperature plus random
// effects of order, family, genus and species (package mixedmodel). Each study adds its
// own level and slope, each of its temperatures a misfit of the curve, each row a scatter;
// the species' bend differs from the common one. All effects are Gaussian. Studies are
// nested in species: one that tested several species counts as one for each.
//
// The standard deviations and the common course maximise the marginal likelihood. Where
// few groups tell a standard deviation, its likelihood is lopsided and its maximum too
// small, often zero; so those of the ranks are the root of the mean square over the
// likelihood instead, the others held.
package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"example.com/ootherm/thermal/backtest"
)

func main() {
	if err := run(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "fit:", err)
		os.Exit(1)
	}
}

func run(args []string) error {
	if len(args) != 2 {
		return errors.New("usage: fit DURATIONS.csv FOLDER")
	}
	rows, err := readRows(args[0])
	if err != nil {
		return err
	}
	d := data{species: gather(rows)}
	for name, table := range tables(d, fit(d)) {
		if err := os.WriteFile(filepath.Join(args[1], name), table, 0o644); err != nil {
			return err
		}
	}
	return nil
}

func readRows(path string) ([]backtest.Row, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	rows, err := backtest.ReadRows(f)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return rows, nil
}
