package main

import (
	"runtime/debug"
	"strings"
	"testing"
)

// The version can be asked for as a flag and as a command, and names the commit that the
// program was built from.
func TestVersion(t *testing.T) {
	flag, command := do(t, "", "--version"), do(t, "", "version")
	if flag.code != 0 || flag.out == "" || flag.out != command.out {
		t.Errorf("%d %q, %d %q", flag.code, flag.out, command.code, command.out)
	}
	// The texts themselves are compared by the package licence.
	if got := do(t, "", "version", "--licences"); got.code != 0 || !strings.Contains(got.out, "Apache License") || !strings.Contains(got.out, "go.etcd.io/bbolt") {
		t.Errorf("licences: %d, %d bytes", got.code, len(got.out))
	}
	for want, settings := range map[string][]debug.BuildSetting{
		"":                            {{Key: "GOOS", Value: "linux"}},
		" revision abc1":              {{Key: "vcs.revision", Value: "abc1"}, {Key: "vcs.modified", Value: "false"}},
		" revision abc2 with changes": {{Key: "vcs.modified", Value: "true"}, {Key: "vcs.revision", Value: "abc2"}},
	} {
		if got := revision(settings); got != want {
			t.Errorf("%v: %q, want %q", settings, got, want)
		}
	}
}
