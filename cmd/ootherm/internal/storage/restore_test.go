package storage

import (
	"bytes"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"

	"go.etcd.io/bbolt"
)

// A restore that is killed at any step is finished or was not made: after the next start, or
// after the next restore, both files are of the same side.
func TestRestoreKilledAtEveryStep(t *testing.T) {
	backup := filepath.Join(t.TempDir(), "backup")
	f := mustOpen(t, t.TempDir(), Options{})
	for n := range uint64(5) {
		if err := f.Records().Update(func(tx *bbolt.Tx) error { return commit(tx, n) }); err != nil {
			t.Fatal(err)
		}
	}
	var copied bytes.Buffer
	if _, err := Backup(f.Records(), &copied); err != nil {
		t.Fatal(err)
	}
	mustClose(t, f)
	if err := os.WriteFile(backup, copied.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	before, after := 0, 0
	for step := 0; ; step++ {
		dir := t.TempDir()
		mustClose(t, mustOpen(t, dir, Options{}))
		err := child(t, restoreVariable+"="+dir, strconv.Itoa(step), backup).Run()
		f := mustOpen(t, dir, Options{})
		records, other := commits(t, f.Records()), commits(t, readings(t, f))
		if records != other || len(f.Damages()) > 0 {
			t.Errorf("killed at step %d: the records have %d commits, the readings %d; damages %v", step, records, other, f.Damages())
		}
		mustClose(t, f)
		if left, err := filepath.Glob(filepath.Join(dir, pendingName+"*")); err != nil || step > 1 && len(left) > 0 {
			t.Errorf("killed at step %d, %v is left, %v", step, left, err)
		}
		switch records {
		case 0:
			before++
		case 5:
			after++
		}
		if err == nil {
			break
		}
		if exit := new(exec.ExitError); !errors.As(err, &exit) || exit.ExitCode() != -1 {
			t.Fatal(err)
		}
	}
	if before < 1 || after < 5 {
		t.Errorf("killed %d times before the restore was decided on, and %d times after", before, after)
	}
}
