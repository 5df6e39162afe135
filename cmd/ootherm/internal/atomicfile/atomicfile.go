// Package atomicfile writes a small file completely or not at all, so that no reader finds
// half of it, also after a power cut. It owns the order of the steps: write, sync, rename,
// sync the folder. It must not know what a file holds.
package atomicfile

import (
	"errors"
	"os"
	"path/filepath"

	"example.com/ootherm/cmd/ootherm/internal/permission"
	"github.com/google/renameio/v2"
)

// Write makes or replaces the file at path with what fill writes. Its mode is 0600 minus
// the process's umask. A file that root writes belongs to the owner of its folder. fill must not close the file. On an error from fill or from the disk
// the old file stays. If only the sync of the folder fails, the new file is there and a
// power cut can undo it.
func Write(path string, fill func(*os.File) error) error {
	dir := filepath.Dir(path)
	// Use the file's own folder: the library's default tries the folder for temporary files.
	f, err := renameio.NewPendingFile(path, renameio.WithTempDir(dir))
	if err != nil {
		return err
	}
	if err := errors.Join(fill(f.File), permission.Give(f.Name())); err != nil {
		return errors.Join(err, f.Cleanup())
	}
	if err := f.CloseAtomicallyReplace(); err != nil {
		return errors.Join(err, f.Cleanup())
	}
	return syncDir(dir)
}

// WriteBytes does what [Write] does with a text.
func WriteBytes(path string, text []byte) error {
	return Write(path, func(f *os.File) error {
		_, err := f.Write(text)
		return err
	})
}

// syncDir makes a rename in a folder durable. The library does not do this.
func syncDir(dir string) error {
	f, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
