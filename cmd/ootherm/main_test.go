package main

import (
	"bytes"
	"context"
	"errors"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"
)

// asMain makes this test binary behave as the program itself, so that what is
// tested is the whole of it in a process of its own.
const asMain = "OOTHERM_TEST_AS_MAIN"

func TestMain(m *testing.M) {
	if os.Getenv(asMain) != "" {
		main()
		return
	}
	os.Unsetenv("GOGC") // the program collects garbage as in production, whatever the tests do
	os.Exit(m.Run())
}

// command is the program, to be run with arguments.
func command(ctx context.Context, args ...string) *exec.Cmd {
	c := exec.CommandContext(ctx, os.Args[0], args...)
	c.Env = append(os.Environ(), asMain+"=1")
	return c
}

// outcome is what a command left.
type outcome struct {
	code        int
	out, errout string
}

// do runs a command to its end.
func do(t *testing.T, stdin string, args ...string) outcome {
	t.Helper()
	c := command(t.Context(), args...)
	var out, errout bytes.Buffer
	c.Stdin, c.Stdout, c.Stderr = bytes.NewBufferString(stdin), &out, &errout
	err := c.Run()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		t.Fatal(err)
	}
	return outcome{c.ProcessState.ExitCode(), out.String(), errout.String()}
}

// put writes a file into a folder.
func put(t *testing.T, dir, name, text string) string {
	t.Helper()
	path := filepath.Join(dir, name)
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// freePort is an address on this machine that nothing listens on.
func freePort(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

// eventually waits for another process to bring something about.
func eventually(t *testing.T, what string, holds func() bool) {
	t.Helper()
	within(t, time.Minute, what, holds)
}

// within waits at most so long for another process to bring something about.
func within(t *testing.T, most time.Duration, what string, holds func() bool) {
	t.Helper()
	tick := time.NewTicker(50 * time.Millisecond)
	defer tick.Stop()
	limit := time.NewTimer(most)
	defer limit.Stop()
	for !holds() {
		select {
		case <-tick.C:
		case <-limit.C:
			t.Fatalf("waited %s in vain: %s", most, what)
		}
	}
}

func must(t *testing.T, path string) []byte {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return b
}
