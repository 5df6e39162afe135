package atomicfile

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
)

// wantFile checks that a folder holds one file with this text and mode 0600, and no
// temporary file.
func wantFile(t *testing.T, path, text string) {
	t.Helper()
	got, err := os.ReadFile(path)
	if err != nil || string(got) != text {
		t.Errorf("the file holds %q, %v; want %q", got, err, text)
	}
	all, err := os.ReadDir(filepath.Dir(path))
	if err != nil || len(all) != 1 {
		t.Fatalf("the folder holds %v, %v; want only the file", all, err)
	}
	if info, err := all[0].Info(); err != nil || info.Mode() != 0o600 {
		t.Errorf("its mode is %v, %v", info.Mode(), err)
	}
}

func TestWriteMakesAndReplaces(t *testing.T) {
	path := filepath.Join(t.TempDir(), "number")
	for _, text := range []string{"first", "second and longer", ""} {
		if err := WriteBytes(path, []byte(text)); err != nil {
			t.Fatal(err)
		}
		wantFile(t, path, text)
	}
}

func TestFailedWriteKeepsTheOldFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "number")
	if err := WriteBytes(path, []byte("before")); err != nil {
		t.Fatal(err)
	}
	full := errors.New("the card is full")
	err := Write(path, func(f *os.File) error {
		_, err := f.WriteString("half")
		return errors.Join(err, full)
	})
	if !errors.Is(err, full) {
		t.Errorf("error is %v", err)
	}
	wantFile(t, path, "before")
}

func TestMissingFolder(t *testing.T) {
	path := filepath.Join(t.TempDir(), "none", "number")
	if err := WriteBytes(path, nil); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("error is %v", err)
	}
}

func TestFolderIsNotReplaced(t *testing.T) {
	path := filepath.Join(t.TempDir(), "number")
	if err := os.Mkdir(path, 0o700); err != nil {
		t.Fatal(err)
	}
	if err := WriteBytes(path, []byte("x")); err == nil {
		t.Error("a folder was replaced by a file")
	}
	if all, err := os.ReadDir(filepath.Dir(path)); err != nil || len(all) != 1 {
		t.Errorf("the folder holds %v, %v", all, err)
	}
}
