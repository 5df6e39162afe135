package storage

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// checks are the two ways to check a file: in a child, and in this process.
var checks = map[string]func(context.Context, string, time.Duration) error{
	"in a child": func(ctx context.Context, path string, limit time.Duration) error {
		return check(ctx, RecordsName, path, limit)
	},
	"here": examineHere,
}

func TestCheckFindsDamage(t *testing.T) {
	dir := t.TempDir()
	mustClose(t, mustOpen(t, dir, Options{}))
	sound, err := os.ReadFile(filepath.Join(dir, RecordsName))
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range checks {
		t.Run(name, func(t *testing.T) {
			for what, content := range map[string][]byte{
				"sound": sound, "empty": {}, "words": []byte("these are words"), "zeros": make([]byte, len(sound)),
				"short": sound[:8192], "no free list": append(append([]byte(nil), sound[:8192]...), make([]byte, 8192)...),
			} {
				path := filepath.Join(t.TempDir(), "file")
				if err := os.WriteFile(path, content, 0o600); err != nil {
					t.Fatal(err)
				}
				if what == "short" && name == "here" {
					continue // reading past its end would crash this process
				}
				err := c(t.Context(), path, time.Minute)
				if bad := errors.As(err, new(*badError)); bad != (what != "sound") || !bad && err != nil {
					t.Errorf("a file that is %s: %v", what, err)
				}
			}
			if err := c(t.Context(), filepath.Join(dir, "none"), time.Minute); !errors.Is(err, os.ErrNotExist) {
				t.Errorf("a file that is not there: %v", err)
			}
		})
	}
}

func TestCheckStopsAtItsLimit(t *testing.T) {
	dir := t.TempDir()
	mustClose(t, mustOpen(t, dir, Options{}))
	path := filepath.Join(dir, RecordsName)
	err := check(t.Context(), RecordsName, path, time.Nanosecond)
	if bad := new(badError); !errors.As(err, &bad) || !strings.Contains(bad.why, "did not end within 1ns") {
		t.Errorf("past its limit: %v", err)
	}
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	if err := check(gone, RecordsName, path, time.Minute); !errors.Is(err, context.Canceled) {
		t.Errorf("its context ended: %v", err)
	}
}

func TestFailedCheckIsNotDamage(t *testing.T) {
	dir := t.TempDir()
	mustClose(t, mustOpen(t, dir, Options{}))
	path := filepath.Join(dir, RecordsName)
	for name, want := range map[string]string{
		"hangs":    "its check did not end within 300ms",
		"panics":   "its pages contradict each other (at this page)",
		"crashes":  "its pages contradict each other (where nobody recovers",
		"faults":   "its pages contradict each other (",
		"is ended": "",
	} {
		limit := time.Minute
		if name == "hangs" {
			limit = 300 * time.Millisecond
		}
		err := check(t.Context(), name, path, limit)
		bad := new(badError)
		if isBad := errors.As(err, &bad); err == nil || isBad != (want != "") || !strings.HasPrefix(bad.why, want) {
			t.Errorf("a check that %s: %v", name, err)
		}
	}
}
