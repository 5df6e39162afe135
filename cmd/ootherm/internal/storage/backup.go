package storage

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

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
// all of them or none, also if it is interrupted. It returns [ErrBusy] if a process has the directory open. It keeps
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
	if _, err := f.finishRestore(); err != nil {
		return nil, fmt.Errorf("finishing a restore that was interrupted: %w", err)
	}
	pending := false
	names := ""
	for _, r := range all {
		path := filepath.Join(dir, r.Name)
		defer func() {
			if !pending {
				err = errors.Join(err, remove(path+repairSuffix))
			}
		}()
		if err := f.stage(ctx, r); err != nil {
			return nil, fmt.Errorf("restore %s: %w", path, err)
		}
		names += r.Name + "\n"
	}
	note := filepath.Join(dir, pendingName)
	if _, err := writeFile(note+newSuffix, strings.NewReader(names)); err != nil {
		return nil, errors.Join(err, remove(note+newSuffix))
	}
	pending = true
	if err := f.rename(note+newSuffix, note); err != nil {
		return nil, err
	}
	return f.finishRestore()
}

// pendingName is the file that names the files of a restore, from when all of them are
// checked and durable until all of them are in their places.
const pendingName = "restore-pending"

// finishRestore puts the files of a restore in their places, if one is pending. It returns
// the new names of the files that it replaced.
func (f *Files) finishRestore() (kept []string, err error) {
	note := filepath.Join(f.dir, pendingName)
	names, err := os.ReadFile(note)
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	for _, name := range []string{ReadingsName, RecordsName} {
		path := filepath.Join(f.dir, name)
		if !slices.Contains(strings.Fields(string(names)), name) {
			continue
		}
		if _, err := os.Stat(path + repairSuffix); errors.Is(err, os.ErrNotExist) {
			continue // it is in its place
		} else if err != nil {
			return kept, err
		}
		if _, err := os.Stat(path); err == nil {
			aside, err := f.setAside(path, replacedSuffix)
			if err != nil {
				return kept, err
			}
			kept = append(kept, aside)
		}
		if err := f.rename(path+repairSuffix, path); err != nil {
			return kept, err
		}
	}
	f.o.step("restored")
	return kept, errors.Join(os.Remove(note), syncFile(f.dir))
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
		return fmt.Errorf("the copy is damaged, nothing was changed; take another backup, or a copy of the book: %w", err)
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
