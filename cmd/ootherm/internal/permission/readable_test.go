package permission_test

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/permission"
)

// Root finds out whether the station's user can read a file, by the owner of the station's
// folder.
func TestReadableByTheStation(t *testing.T) {
	dir := t.TempDir()
	data, file := filepath.Join(dir, "data"), filepath.Join(dir, "password")
	if err := errors.Join(os.Mkdir(data, 0o750), os.WriteFile(file, []byte("x"), 0o600)); err != nil {
		t.Fatal(err)
	}
	if err := permission.Readable(file, data); err != nil {
		t.Errorf("its own file: %v", err)
	}
	if err := permission.Readable(dir, data); err == nil {
		t.Error("a folder is taken for a file")
	}
	if err := permission.Readable(filepath.Join(dir, "none"), data); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a missing file: %v", err)
	}
	if os.Geteuid() != 0 {
		return // the rest gives files away
	}
	const station = 12345
	if err := os.Chown(data, station, station); err != nil {
		t.Fatal(err)
	}
	if err := permission.Readable(file, data); err == nil || !strings.Contains(err.Error(), "sudo chown 12345 "+file) {
		t.Errorf("a file of root alone: %v", err)
	}
	for _, mode := range []os.FileMode{0o640, 0o604} {
		if err := errors.Join(os.Chown(file, 0, station), os.Chmod(file, mode)); err != nil {
			t.Fatal(err)
		}
		if err := permission.Readable(file, data); (err == nil) != (mode == 0o640) {
			t.Errorf("mode %o: %v", mode, err)
		}
	}
}
