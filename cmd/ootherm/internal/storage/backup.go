package storage

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"

	"example.com/ootherm/cmd/ootherm/internal/permission"
	"go.etcd.io/bbolt"
	"golang.org/x/sys/unix"
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

// Replacement is what a file of a data directory becomes.
type Replacement struct {
	Name    string // [ReadingsName] or [RecordsName]
	Content io.Reader
}

// Restore checks the content of files and replaces the files of a data directory by it:
// all of them or none. It returns [ErrBusy] if a process has the directory open. It keeps
// each replaced file and returns its new name.
func Restore(ctx context.Context, dir string, all []Replacement, o Options) (kept []string, err error) {
	o = o.withDefaults()
	for _, r := range all {
		if r.Name != ReadingsName && r.Name != RecordsName {
			return nil, fmt.Errorf("there is no file %q to restore: it is %s or %s", r.Name, RecordsName, ReadingsName)
		}
	}
	if err := permission.OpenFolder(dir); err != nil {
		return nil, err
	}
	lock, err := takeLock(ctx, dir, o.Timeout)
	if err != nil {
		return nil, err
	}
	defer lock.Close()
	f := &Files{dir: dir, o: o}
	for _, r := range all {
		path := filepath.Join(dir, r.Name)
		defer func() { err = errors.Join(err, remove(path+repairSuffix)) }()
		if err := f.stage(ctx, r); err != nil {
			return nil, fmt.Errorf("restore %s: %w", path, err)
		}
	}
	// The records come last: a book beside readings that are older than its last entries is a
	// restore that was not made, and it can be made again.
	all = slices.Clone(all)
	slices.SortStableFunc(all, func(a, b Replacement) int { return cmp.Compare(a.Name, b.Name) })
	for _, r := range all {
		path := filepath.Join(dir, r.Name)
		if err := f.rename(path+repairSuffix, path+repairedSuffix); err != nil {
			return kept, err
		}
		if _, err := os.Stat(path); err == nil {
			aside, err := f.setAside(path, replacedSuffix)
			if err != nil {
				return kept, err
			}
			kept = append(kept, aside)
		}
		if err := f.rename(path+repairedSuffix, path); err != nil {
			return kept, err
		}
	}
	return kept, nil
}

// stage writes the content that a file gets beside it, and checks it.
func (f *Files) stage(ctx context.Context, r Replacement) error {
	temp := filepath.Join(f.dir, r.Name) + repairSuffix
	most := int64(f.o.RecordsSize)
	if r.Name == ReadingsName {
		most = int64(f.o.ReadingsSize)
	}
	if n, err := writeFile(temp, io.LimitReader(r.Content, most+1)); err != nil {
		return err
	} else if n > most {
		return fmt.Errorf("it is larger than the %d bytes that this file can have, nothing was changed", most)
	}
	if err := check(ctx, r.Name, temp, f.o.CheckLimit); err != nil {
		return fmt.Errorf("the copy is damaged, nothing was changed: %w", err)
	}
	// Not before: root may have followed a link to a file that is not the station's.
	return permission.Give(temp)
}

// Sound checks a file that is in no use. The error says why the file is damaged.
func Sound(ctx context.Context, name, path string) error {
	return check(ctx, name, path, Options{}.withDefaults().CheckLimit)
}

// writeFile writes all of r to a new file and syncs it. It returns how many bytes it wrote.
func writeFile(path string, r io.Reader) (int64, error) {
	file, err := os.OpenFile(path, os.O_CREATE|os.O_WRONLY|os.O_TRUNC|unix.O_NOFOLLOW, 0o640)
	if err != nil {
		return 0, err
	}
	n, err := io.Copy(file, r)
	return n, errors.Join(err, file.Sync(), file.Close())
}
