package storage

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"example.com/ootherm/cmd/ootherm/internal/permission"
	"go.etcd.io/bbolt"
)

// Backup writes a consistent copy of an open file and returns its size in bytes. The file
// grows by all that is written meanwhile, so w must be fast.
func Backup(db *bbolt.DB, w io.Writer) (n int64, err error) {
	err = db.View(func(tx *bbolt.Tx) error {
		n, err = tx.WriteTo(w)
		return err
	})
	if err != nil {
		return n, fmt.Errorf("backing up %s: %w", db.Path(), err)
	}
	return n, nil
}

// Restore checks a backup and replaces a file of a data directory with it. It returns
// [ErrBusy] if a process has the directory open. It keeps the replaced file and returns
// its new name, which is empty if there was no file.
func Restore(ctx context.Context, dir, name string, r io.Reader, o Options) (kept string, err error) {
	o = o.withDefaults()
	if name != ReadingsName && name != RecordsName {
		return "", fmt.Errorf("there is no file %q to restore: it is %s or %s", name, RecordsName, ReadingsName)
	}
	if err := permission.OpenFolder(dir); err != nil {
		return "", err
	}
	lock, err := takeLock(ctx, dir, o.Timeout)
	if err != nil {
		return "", err
	}
	defer lock.Close()
	f := &Files{dir: dir, o: o}
	path := filepath.Join(dir, name)
	temp := path + repairSuffix
	defer func() { err = errors.Join(err, remove(temp)) }()
	if err := writeFile(temp, r); err != nil {
		return "", fmt.Errorf("restore %s: %w", path, err)
	}
	if err := check(ctx, name, temp, o.CheckLimit); err != nil {
		return "", fmt.Errorf("restore %s: the backup is damaged, nothing was changed: %w", path, err)
	}
	if err := f.rename(temp, path+repairedSuffix); err != nil {
		return "", err
	}
	if _, err := os.Stat(path); err == nil {
		if kept, err = f.setAside(path); err != nil {
			return "", err
		}
	}
	return kept, f.rename(path+repairedSuffix, path)
}

// writeFile writes all of r to a new file and syncs it.
func writeFile(path string, r io.Reader) error {
	file, err := os.OpenFile(path, os.O_CREATE|os.O_WRONLY|os.O_TRUNC, 0o640)
	if err != nil {
		return err
	}
	_, err = io.Copy(file, r)
	return errors.Join(err, permission.Give(path), file.Sync(), file.Close())
}
