package storage

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"go.etcd.io/bbolt"
)

// spoilReadings changes the readings' file so that a check finds it, but not its meta pages.
func spoilReadings(t *testing.T, dir string) {
	t.Helper()
	path := filepath.Join(dir, ReadingsName)
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	copy(b[2*os.Getpagesize():], bytes.Repeat([]byte("?"), 3*os.Getpagesize()))
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
}

func TestReadingsThatWereClosedInOrderAreNotChecked(t *testing.T) {
	commitOne := func(t *testing.T, f *Files) {
		t.Helper()
		if err := readings(t, f).Update(func(tx *bbolt.Tx) error { return commit(tx, 1) }); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range []struct {
		name    string
		after   func(*testing.T, string) // what happens after the readings were closed
		checked bool
	}{
		{"closed in order", func(*testing.T, string) {}, false},
		{"written by another program", func(t *testing.T, dir string) {
			db, err := open(filepath.Join(dir, ReadingsName), 1<<20, 0)
			if err != nil {
				t.Fatal(err)
			}
			if err := db.Update(func(tx *bbolt.Tx) error { return commit(tx, 2) }); err != nil {
				t.Fatal(err)
			}
			if err := db.Close(); err != nil {
				t.Fatal(err)
			}
		}, true},
		{"longer", func(t *testing.T, dir string) {
			path := filepath.Join(dir, ReadingsName)
			if err := os.Truncate(path, 1<<20); err != nil {
				t.Fatal(err)
			}
		}, true},
		{"an incomplete note", func(t *testing.T, dir string) {
			if err := os.Truncate(filepath.Join(dir, cleanName), 9); err != nil {
				t.Fatal(err)
			}
		}, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			f := mustOpen(t, dir, Options{})
			commitOne(t, f)
			mustClose(t, f)
			c.after(t, dir)
			// The damage shows whether the file is checked.
			spoilReadings(t, dir)
			f, err := Open(t.Context(), dir, Options{})
			if err != nil {
				t.Fatal(err)
			}
			defer f.Close()
			<-f.ready
			if got := len(f.Damages()) > 0; got != c.checked {
				t.Errorf("checked %t, want %t", got, c.checked)
			}
		})
	}
}

func TestReadingsAreCheckedAfterACrash(t *testing.T) {
	dir := t.TempDir()
	mustClose(t, mustOpen(t, dir, Options{}))
	f := mustOpen(t, dir, Options{})
	readings(t, f)
	// A crash leaves no note: it was taken when the files were opened.
	if _, err := os.Stat(filepath.Join(dir, cleanName)); !os.IsNotExist(err) {
		t.Errorf("the note is still there while the files are open: %v", err)
	}
	mustClose(t, f)
	if err := os.Remove(filepath.Join(dir, cleanName)); err != nil {
		t.Fatal(err)
	}
	spoilReadings(t, dir)
	f = mustOpen(t, dir, Options{})
	readings(t, f)
	if d := f.Damages(); len(d) != 1 || d[0].File != ReadingsName {
		t.Errorf("damages %v", d)
	}
}
