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

// The roots are the domain: four packages that compute. They can be read, tested and trusted
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
			t.Errorf("%s stands on %s: a root imports the standard library alone (book may use thermal); the station translates between them", name, d)
		}
	}
}

// layers orders the packages of the command. A package imports from the rows above
// its own alone, so that each can be understood with what stands above it.
var layers = []struct {
	why      string
	packages []string
}{
	{"every answer of an error to a program has one form", []string{"problem"}},
	{"a leaf imports nothing of ours", []string{"usererr", "clock", "snapshot", "qr", "shellword", "spelling", "manual", "licence", "rebuild", "listener", "dialer", "web/chart", "web/response"}},
	{"it writes what a leaf embeds", []string{"licence/generate"}},
	{"it says where a file is and who may use it, or writes lines, and knows nothing of a station", []string{"configpath", "permission", "logging"}},
	{"it reads or writes files of one kind", []string{"config", "storage", "atomicfile"}},
	{"it keeps secrets in one file", []string{"passphrase", "readtoken"}},
	{"it says or draws what a leaf holds", []string{"words", "prompt", "label", "demo", "metrics", "brokerstate"}},
	{"it says in the terms of a domain what the configuration names", []string{"plan", "probeconfig", "forms"}},
	{"it holds what all pages share", []string{"web/page"}},
	{"it serves one kind of page, or programs", []string{"web/access", "web/api", "web/changes", "web/alarmpages", "web/calendar", "web/labels", "web/seasons"}},
	{"it serves pages that lead to those of the row above", []string{"web/zones", "web/notes"}},
	{"it writes what the row above embeds", []string{"web/api/generate"}},
	{"it shows one thing a page, with what the rows above show of it", []string{"web/bookpages"}},
	{"it finds what has a page in the rows above", []string{"web/search"}},
	{"it makes or looks back at what a plan names", []string{"senders", "incident", "rehearsal"}},
	{"it says what the station hands it as values, and knows no station", []string{"notice"}},
	{"it reads stored readings back, and does not know what for", []string{"station/pastreadings"}},
	{"it follows readings to zones or to eggs, and tells nobody", []string{"station/conditions", "station/exposures"}},
	{"it makes snapshot values of what is handed to it", []string{"station/published"}},
	{"it computes from eggs and book, or writes down, and knows no rule of an alarm", []string{"station/care", "station/windows", "station/journal"}},
	{"it foretells from the care of boxes and stored readings, and tells nobody", []string{"station/waterloss"}},
	{"it shows the rules what the rows above know", []string{"station/rulesview"}},
	{"it makes messages of what the rows above know", []string{"station/messages"}},
	{"it does not know how it is served or stored", []string{"web", "station", "bookcopy"}},
	{"it keeps what a station is given in a goroutine beside it", []string{"replay/pipeline"}},
	{"it joins the stores, the probes and the page to a station", []string{"daemon"}},
	{"it asks a station, running or opened by the daemon", []string{"client"}},
	{"it serves one command", []string{"probes", "calibrate", "check", "replay", "restore"}},
	{"it serves one command, and ends in the others", []string{"setup"}},
}

// A driver that waits for the kernel without a limit would stop the station.
func TestNothingWaitsForTheKernel(t *testing.T) {
	program, ok := packages(t)[module+"/cmd/ootherm"]
	if !ok {
		t.Fatal("the program is missing")
	}
	if slices.Contains(program.Deps, "periph.io/x/host/v3/netlink") {
		t.Error("the program holds periph.io/x/host/v3/netlink: its start waits for an answer of the kernel, which may never come")
	}
}

func TestLayers(t *testing.T) {
	layer := map[string]int{}
	for i, row := range layers {
		for _, p := range row.packages {
			layer[below+p] = i + 1
		}
	}
	for importer, p := range packages(t) {
		from, ok := ours(importer)
		if !ok || !strings.HasPrefix(from, below) || fake(from) {
			continue
		}
		if layer[from] == 0 {
			t.Errorf("%s is in no layer of this test", from)
			continue
		}
		for _, i := range p.Imports {
			to, ok := ours(i)
			if ok && strings.HasPrefix(to, below) && layer[to] >= layer[from] {
				t.Errorf("%s imports %s: %s", from, to, layers[layer[from]-1].why)
			}
			if ok && layer[from] == 1 {
				t.Errorf("%s imports %s: %s", from, to, layers[0].why)
			}
		}
	}
}

// fake reports whether a package is for tests alone.
func fake(p string) bool {
	base := path.Base(p)
	return strings.HasSuffix(base, "test") && base != "backtest" // a backtest is no fake: it judges on recordings
}

