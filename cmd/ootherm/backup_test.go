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
	if got := do(t, "", "backup", "--config", config, file); got.code != 0 || !strings.Contains(got.errout, "does not hold the readings, the passphrase and the configuration: also copy "+filepath.Dir(config)+".\n") {
		t.Fatalf("%d: %s", got.code, got.errout)
	}
	if got := do(t, "", "backup", "--config", config, file); got.code != 1 || !strings.Contains(got.errout, "already") {
		t.Errorf("over a file that is there: %d: %s", got.code, got.errout)
	}
	if got := do(t, "", "restore", "--config", config, file); got.code != 1 || got.errout != "ootherm: another ootherm is running on "+data+"; stop it first: sudo systemctl stop ootherm\n" {
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

// A command without its argument says what is missing and shows the line to type.
func TestMissingArgument(t *testing.T) {
	config, _, _ := small(t)
	for _, c := range []struct {
		args []string
		says string
	}{
		{[]string{"backup"}, "backup needs the file to write; type it like: ootherm backup /media/stick/records-2026-06-01.db"},
		{[]string{"restore"}, "restore needs what to restore from: a backup, a copy of the book, or the data folder of an old card; type it like: sudo ootherm restore "},
		{[]string{"calibrate"}, "calibrate needs the name of a probe; type it like: ootherm calibrate dummy-box"},
		{[]string{"book", "undo"}, "book undo needs the key of an entry; type it like: ootherm book undo c-"},
		{[]string{"backup", "my", "stick"}, "backup takes one argument, the file to write, and got 2; put a name with spaces in quotes"},
	} {
		if got := do(t, "", append(c.args, "--config", config)...); got.code != 2 || !strings.Contains(got.errout, c.says) {
			t.Errorf("%v: %+v, want 2 and %q", c.args, got, c.says)
		}
	}
}

// A backup names the folder that it cannot write in, and no file of its own.
func TestBackupNamesTheFolder(t *testing.T) {
	config, _, _ := small(t)
	dir := t.TempDir()
	file := put(t, dir, "file", "")
	for _, c := range []struct{ path, says string }{
		{filepath.Join(dir, "stick", "records.db"), "the folder " + filepath.Join(dir, "stick") + " is missing"},
		{filepath.Join(file, "records.db"), file + " is a file, and no folder for records.db"},
	} {
		if got := do(t, "", "backup", "--config", config, c.path); got.code != 2 || !strings.Contains(got.errout, c.says) {
			t.Errorf("%s: %+v, want 2 and %q", c.path, got, c.says)
		}
	}
}
