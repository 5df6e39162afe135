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

	"go.etcd.io/bbolt"
	"golang.org/x/sys/unix"
)

// Names of a file on its way. What is called so at a start was left by a
// process that was killed.
const (
	beingMade     = ".new"      // not finished; removed
	beingRepaired = ".repair"   // not finished; removed
	repaired      = ".repaired" // finished; takes the file's place if that is empty
	aside         = ".bad-"     // and the time; kept
)

// prepare makes, checks, repairs or replaces one file, and opens it.
func (f *Files) prepare(ctx context.Context, name string, size int) (*bbolt.DB, error) {
	path := filepath.Join(f.dir, name)
	for _, left := range []string{path + beingMade, path + beingRepaired} {
		if err := remove(left); err != nil {
			return nil, err
		}
	}
	_, err := os.Stat(path)
	if errors.Is(err, os.ErrNotExist) {
		return f.missing(ctx, name, size)
	}
	if err != nil {
		return nil, err
	}
	var bad *badError
	switch err := check(ctx, name, path, f.o.CheckLimit); {
	case err == nil:
		if err := remove(path + repaired); err != nil { // left by a killed repair or restoration
			return nil, err
		}
		return open(path, size, f.o.Timeout)
	case !errors.As(err, &bad):
		return nil, fmt.Errorf("check %s: %w", path, err)
	}
	d := &Damage{File: name, Why: bad.why}
	if d.Repaired, err = f.repair(ctx, name); err != nil {
		return nil, err
	}
	if d.Aside, err = f.setAside(path); err != nil {
		return nil, err
	}
	if d.Repaired {
		err = f.rename(path+repaired, path)
	} else {
		err = f.create(path, size)
	}
	if err != nil {
		return nil, err
	}
	f.note(d)
	return open(path, size, f.o.Timeout)
}

// missing puts a file where there is none: the repaired one, if the process was
// killed between setting the damaged one aside and that; else a new one.
func (f *Files) missing(ctx context.Context, name string, size int) (*bbolt.DB, error) {
	path := filepath.Join(f.dir, name)
	d := &Damage{File: name, Why: "found at an earlier start", Aside: lastAside(path)}
	switch err := check(ctx, name, path+repaired, f.o.CheckLimit); {
	case err == nil:
		d.Repaired = true
		if err := f.rename(path+repaired, path); err != nil {
			return nil, err
		}
	case errors.As(err, new(*badError)), errors.Is(err, os.ErrNotExist):
		if err := f.create(path, size); err != nil {
			return nil, err
		}
	default:
		return nil, fmt.Errorf("check %s: %w", path+repaired, err)
	}
	if d.Aside != "" {
		f.note(d)
	}
	return open(path, size, f.o.Timeout)
}

func (f *Files) note(d *Damage) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.damages = append(f.damages, d)
}

// create makes an empty file aside, verifies it and gives it its name: a first
// creation torn by a power cut would leave a file that never opens.
func (f *Files) create(path string, size int) error {
	temp := path + beingMade
	f.o.step("create")
	err := func() error {
		db, err := bbolt.Open(temp, 0o640, &bbolt.Options{Timeout: f.o.Timeout, MaxSize: size})
		if err != nil {
			return err
		}
		f.o.step("verify")
		if err := errors.Join(db.View(verify), db.Sync(), db.Close()); err != nil {
			return err
		}
		return errors.Join(syncFile(temp), forget(temp))
	}()
	if err != nil {
		return fmt.Errorf("make %s: %w", path, err)
	}
	return f.rename(temp, path)
}

// repair writes a sound version of a damaged file beside it, if there is one
// that loses at most one commit.
func (f *Files) repair(ctx context.Context, name string) (bool, error) {
	path := filepath.Join(f.dir, name)
	temp := path + beingRepaired
	f.o.step("copy")
	// That there is no room for a copy, or that the disk cannot be read, is no
	// reason not to start: the file is then set aside whole.
	if copyFile(path, temp) != nil {
		return false, remove(temp)
	}
	f.o.step("roll back")
	if err := rollBack(temp); err != nil {
		return false, remove(temp)
	}
	switch err := check(ctx, name, temp, f.o.CheckLimit); {
	case errors.As(err, new(*badError)):
		return false, remove(temp)
	case err != nil:
		return false, fmt.Errorf("check %s: %w", temp, err)
	}
	if err := syncFile(temp); err != nil {
		return false, fmt.Errorf("repair %s: %w", path, err)
	}
	return true, f.rename(temp, path+repaired)
}

// setAside gives a file another name that says when, and returns that.
func (f *Files) setAside(path string) (string, error) {
	to := path + aside + f.o.Now().UTC().Format("20060102T150405Z")
	for n := 2; ; n++ {
		if _, err := os.Lstat(to); errors.Is(err, os.ErrNotExist) {
			break
		}
		to = fmt.Sprintf("%s%s%s-%d", path, aside, f.o.Now().UTC().Format("20060102T150405Z"), n)
	}
	return to, f.rename(path, to)
}

// lastAside is the newest file that was set aside for a path, or nothing.
func lastAside(path string) string {
	all, err := os.ReadDir(filepath.Dir(path))
	if err != nil {
		return ""
	}
	last, when := "", time.Time{}
	for _, e := range all {
		if info, err := e.Info(); err == nil && strings.HasPrefix(e.Name(), filepath.Base(path)+aside) && info.ModTime().After(when) {
			last, when = filepath.Join(filepath.Dir(path), e.Name()), info.ModTime()
		}
	}
	return last
}

// rename gives a file its name for good.
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

func remove(path string) error {
	if err := os.Remove(path); err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	return nil
}

func syncFile(path string) error {
	file, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(file.Sync(), file.Close())
}

// forget drops a synced file from the kernel's memory. The store writes its first
// four pages at once, and a kernel that then keeps them in one piece counts all
// four as written at every commit.
func forget(path string) error {
	file, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(unix.Fadvise(int(file.Fd()), 0, 0, unix.FADV_DONTNEED), file.Close())
}

func copyFile(from, to string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.OpenFile(to, os.O_CREATE|os.O_WRONLY|os.O_TRUNC, 0o640)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	return errors.Join(err, out.Close())
}
