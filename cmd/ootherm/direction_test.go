package main_test

import (
	"bufio"
	"encoding/json"
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

const (
	module = "example.com/ootherm"
	root   = "../.."
)

// pkg is what `go list` says of a package; paths within the module lose its name.
type pkg struct {
	ImportPath string
	Standard   bool
	Imports    []string
	Deps       []string
}

// packages lists everything the module builds, on top of what it stands.
func packages(t *testing.T) map[string]pkg {
	t.Helper()
	cmd := exec.Command("go", "list", "-deps", "-json=ImportPath,Standard,Imports,Deps", "./...")
	cmd.Dir = root
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	all := map[string]pkg{}
	for d := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p pkg
		if err := d.Decode(&p); errors.Is(err, io.EOF) {
			return all
		} else if err != nil {
			t.Fatal(err)
		}
		all[p.ImportPath] = p
	}
}

func ours(importPath string) (string, bool) {
	return strings.CutPrefix(importPath, module+"/")
}

func under(p, dir string) bool { return p == dir || strings.HasPrefix(p, dir+"/") }

const below = "cmd/ootherm/internal/"

// The domain is four packages that reckon. They can be read, tested and trusted
// without a store, a network or one another.
func TestRootsStandAlone(t *testing.T) {
	all := packages(t)
	forbidden := map[string]string{
		"net/http":     "a root does not know that there is a page",
		"net":          "a root does not know that there is a network",
		"os/exec":      "a root starts nothing",
		"database/sql": "a root does not know how it is kept",
	}
	for _, name := range []string{"sensor", "thermal", "thermal/book", "alert"} {
		p, ok := all[module+"/"+name]
		if !ok {
			t.Errorf("the root %s is missing", name)
			continue
		}
		for _, d := range p.Deps {
			if why := forbidden[d]; why != "" {
				t.Errorf("%s stands on %s: %s", name, d, why)
			}
			if all[d].Standard || name == "thermal/book" && d == module+"/thermal" {
				continue
			}
			t.Errorf("%s stands on %s: a root imports the standard library alone (book may use thermal); app translates between them", name, d)
		}
	}
}

// wired says, for a package that is chosen and joined in one place, why nothing
// else may import it. What has no reason anybody may import.
func wired(p string) string {
	switch shared := []string{
		"sensor", "sensor/air", "sensor/sensortest", // read by all
		"sensor/i2cbus", "sensor/sysfile", // what drivers have in common
		"thermal", "thermal/book", "alert",
		"alert/post", // what senders have in common
		below + "app", below + "app/now", below + "app/words",
	}; {
	case slices.Contains(shared, p):
		return ""
	case under(p, "sensor/history"), under(p, "thermal/book/ledger"), under(p, "alert/outbox"), under(p, "thermal/hindcast/shown"):
		return "what keeps things is reached through an interface of the one who needs it"
	case under(p, "sensor"):
		return "a driver is chosen where the station is wired"
	case under(p, "alert"):
		return "a sender is chosen where the station is wired"
	case under(p, below+"web"), under(p, below+"metrics"):
		return "it reads what is published; nothing stands on it"
	case under(p, below+"storage"):
		return "each package is handed its file open"
	case under(p, below+"clock"):
		return "time is injected"
	case under(p, below+"config"):
		return "app translates the file's words into each package's own"
	case under(p, below+"demo"):
		return "the invented season is one way to start the station"
	}
	return ""
}

// Main stands on app, app on what it joins, and that on the roots.
func TestDirection(t *testing.T) {
	const app, main, demo = below + "app", "cmd/ootherm", below + "demo"
	for importer, p := range packages(t) {
		from, ok := ours(importer)
		if !ok {
			continue
		}
		joins := from == main || from == app || from == demo
		fake := strings.HasSuffix(path.Base(from), "test")
		for _, i := range p.Imports {
			to, ok := ours(i)
			if !ok {
				continue
			}
			if why := wired(to); why != "" && !joins && !strings.HasPrefix(from, to+"/") && !(fake && path.Dir(from) == path.Dir(to)) {
				t.Errorf("%s imports %s: %s", from, to, why)
			}
			if to == app && from != main && from != demo {
				t.Errorf("%s imports %s: the station is started by a command; nothing below it knows it", from, to)
			}
			if strings.HasSuffix(path.Base(to), "test") && !fake {
				t.Errorf("%s imports %s: fakes are for tests", from, to)
			}
		}
	}
}

