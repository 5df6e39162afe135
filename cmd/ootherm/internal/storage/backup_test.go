package storage

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"go.etcd.io/bbolt"
)

func TestBackupCanBeRestored(t *testing.T) {
	from, to := t.TempDir(), t.TempDir()
	f := mustOpen(t, from, Options{})
	for n := range uint64(30) {
		if err := f.Records().Update(func(tx *bbolt.Tx) error { return commit(tx, n) }); err != nil {
			t.Fatal(err)
		}
	}
	var copied bytes.Buffer
	if n, err := Backup(f.Records(), &copied); err != nil || n != int64(copied.Len()) {
		t.Fatalf("%d bytes of %d, %v", n, copied.Len(), err)
	}
	want := commits(t, f.Records())
	mustClose(t, f)

	f = mustOpen(t, to, Options{})
	if err := f.Records().Update(func(tx *bbolt.Tx) error { return commit(tx, 1) }); err != nil {
		t.Fatal(err)
	}
	mustClose(t, f)
	kept, err := Restore(t.Context(), to, []Replacement{{RecordsName, &copied}}, Options{})
	if err != nil || len(kept) != 1 || filepath.Dir(kept[0]) != to {
		t.Fatalf("the replaced files are now %q, %v", kept, err)
	}
	f = mustOpen(t, to, Options{})
	if got := commits(t, f.Records()); got != want || want == 0 {
		t.Errorf("%d commits, want %d", got, want)
	}
	if d := f.Damages(); len(d) != 0 {
		t.Errorf("damages %v", d)
	}
	mustClose(t, f)
}

func TestDamagedBackupChangesNothing(t *testing.T) {
	dir := t.TempDir()
	mustClose(t, mustOpen(t, dir, Options{}))
	for name, content := range map[string]string{RecordsName: "not a store", "other.db": ""} {
		if _, err := Restore(t.Context(), dir, []Replacement{{name, strings.NewReader(content)}}, Options{}); err == nil {
			t.Errorf("%s was restored from %q", name, content)
		}
	}
	wantFiles(t, dir, lockName, cleanName, ReadingsName, RecordsName)
}

func TestRestoreIntoAnEmptyDirectory(t *testing.T) {
	from, to := t.TempDir(), filepath.Join(t.TempDir(), "new")
	f := mustOpen(t, from, Options{})
	var copied bytes.Buffer
	if _, err := Backup(f.Records(), &copied); err != nil {
		t.Fatal(err)
	}
	mustClose(t, f)
	if kept, err := Restore(t.Context(), to, []Replacement{{RecordsName, &copied}}, Options{}); err != nil || len(kept) != 0 {
		t.Errorf("%q, %v", kept, err)
	}
	mustClose(t, mustOpen(t, to, Options{}))
}

// Of two files one is damaged: both stay as they were.
func TestRestoreIsAllOrNone(t *testing.T) {
	from, to := t.TempDir(), t.TempDir()
	f := mustOpen(t, from, Options{})
	var copied bytes.Buffer
	if _, err := Backup(f.Records(), &copied); err != nil {
		t.Fatal(err)
	}
	mustClose(t, f)
	f = mustOpen(t, to, Options{})
	if err := f.Records().Update(func(tx *bbolt.Tx) error { return commit(tx, 1) }); err != nil {
		t.Fatal(err)
	}
	want := commits(t, f.Records())
	mustClose(t, f)
	both := []Replacement{{RecordsName, &copied}, {ReadingsName, strings.NewReader("not a store")}}
	if kept, err := Restore(t.Context(), to, both, Options{}); err == nil || len(kept) != 0 {
		t.Errorf("restored: %q, %v", kept, err)
	}
	wantFiles(t, to, lockName, cleanName, ReadingsName, RecordsName)
	f = mustOpen(t, to, Options{})
	if got := commits(t, f.Records()); got != want {
		t.Errorf("%d commits, want %d", got, want)
	}
	mustClose(t, f)
}

// freeTail is a records' file whose last pages are free.
func freeTail(t *testing.T) []byte {
	t.Helper()
	f := mustOpen(t, t.TempDir(), Options{})
	large := []byte("large")
	err := f.Records().Update(func(tx *bbolt.Tx) error {
		b, err := tx.CreateBucket(large)
		if err != nil {
			return err
		}
		return b.Put(large, make([]byte, 64<<10))
	})
	if err != nil {
		t.Fatal(err)
	}
	for n := range uint64(4) { // the roots move into the low pages, which are free by now
		err := f.Records().Update(func(tx *bbolt.Tx) error {
			if n == 0 {
				return tx.DeleteBucket(large)
			}
			return commit(tx, n)
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	var copied bytes.Buffer
	if _, err := Backup(f.Records(), &copied); err != nil {
		t.Fatal(err)
	}
	mustClose(t, f)
	return copied.Bytes()
}

// A file that lacks free pages alone is repaired, and nothing is lost. A file that lacks more
// is set aside.
func TestAFileWithoutItsFreePagesIsRepaired(t *testing.T) {
	whole := freeTail(t)
	for _, missing := range []int{1, 4 << 10, 32 << 10, len(whole) - 3*4<<10} {
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, RecordsName), whole[:len(whole)-missing], 0o600); err != nil {
			t.Fatal(err)
		}
		f := mustOpen(t, dir, Options{})
		readings(t, f)
		d := f.Damages()
		if len(d) != 1 {
			t.Fatalf("without %d bytes: damages %v", missing, d)
		}
		if kept := missing <= 32<<10; d[0].Complete != kept || d[0].Repaired != kept || kept != (commits(t, f.Records()) == 4) || kept != strings.Contains(d[0].Error(), "nothing is lost") {
			t.Errorf("without %d of %d bytes: %+v, %d commits: %v", missing, len(whole), *d[0], commits(t, f.Records()), d[0])
		}
		if err := f.Records().Update(func(tx *bbolt.Tx) error { return commit(tx, 9) }); err != nil {
			t.Errorf("without %d bytes it takes no commit: %v", missing, err)
		}
		mustClose(t, f)
		again := mustOpen(t, dir, Options{})
		if n := commits(t, again.Records()); n != 10 || len(again.Damages()) > 0 {
			t.Errorf("without %d bytes: at the next start %d commits, damages %v", missing, n, again.Damages())
		}
		mustClose(t, again)
	}
}

// The tail of a store can be free pages. Without them the store cannot be written, so it is
// no backup.
func TestBackupThatEndsEarlyIsRefused(t *testing.T) {
	whole := freeTail(t)
	to := t.TempDir()
	for _, missing := range []int{1, 4 << 10, 32 << 10} {
		part := bytes.NewReader(whole[:len(whole)-missing])
		if _, err := Restore(t.Context(), to, []Replacement{{RecordsName, part}}, Options{}); err == nil {
			t.Errorf("restored without the last %d of %d bytes", missing, len(whole))
		}
	}
	wantFiles(t, to, lockName)
	if _, err := Restore(t.Context(), to, []Replacement{{RecordsName, bytes.NewReader(whole)}}, Options{RecordsSize: len(whole) - 1}); err == nil {
		t.Error("restored a file that is too large")
	}
	wantFiles(t, to, lockName)
}
