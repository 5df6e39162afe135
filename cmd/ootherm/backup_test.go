package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A backup taken while the station runs is the book in another folder; a station
// that runs is not restored under its feet, and no file is written over.
func TestBackupAndRestore(t *testing.T) {
	config, data, listen := small(t)
	if got := do(t, twoEntries, "book", "add", "--config", config); got.code != 0 {
		t.Fatalf("%d: %s", got.code, got.errout)
	}
	r := &eggRoom{t: t, config: config, data: data, listen: listen}
	r.start()
	file := filepath.Join(t.TempDir(), "records.db")
	if got := do(t, "", "backup", "--config", config, file); got.code != 0 {
		t.Fatalf("%d: %s", got.code, got.errout)
	}
	if got := do(t, "", "backup", "--config", config, file); got.code != 1 || !strings.Contains(got.errout, "already") {
		t.Errorf("over a file that is there: %d: %s", got.code, got.errout)
	}
	if got := do(t, "", "restore", "--config", config, file); got.code != 1 || !strings.Contains(got.errout, "another ootherm") {
		t.Errorf("under a running station: %d: %s", got.code, got.errout)
	}
	elsewhere, folder, _ := small(t)
	if got := do(t, "", "restore", "--config", elsewhere, file); got.code != 0 {
		t.Fatalf("%d: %s", got.code, got.errout)
	}
	here, there := do(t, "", "book", "list", "--config", config), do(t, "", "book", "list", "--config", elsewhere)
	if here.out == "" || here.out != there.out {
		t.Errorf("the book restored is %q, was %q (%s)", there.out, here.out, there.errout)
	}
	bad := put(t, t.TempDir(), "bad.db", strings.Repeat("this is no backup\n", 900))
	if got := do(t, "", "restore", "--config", elsewhere, bad); got.code != 1 || !strings.Contains(got.errout, "nothing was changed") {
		t.Errorf("from a file that is none: %d: %s", got.code, got.errout)
	}
	if after := do(t, "", "book", "list", "--config", elsewhere); after.out != here.out {
		t.Errorf("after a refused restore the book is %q", after.out)
	}
	if left, err := os.ReadDir(folder); err != nil || len(left) == 0 {
		t.Errorf("%v, %v", left, err)
	}
}
