package main_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"strings"
	"testing"
)

// A type does one thing, and a package is read in one sitting. The limits are our choice.
const (
	maxTypeMethods  = 30
	maxTypeFields   = 15
	maxPackageLines = 2500
	maxPackageFiles = 25
)

// wide are plain records with more fields than a type may have, with the reason.
var wide = map[string]string{
	"thermal/book.Entry": "it is one line of the book: its tags are the only list of the fields, in the order of the columns",
	"alert.Message":      "it is one record of the outbox: its tags are the only list of what is stored and posted of a message",
}

// large are packages over the limits, with the reason.
var large = map[string]string{
	"cmd/ootherm": "it has a file for each command",
}

// size is what a package or a type has, without tests.
type size struct{ lines, files int }

func TestLimits(t *testing.T) {
	packages, methods, fields := map[string]size{}, map[string]int{}, map[string]int{}
	sources(t, func(name string) {
		if strings.HasSuffix(name, "_test.go") {
			return
		}
		dir, err := filepath.Rel(root, filepath.Dir(name))
		if err != nil {
			t.Fatal(err)
		}
		dir = filepath.ToSlash(dir)
		p := packages[dir]
		packages[dir] = size{p.lines + count(t, name), p.files + 1}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range file.Decls {
			switch d := d.(type) {
			case *ast.FuncDecl:
				if d.Recv != nil {
					methods[dir+"."+receiver(d.Recv.List[0].Type)]++
				}
			case *ast.GenDecl:
				for _, s := range d.Specs {
					if x, ok := s.(*ast.TypeSpec); ok {
						fields[dir+"."+x.Name.Name] = fieldCount(x.Type)
					}
				}
			}
		}
	})
	for name, n := range methods {
		if n > maxTypeMethods {
			t.Errorf("%s has %d methods, over %d: give a part of it a type of its own", name, n, maxTypeMethods)
		}
	}
	for name, n := range fields {
		if n > maxTypeFields && wide[name] == "" {
			t.Errorf("%s has %d fields, over %d: give a part of it a type of its own", name, n, maxTypeFields)
		}
	}
	for dir, p := range packages {
		if (p.lines > maxPackageLines || p.files > maxPackageFiles) && large[dir] == "" {
			t.Errorf("%s has %d lines in %d files, over %d or %d: give a part of it a package of its own", dir, p.lines, p.files, maxPackageLines, maxPackageFiles)
		}
	}
	for name := range wide {
		if fields[name] <= maxTypeFields {
			t.Errorf("%s has %d fields: it needs no exception", name, fields[name])
		}
	}
	for dir := range large {
		if p := packages[dir]; p.lines <= maxPackageLines && p.files <= maxPackageFiles {
			t.Errorf("%s has %d lines in %d files: it needs no exception", dir, p.lines, p.files)
		}
	}
}

// receiver is the name of a method's type.
func receiver(x ast.Expr) string {
	for {
		switch y := x.(type) {
		case *ast.StarExpr:
			x = y.X
		case *ast.IndexExpr:
			x = y.X
		case *ast.IndexListExpr:
			x = y.X
		case *ast.Ident:
			return y.Name
		default:
			return ""
		}
	}
}

// fieldCount is how many fields a struct has; an embedded type is one. No other type has any.
func fieldCount(x ast.Expr) (n int) {
	s, ok := x.(*ast.StructType)
	if !ok {
		return 0
	}
	for _, f := range s.Fields.List {
		n += max(1, len(f.Names))
	}
	return n
}
