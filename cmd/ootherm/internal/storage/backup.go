package storage

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"go.etcd.io/bbolt"
)

// Backup writes a consistent copy of an open file. While it runs, the file
// grows by what is written meanwhile: give it something fast.
func Backup(db *bbolt.DB, w io.Writer) (n int64, err error) {
	err = db.View(func(tx *bbolt.Tx) error {
		n, err = tx.WriteTo(w)
		return err
	})
	if err != nil {
		return n, fmt.Errorf("back up %s: %w", db.Path(), err)
	}
	return n, nil
}

// Restore puts a backup in the place of a file of a data directory that no
// process has open, after checking it. The file that was there is set aside;
// its new name is returned, empty if there was none.
func Restore(ctx context.Context, dir, name string, r io.Reader, o Options) (was string, err error) {
	o = o.filled()
	if name != ReadingsName && name != RecordsName {
		return "", fmt.Errorf("there is no file %q to restore: it is %s or %s", name, RecordsName, ReadingsName)
	}
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return "", fmt.Errorf("the data directory: %w", err)
	}
	lock, err := takeLock(ctx, dir, o.Timeout)
	if err != nil {
		return "", err
	}
	defer lock.Close()
	f := &Files{dir: dir, o: o}
	path := filepath.Join(dir, name)
	temp := path + beingRepaired
	defer func() { err = errors.Join(err, remove(temp)) }()
	if err := receive(r, temp); err != nil {
		return "", fmt.Errorf("restore %s: %w", path, err)
	}
	if err := check(ctx, name, temp, o.CheckLimit); err != nil {
		return "", fmt.Errorf("restore %s: the backup is not sound, nothing was changed: %w", path, err)
	}
	if err := f.rename(temp, path+repaired); err != nil {
		return "", err
	}
	if _, err := os.Stat(path); err == nil {
		if was, err = f.setAside(path); err != nil {
			return "", err
		}
	}
	return was, f.rename(path+repaired, path)
}

func receive(r io.Reader, path string) error {
	file, err := os.OpenFile(path, os.O_CREATE|os.O_WRONLY|os.O_TRUNC, 0o640)
	if err != nil {
		return err
	}
	_, err = io.Copy(file, r)
	return errors.Join(err, file.Sync(), file.Close())
}