// rooms are packages below a root that only some may import, with the reason. What is
// not listed, anybody may import.
var rooms = []struct {
	packages []string
	by       []string // with what stands below these
	why      string
}{
	{
		[]string{"sensor/history", "alert/alertlog", "thermal/forecastlog"}, []string{below + "station", below + "daemon", below + "replay"},
		"a store is joined to a station by the daemon and the replay; the station knows the types that it stores",
	},
	{
		[]string{"thermal/track", "thermal/forecast"}, []string{below + "station"},
		"windows are computed in one place; who shows them reads the snapshot",
	},
	{
		[]string{"alert/rules"}, []string{below + "station"},
		"what each kind of alarm watches is decided in one place; who shows alarms reads the snapshot",
	},
	{
		[]string{"alert/panel"}, []string{"alert/rules", below + "station", below + "daemon", below + "client", "cmd/ootherm"},
		"the state of the alarms changes by rules and by what a person does; the daemon and the client hand on the latter",
	},
	{
		[]string{"thermal/book/ledger"}, []string{below + "daemon", below + "replay"},
		"a store is joined to a station by the daemon and the replay",
	},
	{
		[]string{"alert/outbox"}, []string{below + "daemon", below + "replay", below + "senders", below + "bookcopy"},
		"messages are delivered by the daemon; a sender is a route of the outbox",
	},
	{
		[]string{"sensor/aht20", "sensor/bme280", "sensor/hdc302x", "sensor/htu21", "sensor/mcp9808", "sensor/sht3x", "sensor/sht4x", "sensor/tmp117"},
		[]string{"sensor/catalog"}, "a driver is opened in one place",
	},
	{
		[]string{"sensor/scrape", "sensor/mqtt"}, []string{"sensor/catalog", below + "probeconfig"}, "the configuration names what it reads, and the catalog opens it",
	},
	{
		[]string{"sensor/catalog"}, []string{"sensor/inventory", below + "probeconfig", below + "probes", below + "setup", below + "check"},
		"the catalog brings every driver along: only what opens, finds or configures probes takes it",
	},
	{
		[]string{"sensor/inventory"}, []string{below + "inventorytest", below + "probes", below + "setup", below + "calibrate", below + "check", "cmd/ootherm"},
		"a scan is for commands: the station knows its probes from the configuration",
	},
	{
		[]string{"sensor/zone"}, []string{below + "station"}, "the station computes a zone's temperature; the others read it from the snapshot",
	},
	{
		[]string{"alert/alertmanager", "alert/email", "alert/output", "alert/webhook"}, []string{below + "senders"}, "a sender is made in one place",
	},
}

// What only some may import is imported by these alone; fakes are for tests, and the
// roots' packages know nothing of the command.
func TestDirection(t *testing.T) {
	for importer, p := range packages(t) {
		from, ok := ours(importer)
		if !ok {
			continue
		}
		for _, i := range p.Imports {
			to, ok := ours(i)
			if !ok {
				continue
			}
			for _, r := range rooms {
				by := slices.ContainsFunc(r.by, func(b string) bool { return under(from, b) })
				own := slices.ContainsFunc(r.packages, func(x string) bool { return under(from, x) })
				if slices.ContainsFunc(r.packages, func(x string) bool { return under(to, x) }) && !by && !own && !fake(from) {
					t.Errorf("%s imports %s: %s", from, to, r.why)
				}
			}
			if under(to, "cmd") && !under(from, "cmd") {
				t.Errorf("%s imports %s: a root's package knows nothing of the command", from, to)
			}
			if fake(to) && !fake(from) {
				t.Errorf("%s imports %s: fakes are for tests", from, to)
			}
		}
	}
}

// blind are packages with what they must not import, with the reason.
var blind = []struct {
	pkg, to, why string
}{
	{below + "notice", "sensor", "a message says what the station knows, as plain values: a test of it needs no readings"},
	{below + "station/pastreadings", "alert", "who rebuilds from stored readings says what for"},
	{below + "station/exposures", "alert", "what eggs felt is the same whatever it alarms"},
	{below + "station/windows", "alert", "a window is computed alike with and without alarms"},
	{below + "station/care", "sensor", "the care of boxes and dams comes from the book"},
	{below + "station/care", "alert", "the care of boxes and dams comes from the book"},
	{below + "station/waterloss", "alert", "what a box loses is the same whatever it alarms"},
	{below + "station/journal", "sensor", "alarms are written down whatever they are about"},
	{below + "station/journal", "thermal", "alarms are written down whatever they are about"},
}

func TestBlind(t *testing.T) {
	all := packages(t)
	for _, b := range blind {
		p, ok := all[module+"/"+b.pkg]
		if !ok {
			t.Errorf("%s is missing", b.pkg)
		}
		for _, i := range p.Imports {
			if to, ok := ours(i); ok && under(to, b.to) {
				t.Errorf("%s imports %s: %s", b.pkg, to, b.why)
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
const maxLines, maxTestLines = 400, 500

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
		test := strings.HasSuffix(name, "_test.go")
		most := maxLines
		if test {
			most = maxTestLines
		}
		if lines := count(t, name); lines > most {
			t.Errorf("%s has %d lines, over %d: split it", name, lines, most)
		}
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
