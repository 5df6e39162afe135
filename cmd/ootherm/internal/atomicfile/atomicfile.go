// Package atomicfile writes a small file whole or not at all, so that neither a
// reader nor a power cut finds half of it. It owns the order of the steps: write,
// sync, rename, sync the folder. It must not know what a file holds.
package atomicfile

import (
	"errors"
	"os"
	"path/filepath"

	"github.com/google/renameio/v2"
)

// Write makes the file at path, or replaces it, with what fill writes. Its mode is
// 0600 less the process's umask. fill must not close the file. On an error from fill
// or from the disk the file at path stays as it was, except where syncing the folder
// failed: then the new file is there, and a power cut may undo it.
func Write(path string, fill func(*os.File) error) error {
	dir := filepath.Dir(path)
	// Beside the file: the library's default tries the folder for temporary files.
	f, err := renameio.NewPendingFile(path, renameio.WithTempDir(dir))
	if err != nil {
		return err
	}
	if err := fill(f.File); err != nil {
		return errors.Join(err, f.Cleanup())
	}
	if err := f.CloseAtomicallyReplace(); err != nil {
		return errors.Join(err, f.Cleanup())
	}
	return syncDir(dir)
}

// WriteBytes is [Write] of a text at hand.
func WriteBytes(path string, text []byte) error {
	return Write(path, func(f *os.File) error {
		_, err := f.Write(text)
		return err
	})
}

// syncDir makes a rename in a folder durable. The library leaves this to its caller.
func syncDir(dir string) error {
	f, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
