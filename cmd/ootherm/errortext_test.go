package main_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// A person reads an error. The error says what is wrong, not which package found it.
func TestErrorsNameNoPackage(t *testing.T) {
	packages := map[string]bool{}
	sources(t, func(name string) { packages[filepath.Base(filepath.Dir(name))] = true })
	makers := []string{"Errorf", "New", "Fail", "Sprintf", "panic"} // Fail is of package sensor
	sources(t, func(name string) {
		if strings.HasSuffix(name, "_test.go") {
			return
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(file, func(n ast.Node) bool {
			call, ok := n.(*ast.CallExpr)
			if !ok || !slices.Contains(makers, called(call)) {
				return true
			}
			for _, argument := range call.Args {
				literal, ok := argument.(*ast.BasicLit)
				if !ok || literal.Kind != token.STRING {
					continue
				}
				text, err := strconv.Unquote(literal.Value)
				if err != nil {
					t.Fatal(err)
				}
				if first, _, found := strings.Cut(text, ": "); found && packages[first] {
					t.Errorf("%s: %q begins with the name of a package", name, text)
				}
			}
			return true
		})
	})
}

// called is the name of the function that is called, without its package.
func called(call *ast.CallExpr) string {
	switch f := call.Fun.(type) {
	case *ast.SelectorExpr:
		return f.Sel.Name
	case *ast.Ident:
		return f.Name
	}
	return ""
}
