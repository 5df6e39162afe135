// Package benchtest is a bench for tests: folders laid out like the kernel's, a person
// who answers questions, a small configuration.
package benchtest

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"
)

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

// Person answers questions a line at a time, and does what is to be done before
// each answer.
type Person struct {
	T     *testing.T
	Lines []Step
}

type Step struct {
	Line string
	Do   func()
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

// Room is a station's configuration with one kernel probe, whose readings follow.
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

func Script(t *testing.T, lines ...string) *Person {
	p := &Person{T: t}
	for _, l := range lines {
		p.Lines = append(p.Lines, Step{Line: l})
	}
	return p
}

func Noon() time.Time { return time.Date(2027, 1, 5, 12, 0, 0, 0, time.UTC) }
