package main

import (
	"path/filepath"
	"strings"
	"testing"
)

// Without --config the variable names the configuration, and hints repeat no flag.
func TestDefaultConfiguration(t *testing.T) {
	config, _, _ := small(t)
	t.Setenv("OOTHERM_CONFIG", config)
	if got := do(t, "", "check"); got.code != exitProblem || !strings.HasPrefix(got.out, config+" is in order.") ||
		!strings.Contains(got.errout, "nobody would be told of a critical alarm: there is no sender") {
		t.Errorf("check: %+v", got)
	}
	if got := do(t, "", "book", "note", "dam", "--name", "Olive", "--profile", "crested gecko", "--key", "dam"); got.code != 0 || !strings.HasSuffix(got.errout, "To undo it: ootherm book undo dam\n") {
		t.Errorf("book note: %+v", got)
	}
	t.Setenv("OOTHERM_CONFIG", filepath.Join(t.TempDir(), "none.toml"))
	if got := do(t, "", "book", "note", "dam", "--config", config, "--name", "Ivy", "--key", "dam-2"); got.code != 0 || !strings.HasSuffix(got.errout, "book undo --config "+config+" dam-2\n") {
		t.Errorf("book note with another configuration: %+v", got)
	}
	if got := do(t, "", "probes"); got.code != exitUsage || !strings.Contains(got.errout, "none.toml") {
		t.Errorf("probes with a variable that names no file: %+v", got)
	}
	if got := do(t, "", "windows"); got.code != exitUsage || !strings.Contains(got.errout, "ootherm setup writes a configuration") {
		t.Errorf("windows without a configuration: %+v", got)
	}
	t.Setenv("OOTHERM_CONFIG", "")
	t.Setenv("XDG_CONFIG_HOME", t.TempDir())
	if got := do(t, "", "windows"); got.code != exitUsage || !strings.HasPrefix(got.errout, "ootherm: ootherm is not set up yet; type: ") || !strings.HasSuffix(got.errout, "ootherm setup\n") {
		t.Errorf("windows before setup: %+v", got)
	}
}
