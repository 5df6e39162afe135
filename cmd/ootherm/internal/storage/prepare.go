package storage

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/permission"
	"go.etcd.io/bbolt"
	"golang.org/x/sys/unix"
)

// Suffixes of the names of files that are not in use. A killed process leaves such files
// to the next start.
const (
	newSuffix      = ".new"      // not finished; the next start removes it
	repairSuffix   = ".repair"   // not finished; the next start removes it
	repairedSuffix = ".repaired" // finished; the next start uses it if the file itself is missing
	badSuffix      = ".bad-"     // a damaged file, and the time; kept
	replacedSuffix = ".before-"  // a file that a restore replaced, and the time; kept
)

// prepare makes, checks, repairs or replaces one file, and opens it.
func (f *Files) prepare(ctx context.Context, name string, size int) (*bbolt.DB, error) {
	path := filepath.Join(f.dir, name)
	for _, left := range []string{path + newSuffix, path + repairSuffix} {
		if err := remove(left); err != nil {
			return nil, err
		}
	}
	_, err := os.Stat(path)
	if errors.Is(err, os.ErrNotExist) {
		return f.replaceMissing(ctx, name, size)
	}
	if err != nil {
		return nil, err
	}
	if name == ReadingsName && f.takeClean() {
		return open(path, size, f.o.Timeout)
	}
	var bad *badError
	switch err := check(ctx, name, path, f.o.CheckLimit); {
	case err == nil:
		if err := remove(path + repairedSuffix); err != nil { // a killed repair or restore left it
			return nil, err
		}
		return open(path, size, f.o.Timeout)
	case !errors.As(err, &bad):
		return nil, fmt.Errorf("check %s: %w", path, err)
	}
	d := &Damage{File: name, Why: bad.why}
	if d.Repaired, d.Complete, err = f.repair(ctx, name); err != nil {
		return nil, err
	}
	if d.Aside, err = f.setAside(path, badSuffix); err != nil {
		return nil, err
	}
	if d.Repaired {
		err = f.rename(path+repairedSuffix, path)
	} else {
		err = f.create(path, size)
	}
	if err != nil {
		return nil, err
	}
	f.addDamage(d)
	return open(path, size, f.o.Timeout)
}

// replaceMissing opens a file that does not exist. It uses the repaired file if a process
// was killed after it renamed the damaged one. Otherwise it makes a new file.
func (f *Files) replaceMissing(ctx context.Context, name string, size int) (*bbolt.DB, error) {
	path := filepath.Join(f.dir, name)
	d := &Damage{File: name, Why: "found at an earlier start", Aside: lastAside(path)}
	switch err := check(ctx, name, path+repairedSuffix, f.o.CheckLimit); {
	case err == nil:
		d.Repaired = true
		if err := f.rename(path+repairedSuffix, path); err != nil {
			return nil, err
		}
	case errors.As(err, new(*badError)), errors.Is(err, os.ErrNotExist):
		if err := f.create(path, size); err != nil {
			return nil, err
		}
	default:
		return nil, fmt.Errorf("check %s: %w", path+repairedSuffix, err)
	}
	if d.Aside != "" {
		f.addDamage(d)
	}
	return open(path, size, f.o.Timeout)
}

// addDamage adds a damage to those that Damages returns.
func (f *Files) addDamage(d *Damage) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.damages = append(f.damages, d)
}

// newPages is the size of a new file's pages in bytes. The store would take the kernel's, which
// is 16 kB on some machines (a Raspberry Pi 5, from memory); a day's readings then write 30 MB to
// the card and not 13 (TestADayWritesLittle, with either). A file keeps the size it was made with.
const newPages = 4096

// create makes an empty file under another name, verifies it and renames it. A power cut
// during a creation in place would leave a file that never opens.
func (f *Files) create(path string, size int) error {
	temp := path + newSuffix
	f.o.step("create")
	err := func() error {
		db, err := bbolt.Open(temp, 0o640, &bbolt.Options{Timeout: f.o.Timeout, MaxSize: size, PageSize: newPages})
		if err != nil {
			return err
		}
		f.o.step("verify")
		if err := errors.Join(permission.Give(temp), db.View(verify), db.Sync(), db.Close()); err != nil {
			return err
		}
		return errors.Join(syncFile(temp), dropCache(temp))
	}()
	if err != nil {
		return fmt.Errorf("make %s: %w", path, err)
	}
	return f.rename(temp, path)
}