// Leaves import nothing of ours, so that they can be understood alone.
func TestLeaves(t *testing.T) {
	all := packages(t)
	for leaf, besides := range map[string]string{
		below + "config":    "",
		below + "clock":     "",
		below + "storage":   "",
		below + "manual":    "",
		below + "app/now":   "",
		below + "app/words": below + "app/now", // says in words what is published
	} {
		p, ok := all[module+"/"+leaf]
		if !ok {
			t.Errorf("the leaf %s is missing", leaf)
		}
		for _, i := range p.Imports {
			if to, ok := ours(i); ok && to != besides {
				t.Errorf("%s imports %s: it is a leaf", leaf, to)
			}
		}
	}
}

// sources walks every Go file of the module.
func sources(t *testing.T, do func(name string)) {
	t.Helper()
	err := filepath.WalkDir(root, func(name string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && (d.Name() == ".git" || d.Name() == "node_modules" || d.Name() == "dist" || strings.HasPrefix(d.Name(), "_")):
			return fs.SkipDir
		case !d.IsDir() && strings.HasSuffix(name, ".go"):
			do(name)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// maxLines keeps a file to what one can hold in mind.
const maxLines = 500

func TestFiles(t *testing.T) {
	docs := map[string][]string{} // by directory
	n := 0
	sources(t, func(name string) {
		n++
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.ParseComments)
		if err != nil {
			t.Error(err)
			return
		}
		if lines := count(t, name); lines > maxLines {
			t.Errorf("%s has %d lines, over %d: split it", name, lines, maxLines)
		}
		test := strings.HasSuffix(name, "_test.go")
		if dir := filepath.Dir(name); !test {
			docs[dir] = append(docs[dir], "")
			if file.Doc != nil {
				docs[dir][len(docs[dir])-1] = name
			}
		}
		ast.Inspect(file, func(n ast.Node) bool {
			switch x := n.(type) {
			case *ast.FuncDecl:
				if x.Recv == nil && x.Name.Name == "init" {
					t.Errorf("%s has an init function: wiring is explicit", name)
				}
			case *ast.CallExpr:
				s, ok := x.Fun.(*ast.SelectorExpr)
				if !ok || !test {
					break
				}
				of, _ := s.X.(*ast.Ident)
				if of != nil && of.Name == "time" && s.Sel.Name == "Sleep" {
					t.Errorf("%s sleeps: a test injects its time", name)
				}
				if of != nil && (of.Name == "t" || of.Name == "b") && slices.Contains([]string{"Skip", "Skipf", "SkipNow"}, s.Sel.Name) {
					t.Errorf("%s skips: a test that does not run shows nothing", name)
				}
			}
			return true
		})
	})
	if n < 10 {
		t.Fatalf("%d files found; is %s the module?", n, root)
	}
	for dir, names := range docs {
		if with := slices.DeleteFunc(names, func(s string) bool { return s == "" }); len(with) != 1 {
			t.Errorf("%s has %d package comments %v, not one", dir, len(with), with)
		}
	}
}

func count(t *testing.T, name string) int {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	n := 0
	s := bufio.NewScanner(f)
	s.Buffer(nil, 1<<20)
	for s.Scan() {
		n++
	}
	if s.Err() != nil {
		t.Fatal(name, s.Err())
	}
	return n
}

// The top level is fixed; everything else has its room below.
func TestTopLevel(t *testing.T) {
	fixed := []string{"cmd", "sensor", "thermal", "alert", "deploy", "testdata", "go.mod", "go.sum", "README.md", "DEVELOPERS.md"}
	made := []string{"dist", "node_modules", "ootherm"} // by a build, and ignored
	entries, err := os.ReadDir(root)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if n := e.Name(); !strings.HasPrefix(n, ".") && !slices.Contains(fixed, n) && !slices.Contains(made, n) {
			t.Errorf("%s stands at the top level, which is %s", n, strings.Join(fixed, ", "))
		}
	}
	for _, n := range fixed {
		if !slices.ContainsFunc(entries, func(e fs.DirEntry) bool { return e.Name() == n }) {
			t.Errorf("%s is missing at the top level", n)
		}
	}
}
