// Lint runs the checks of go vet and of staticcheck over packages in one go: together they take
// half the time, since each has to read and type all dependencies. Its flags are those of
// staticcheck. It is no part of ootherm.
package main

import (
	"os"

	"golang.org/x/tools/go/analysis/suite/vet"
	"honnef.co/go/tools/lintcmd"
	"honnef.co/go/tools/simple"
	"honnef.co/go/tools/staticcheck"
	"honnef.co/go/tools/stylecheck"
	"honnef.co/go/tools/unused"
)

func main() {
	lint := lintcmd.NewCommand("lint")
	lint.ParseFlags(os.Args[1:])
	lint.AddAnalyzers(simple.Analyzers...)
	lint.AddAnalyzers(staticcheck.Analyzers...)
	lint.AddAnalyzers(stylecheck.Analyzers...)
	lint.AddAnalyzers(unused.Analyzer)
	lint.AddBareAnalyzers(vet.Suite...)
	lint.Run()
}
