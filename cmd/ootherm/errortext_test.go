package main_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// An error says what is wrong, and not which package found it: a person reads it.
func TestErrorsNameNoPackage(t *testing.T) {
	packages := map[string]bool{}
	sources(t, func(name string) { packages[filepath.Base(filepath.Dir(name))] = true })
	sources(t, func(name string) {
		if strings.HasSuffix(name, "_test.go") || !strings.HasPrefix(name, root+"/cmd/") {
			return
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(file, func(n ast.Node) bool {
			call, ok := n.(*ast.CallExpr)
			if !ok || len(call.Args) == 0 {
				return true
			}
			makes, ok := call.Fun.(*ast.SelectorExpr)
			if !ok || !slices.Contains([]string{"Errorf", "New"}, makes.Sel.Name) {
				return true
			}
			text, ok := call.Args[0].(*ast.BasicLit)
			if !ok || text.Kind != token.STRING {
				return true
			}
			if first, _, found := strings.Cut(strings.Trim(text.Value, "\"`"), ": "); found && packages[first] {
				t.Errorf("%s: %s begins with the name of a package", name, text.Value)
			}
			return true
		})
	})
}
