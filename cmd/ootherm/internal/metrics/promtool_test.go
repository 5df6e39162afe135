//go:build tools

package metrics

import (
	"bytes"
	"errors"
	"os/exec"
	"slices"
	"strings"
	"testing"
)

// promtool comes with Debian's package prometheus.
func TestPromtoolReadsTheScrape(t *testing.T) {
	cmd := exec.Command("promtool", "check", "metrics")
	cmd.Stdin = strings.NewReader(scrape(t, station()))
	var out bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &out
	err := cmd.Run()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		t.Fatalf("promtool does not run: %v; install the package prometheus", err)
	}
	if exit != nil && exit.ExitCode() != 3 { // 3: lint problems, compared below
		t.Fatalf("promtool cannot read the scrape: %v\n%s", err, &out)
	}
	got := strings.Fields(strings.TrimSpace(out.String()))
	want := strings.Fields(strings.Join(meant, "\n"))
	if !slices.Equal(got, want) {
		t.Errorf("promtool says:\n%s\nand is meant to say:\n%s", &out, strings.Join(meant, "\n"))
	}
}
