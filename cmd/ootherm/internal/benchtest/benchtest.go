// Package benchtest helps tests of commands. It owns folders like the kernel's, scripted
// answers to questions and a small configuration. It must not know any command.
package benchtest

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// Lay writes files below a folder, by their relative paths.
func Lay(t *testing.T, root string, files map[string]string) {
	t.Helper()
	for name, text := range files {
		name = filepath.Join(root, name)
		if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// Person is a reader that gives scripted answers, one line per read.
type Person struct {
	T     *testing.T
	Lines []Step
}

// Step is one answer.
type Step struct {
	Line string
	Do   func() // called before the answer; may be nil
}

func (p *Person) Read(b []byte) (int, error) {
	if len(p.Lines) == 0 {
		return 0, io.EOF
	}
	s := p.Lines[0]
	p.Lines = p.Lines[1:]
	if s.Do != nil {
		s.Do()
	}
	return copy(b, s.Line+"\n"), nil
}

// Room writes a configuration with one kernel probe. It returns the file's path, the data
// folder, and a function that makes a function which sets the probe's values.
func Room(t *testing.T) (file, data string, read func(celsius, humidity float64) func()) {
	root := t.TempDir()
	read = func(celsius, humidity float64) func() {
		return func() {
			Lay(t, root, map[string]string{
				"hwmon1/name": "sht4x\n", "hwmon1/temp1_input": fmt.Sprintf("%.0f\n", celsius*1000), "hwmon1/humidity1_input": fmt.Sprintf("%.0f\n", humidity*1e5),
			})
		}
	}
	read(23, 0.5)()
	Lay(t, root, map[string]string{"egg.toml": fmt.Sprintf(`
[station]
data   = %q
listen = "127.0.0.1:0"
every  = "100ms"
[[probe]]
name   = "shelf"
driver = "hwmon"
path   = %q
offset = "0.5C"
[[zone]]
name   = "room"
probes = ["shelf"]
`, filepath.Join(root, "data"), filepath.Join(root, "hwmon1"))})
	return filepath.Join(root, "egg.toml"), filepath.Join(root, "data"), read
}

// Script returns a person who gives these answers.
func Script(t *testing.T, lines ...string) *Person {
	p := &Person{T: t}
	for _, l := range lines {
		p.Lines = append(p.Lines, Step{Line: l})
	}
	return p
}

// Noon returns a fixed time at noon.
func Noon() time.Time { return time.Date(2027, 1, 5, 12, 0, 0, 0, time.UTC) }
