package main

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"example.com/ootherm/cmd/ootherm/internal/manual"
)

const repository = "../.."

// pages are all texts for users: README.md and the topics, by name.
func pages(t *testing.T) map[string]string {
	t.Helper()
	readme, err := os.ReadFile(filepath.Join(repository, "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	all := map[string]string{"README.md": string(readme)}
	for _, topic := range manual.Topics() {
		all[topic.Name] = topic.Markdown()
	}
	return all
}

func TestHelp(t *testing.T) {
	if got := do(t, "", "help"); got.code != 0 || !strings.Contains(got.out, "\n    first-clutch ") || !strings.Contains(got.out, "\n  review ") {
		t.Errorf("help ended with %d and lists no topics or no commands:\n%s", got.code, got.out)
	}
	for _, topic := range manual.Topics()[:2] {
		if got := do(t, "", "help", topic.Name); got.code != 0 || !strings.HasPrefix(got.out, topic.Title+"\n") {
			t.Errorf("help %s ended with %d: %.80q", topic.Name, got.code, got.out)
		}
	}
	for _, command := range [][]string{{"review"}, {"book", "note", "found"}} {
		if got := do(t, "", append([]string{"help"}, command...)...); got.code != 0 || !strings.Contains(got.out, "Usage:\n  ootherm "+strings.Join(command, " ")) {
			t.Errorf("help %v ended with %d: %s", command, got.code, got.out)
		}
	}
	if got := do(t, "", "help", "purge"); got.code != 0 || !strings.Contains(got.out, "sudo apt purge ootherm") {
		t.Errorf("help purge ended with %d and says nothing of it: %s%s", got.code, got.out, got.errout)
	}
	if got := do(t, "", "help", "no-such-thing"); got.code != exitUsage || !strings.Contains(got.errout, "ootherm help") {
		t.Errorf("help of nothing ended with %d: %s", got.code, got.errout)
	}
}

// walk visits every command but those that cobra brings.
func walk(c *cobra.Command, visit func(*cobra.Command)) {
	for _, x := range c.Commands() {
		if x.Name() == "completion" {
			continue
		}
		visit(x)
		walk(x, visit)
	}
}

// A topic that had the name of a command could not be asked for.
func TestTopicsAreNoCommands(t *testing.T) {
	walk(rootCommand(), func(c *cobra.Command) {
		if _, ok := manual.Find(c.Name()); ok && c.Parent().Name() == "ootherm" {
			t.Errorf("%s is a command and a topic", c.Name())
		}
		for _, name := range topicsOf(strings.TrimPrefix(c.CommandPath(), "ootherm ")) {
			if _, ok := manual.Find(name); !ok {
				t.Errorf("%s points to %s, which is no topic", c.CommandPath(), name)
			}
		}
	})
}

// The table of commands names each command once.
func TestTableOfCommands(t *testing.T) {
	topic, ok := manual.Find("commands")
	if !ok {
		t.Fatal("no topic commands")
	}
	var listed []string
	for _, m := range regexp.MustCompile("(?m)^\\| `ootherm ([a-z -]+)` \\|").FindAllStringSubmatch(topic.Markdown(), -1) {
		listed = append(listed, m[1])
	}
	want := []string{"completion", "help"} // cobra adds both when it runs
	walk(rootCommand(), func(c *cobra.Command) {
		path := strings.TrimPrefix(c.CommandPath(), "ootherm ")
		if path != "book" && !strings.HasPrefix(path, "book note ") { // a page lists the forms
			want = append(want, path)
		}
	})
	slices.Sort(listed)
	slices.Sort(want)
	if !slices.Equal(listed, want) {
		t.Errorf("the table has\n%v\nthe program\n%v", listed, want)
	}
}

var (
	codeSpans = regexp.MustCompile("`([^`\n]+)`")
	fences    = regexp.MustCompile("(?ms)^ *```([a-z]*)\n(.*?)^ *```")
	// notOurs are lines where ootherm is a unit, a user or a group.
	notOurs   = regexp.MustCompile(`systemctl|journalctl|adduser|install -m`)
	longFlags = regexp.MustCompile(`^--([a-z][a-z0-9-]*)`)
)

// commandLines are the lines of code in a text that call the program, each with its
// continuation lines.
func commandLines(text string) []string {
	var all []string
	add := func(code string) {
		for _, line := range strings.Split(strings.ReplaceAll(code, "\\\n", " "), "\n") {
			if _, after, ok := strings.Cut(" "+line, " ootherm "); ok && !notOurs.MatchString(line) {
				after, _, _ = strings.Cut(strings.TrimPrefix(after, "ootherm "), "#")
				all = append(all, strings.TrimRight(after, ") "))
			}
		}
	}
	for _, m := range fences.FindAllStringSubmatch(text, -1) {
		if m[1] == "" {
			add(m[2])
		}
	}
	for _, m := range codeSpans.FindAllStringSubmatch(fences.ReplaceAllString(text, ""), -1) {
		if strings.Contains(m[1], "ootherm ") {
			add(m[1])
		}
	}
	return all
}

// Every command line of the texts is one that the program takes, with flags that the
// command has.
func TestCommandsInTheTexts(t *testing.T) {
	n := 0
	for name, text := range pages(t) {
		for _, line := range commandLines(text) {
			n++
			if fault := commandFault(line); fault != "" {
				t.Errorf("%s: ootherm %s: %s", name, line, fault)
			}
		}
	}
	if n < 50 {
		t.Errorf("only %d command lines found in the texts", n)
	}
}

// commandFault returns what the program does not take of a command line, or nothing.
// Topics after help have a test of their own, and cobra adds completion when it runs.
func commandFault(line string) string {
	line, _, _ = strings.Cut(line, " > ")
	line, _, _ = strings.Cut(line, " | ")
	args := strings.Fields(line)
	if len(args) > 0 && (args[0] == "help" || args[0] == "completion") {
		return ""
	}
	command, rest, err := rootCommand().Find(args)
	if err != nil || !command.HasParent() {
		return "no such command"
	}
	for _, arg := range rest {
		m := longFlags.FindStringSubmatch(arg)
		if m != nil && m[1] != "help" && command.Flags().Lookup(m[1]) == nil && command.InheritedFlags().Lookup(m[1]) == nil {
			return "no flag --" + m[1]
		}
	}
	return ""
}

// A flag that stands alone in a text belongs to some command.
func TestFlagsInTheTexts(t *testing.T) {
	flags := map[string]bool{"--help": true}
	walk(rootCommand(), func(c *cobra.Command) {
		for _, f := range strings.Fields(c.LocalFlags().FlagUsages()) {
			if m := longFlags.FindStringSubmatch(f); m != nil {
				flags["--"+m[1]] = true
			}
		}
	})
	for name, text := range pages(t) {
		for _, m := range codeSpans.FindAllStringSubmatch(fences.ReplaceAllString(text, ""), -1) {
			if f := longFlags.FindString(m[1]); f != "" && !flags[f] {
				t.Errorf("%s: no command has %s", name, f)
			}
		}
	}
}

// The README is read in one go; each of its links leads to a file of the repository,
// and it leads to each topic.
func TestReadme(t *testing.T) {
	const (
		most     = 14 << 10 // bytes; our choice
		mostLine = 92       // characters, but for tables
		topics   = "cmd/ootherm/internal/manual/topics/"
	)
	text := pages(t)["README.md"]
	if len(text) > most {
		t.Errorf("README.md has %d bytes, over %d: move the rest to a topic", len(text), most)
	}
	for i, line := range strings.Split(text, "\n") {
		if !strings.HasPrefix(line, "|") && utf8.RuneCountInString(line) > mostLine {
			t.Errorf("README.md:%d is over %d characters", i+1, mostLine)
		}
	}
	for _, m := range regexp.MustCompile(`\]\(([^)#]+)|src="([^"]+)`).FindAllStringSubmatch(text, -1) {
		if _, err := os.Stat(filepath.Join(repository, filepath.FromSlash(m[1]+m[2]))); err != nil {
			t.Errorf("README.md links to %s: %v", m[1]+m[2], err)
		}
	}
	for _, topic := range manual.Topics() {
		if topic.Name != "cautions" && !strings.Contains(text, "["+topic.Name+"]("+topics+topic.Name+".md)") { // they stand whole in README.md
			t.Errorf("README.md does not lead to %s", topic.Name)
		}
	}
}

// The man pages cover every command and topic, and are the same each time.
func TestManPages(t *testing.T) {
	first, second := t.TempDir(), t.TempDir()
	for _, folder := range []string{first, second} {
		if got := do(t, "", "help", "--man", folder); got.code != 0 {
			t.Fatalf("ended with %d: %s", got.code, got.errout)
		}
	}
	made, err := os.ReadDir(first)
	if err != nil {
		t.Fatal(err)
	}
	if want := 1 + len(manual.Topics()); len(made) != want {
		t.Errorf("%d pages made, want %d", len(made), want)
	}
	for _, f := range made {
		a, errA := os.ReadFile(filepath.Join(first, f.Name()))
		b, errB := os.ReadFile(filepath.Join(second, f.Name()))
		if errA != nil || errB != nil || string(a) != string(b) {
			t.Errorf("%s differs: %v %v", f.Name(), errA, errB)
		}
		if !strings.HasPrefix(string(a), ".TH ") {
			t.Errorf("%s is no man page", f.Name())
		}
	}
	program, err := os.ReadFile(filepath.Join(first, "ootherm.1"))
	if err != nil {
		t.Fatal(err)
	}
	walk(rootCommand(), func(c *cobra.Command) {
		if head := ".SS \"" + strings.ReplaceAll(c.CommandPath(), "-", `\-`) + "\"\n"; c.Name() != "help" && !strings.Contains(string(program), head) {
			t.Errorf("ootherm(1) has no %s", c.CommandPath())
		}
	})
}

// What the texts name of the repository is there: tests, benchmarks, files and folders.
func TestWhatTheTextsNameIsThere(t *testing.T) {
	functions := map[string]bool{}
	declared := regexp.MustCompile(`(?m)^func (?:Test|Benchmark)(\w+)\(`)
	err := filepath.WalkDir(repository, func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && (d.Name() == ".git" || d.Name() == "node_modules"):
			return fs.SkipDir
		case d.IsDir() || !strings.HasSuffix(path, "_test.go"):
			return nil
		}
		text, err := os.ReadFile(path)
		for _, m := range declared.FindAllStringSubmatch(string(text), -1) {
			functions[m[1]] = true
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	named := regexp.MustCompile("`Test(\\w+)`|the benchmark `(\\w+)`")
	paths := regexp.MustCompile(`\b(?:testdata|deploy|thermal|sensor|alert|cmd)/[A-Za-z0-9/._-]*[A-Za-z0-9]`)
	n := 0
	for name, text := range pages(t) {
		for _, m := range named.FindAllStringSubmatch(text, -1) {
			n++
			if !functions[m[1]+m[2]] {
				t.Errorf("%s names the test %s, which is gone", name, m[1]+m[2])
			}
		}
		for _, path := range paths.FindAllString(text, -1) {
			n++
			if _, err := os.Stat(filepath.Join(repository, filepath.FromSlash(path))); err != nil {
				t.Errorf("%s names %s, which is gone", name, path)
			}
		}
	}
	if n < 20 {
		t.Errorf("only %d names found", n)
	}
}