// repair makes a sound version of a damaged file beside it. It reports false if there is
// none that loses at most one commit. complete reports that nothing is lost.
func (f *Files) repair(ctx context.Context, name string) (repaired, complete bool, err error) {
	path := filepath.Join(f.dir, name)
	attempts := [][]func(string) error{{rollBack}}
	if missing, err := missingTail(path); err == nil && missing > 0 {
		attempts = [][]func(string) error{{addTail}, {addTail, rollBack}}
	}
	for _, mend := range attempts {
		repaired, err := f.mend(ctx, name, mend)
		if err != nil || !repaired {
			if err := errors.Join(err, remove(path+repairSuffix)); err != nil {
				return false, false, err
			}
			continue
		}
		return true, len(attempts) > 1 && len(mend) == 1, f.rename(path+repairSuffix, path+repairedSuffix)
	}
	return false, false, nil
}

// mend changes a copy of a damaged file in steps, and reports whether it is sound then.
func (f *Files) mend(ctx context.Context, name string, steps []func(string) error) (bool, error) {
	path := filepath.Join(f.dir, name)
	temp := path + repairSuffix
	f.o.step("copy")
	// A failed copy (no room, an unreadable disk) must not stop the start: the caller then
	// sets the damaged file aside.
	if copyFile(path, temp) != nil {
		return false, nil
	}
	f.o.step("mend")
	for _, step := range steps {
		if step(temp) != nil {
			return false, nil
		}
	}
	switch err := check(ctx, name, temp, f.o.CheckLimit); {
	case errors.As(err, new(*badError)):
		return false, nil
	case err != nil:
		return false, fmt.Errorf("check %s: %w", temp, err)
	}
	// The copy is given away only now: the damaged file can be a link to a file of root.
	if err := errors.Join(permission.Give(temp), syncFile(temp)); err != nil {
		return false, fmt.Errorf("repair %s: %w", path, err)
	}
	return true, nil
}

// setAside renames a file to a name with a suffix and the present time. It returns that
// name.
func (f *Files) setAside(path, suffix string) (string, error) {
	to := path + suffix + f.o.Now().UTC().Format("20060102T150405Z")
	for n := 2; ; n++ {
		if _, err := os.Lstat(to); errors.Is(err, os.ErrNotExist) {
			break
		}
		to = fmt.Sprintf("%s%s%s-%d", path, suffix, f.o.Now().UTC().Format("20060102T150405Z"), n)
	}
	return to, f.rename(path, to)
}

// lastAside returns the newest file that was set aside for a path. It is empty if there is
// none.
func lastAside(path string) string {
	all, err := os.ReadDir(filepath.Dir(path))
	if err != nil {
		return ""
	}
	last, when := "", time.Time{}
	for _, e := range all {
		if info, err := e.Info(); err == nil && strings.HasPrefix(e.Name(), filepath.Base(path)+badSuffix) && info.ModTime().After(when) {
			last, when = filepath.Join(filepath.Dir(path), e.Name()), info.ModTime()
		}
	}
	return last
}

// rename renames a file and syncs the folder, so that a power cut does not undo it.
func (f *Files) rename(from, to string) error {
	f.o.step("rename")
	if err := os.Rename(from, to); err != nil {
		return err
	}
	f.o.step("sync directory")
	if err := syncFile(filepath.Dir(to)); err != nil {
		return err
	}
	return nil
}

// remove deletes a temporary file if it exists.
func remove(path string) error {
	if err := os.Remove(path); err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	return nil
}

// syncFile makes a file or a folder durable.
func syncFile(path string) error {
	file, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(file.Sync(), file.Close())
}

// dropCache drops a synced file from the kernel's page cache. The store writes its first
// four pages in one call. A kernel that keeps them in one piece writes all four at every
// commit.
func dropCache(path string) error {
	file, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(unix.Fadvise(int(file.Fd()), 0, 0, unix.FADV_DONTNEED), file.Close())
}

// copyFile copies a file. It does not sync the copy.
func copyFile(from, to string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.OpenFile(to, os.O_CREATE|os.O_WRONLY|os.O_TRUNC|unix.O_NOFOLLOW, 0o640)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	return errors.Join(err, out.Close())
}
