// Package storage opens the two files of a station safely: the readings, which are large
// and can be replaced, and the records (book, alarms, messages), which are small and
// cannot. It owns the checks, the repair and the backup of a file. It must not know what
// is in one.
//
// It makes a new file under another name, verifies it, syncs it and renames it. It checks
// an existing file first, in a child process with a time limit, because the store can hang
// or crash on a damaged file. It rolls a damaged file back to its last good state if that
// loses at most one commit. Otherwise it gives the file another name and makes a new one.
// It deletes no data. A restore that was interrupted is finished by the next start.
//
// # Decisions
//
//   - Every change of records.db goes through [Sealed], which stores a sum of the content:
//     bbolt's pages carry no sums of their own.
//   - Readings that were closed in order are opened without a check: only a lost write can
//     leave a state that crashes the store, or wear of the card, which a crash then shows, and
//     the start after a crash checks.
//   - Before other readings are opened, only what could crash the station is checked: the pages'
//     structure, and the newest records, which a lost write can hit. Reading 200 MB takes
//     minutes on a small Pi. An older record that is damaged is a gap in a running station.
package storage

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/permission"
	"go.etcd.io/bbolt"
	bbolterrors "go.etcd.io/bbolt/errors"
	"golang.org/x/sys/unix"
)

// The files of a data directory.
const (
	ReadingsName = "readings.db"
	RecordsName  = "records.db"
	lockName     = "ootherm.lock"
)

// ErrBusy reports that another process holds the files.
var ErrBusy = errors.New("another ootherm is running on these files")

// Options are the options of [Open]. The zero value gives the defaults.
type Options struct {
	Timeout      time.Duration    // the longest wait for the files' locks; 2 s if zero
	CheckLimit   time.Duration    // the longest check of one file; 5 min if zero
	ReadingsSize int              // maximum size of the readings' file, bytes; 256 MB if zero
	RecordsSize  int              // maximum size of the records' file, bytes; 64 MB if zero
	Now          func() time.Time // dates the name of a damaged file; time.Now if nil
	RecordsOnly  bool             // the readings' file is not opened, checked or made

	step func(string) // called before each step that changes the disk, for tests
}

// withDefaults fills in the defaults.
func (o Options) withDefaults() Options {
	if o.Timeout <= 0 {
		o.Timeout = 2 * time.Second
	}
	if o.CheckLimit <= 0 {
		o.CheckLimit = 5 * time.Minute
	}
	// A 32-bit process cannot map a file past 2 GB, and a file must not fill the card.
	if o.ReadingsSize <= 0 {
		o.ReadingsSize = 256 << 20
	}
	if o.RecordsSize <= 0 {
		o.RecordsSize = 64 << 20
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.step == nil {
		o.step = func(string) {}
	}
	return o
}

// Damage describes a file that was found damaged and what was done with it. The station
// raises an alarm for it. It does not stop the start.
type Damage struct {
	File     string // its name in the data directory
	Why      string
	Repaired bool   // if false, a new, empty file replaces it
	Complete bool   // repaired, and nothing is lost
	Aside    string // where the damaged file is now
}

func (d *Damage) Error() string {
	if d.Complete {
		return fmt.Sprintf("%s was damaged (%s) and was repaired: nothing is lost; the damaged file is kept as %s", d.File, d.Why, d.Aside)
	}
	if d.Repaired {
		return fmt.Sprintf("%s was damaged (%s) and was set back to its last good state: at most the last thing written is lost; the damaged file is kept as %s", d.File, d.Why, d.Aside)
	}
	return fmt.Sprintf("%s was damaged (%s) and could not be repaired: a new, empty file replaces it; the damaged file is kept as %s: restore a backup", d.File, d.Why, d.Aside)
}

// Files are the two open files of one data directory.
type Files struct {
	dir     string
	o       Options
	lock    *os.File
	records *bbolt.DB
	cancel  context.CancelFunc
	ready   chan struct{} // closed once readings and readingsErr are set

	readings    *bbolt.DB
	readingsErr error

	mu      sync.Mutex
	damages []*Damage
	closed  bool
}

// Open opens the files of a data directory. It makes the directory if there is none. What
// root makes belongs to the directory's owner, see [permission.OpenFolder]. It
// returns once the records are open. The check of the readings can take a minute, so they
// follow: see [Files.Readings]. The error is [ErrBusy] if another process holds the
// directory.
//
// The check runs this program in a child process, so main must call [CheckMain] first.
func Open(ctx context.Context, dir string, o Options) (*Files, error) {
	o = o.withDefaults()
	o.step("directory")
	if err := permission.OpenFolder(dir); err != nil {
		return nil, err
	}
	lock, err := takeLock(ctx, dir, o.Timeout)
	if err != nil {
		return nil, err
	}
	f := &Files{dir: dir, o: o, lock: lock, ready: make(chan struct{})}
	if _, err := f.finishRestore(); err != nil {
		lock.Close()
		return nil, permission.FolderHint(fmt.Errorf("finishing a restore that was interrupted: %w", err), dir)
	}
	if f.records, err = f.prepare(ctx, RecordsName, o.RecordsSize); err != nil {
		lock.Close()
		return nil, permission.FolderHint(err, dir)
	}
	ctx, f.cancel = context.WithCancel(context.WithoutCancel(ctx))
	if o.RecordsOnly {
		f.readingsErr = errors.New("only the records were opened")
		close(f.ready)
		return f, nil
	}
	go func() {
		defer close(f.ready)
		f.readings, f.readingsErr = f.prepare(ctx, ReadingsName, o.ReadingsSize)
	}()
	return f, nil
}

// Records returns the records' file.
func (f *Files) Records() *bbolt.DB { return f.records }

// Sealed returns the records' file for writing. See [Sealed].
func (f *Files) Sealed() Sealed { return Sealed{f.records} }

// Readings waits for the readings' file and returns it.
func (f *Files) Readings(ctx context.Context) (*bbolt.DB, error) {
	select {
	case <-f.ready:
		if f.readingsErr != nil {
			return nil, permission.FolderHint(f.readingsErr, f.dir)
		}
		return f.readings, nil
	case <-ctx.Done():
		return nil, fmt.Errorf("waiting for %s: %w", ReadingsName, ctx.Err())
	}
}

// Damages returns the files that were found damaged so far.
func (f *Files) Damages() []*Damage {
	f.mu.Lock()
	defer f.mu.Unlock()
	return append([]*Damage(nil), f.damages...)
}

// Close closes both files and releases the directory. It stops a check of the readings
// that still runs.
func (f *Files) Close() error {
	f.mu.Lock()
	wasClosed := f.closed
	f.closed = true
	f.mu.Unlock()
	if wasClosed {
		return nil
	}
	f.cancel()
	<-f.ready
	var errs []error
	for _, db := range []*bbolt.DB{f.readings, f.records} {
		if db != nil {
			errs = append(errs, db.Close())
		}
	}
	if f.readings != nil && errs[0] == nil {
		_ = f.noteClean() // without it the next start checks the file
	}
	errs = append(errs, f.lock.Close())
	if err := errors.Join(errs...); err != nil {
		return fmt.Errorf("close: %w", err)
	}
	return nil
}

// InPlace returns an error if the open files are no longer those in the folder: it was moved
// or removed, or another one was mounted over it. What is written then is lost.
func (f *Files) InPlace() error {
	held, err := f.lock.Stat()
	if err != nil {
		return fmt.Errorf("the lock of the data directory: %w", err)
	}
	for _, name := range []string{lockName, ReadingsName, RecordsName} {
		found, err := os.Stat(filepath.Join(f.dir, name))
		if err != nil || name == lockName && !os.SameFile(held, found) {
			return fmt.Errorf("the folder %s was moved, removed or covered while the station runs, and what it writes is lost at its end; put the folder back and restart the station: %w", f.dir, errors.Join(err, errMoved))
		}
	}
	return nil
}

// errMoved is the error of a folder that is not the one that was opened.
var errMoved = errors.New("it does not hold the open files")

// Bytes returns the size of both files together.
func (f *Files) Bytes() (int64, error) {
	var sum int64
	for _, name := range []string{ReadingsName, RecordsName} {
		info, err := os.Stat(filepath.Join(f.dir, name))
		if err != nil {
			return 0, fmt.Errorf("reading the size of the files: %w", err)
		}
		sum += info.Size()
	}
	return sum, nil
}

// Free returns the free space of the disk that holds the files, bytes.
func (f *Files) Free() (uint64, error) {
	var s unix.Statfs_t
	if err := unix.Statfs(f.dir, &s); err != nil {
		return 0, fmt.Errorf("reading the free space of %s: %w", f.dir, err)
	}
	return s.Bavail * uint64(s.Bsize), nil
}

// takeLock locks a directory against other processes until the returned file is closed or
// the process ends.
func takeLock(ctx context.Context, dir string, timeout time.Duration) (*os.File, error) {
	path := filepath.Join(dir, lockName)
	file, err := os.OpenFile(path, os.O_CREATE|os.O_RDWR|unix.O_NOFOLLOW, 0o640)
	if err != nil {
		return nil, permission.FolderHint(fmt.Errorf("the lock of the data directory: %w", err), dir)
	}
	if err := permission.Give(path); err != nil {
		file.Close()
		return nil, err
	}
	ctx, cancel := context.WithTimeout(ctx, timeout)
	defer cancel()
	again := time.NewTicker(20 * time.Millisecond)
	defer again.Stop()
	for {
		err := unix.Flock(int(file.Fd()), unix.LOCK_EX|unix.LOCK_NB)
		if err == nil {
			notePlace(file, dir)
			return file, nil
		}
		if !errors.Is(err, unix.EWOULDBLOCK) && !errors.Is(err, unix.EINTR) {
			file.Close()
			return nil, fmt.Errorf("lock %s: %w", path, err)
		}
		select {
		case <-ctx.Done():
			file.Close()
			return nil, fmt.Errorf("%s: %w: stop it first, or use its page", dir, ErrBusy)
		case <-again.C:
		}
	}
}

// open opens a file that passed its check.
func open(path string, size int, timeout time.Duration) (*bbolt.DB, error) {
	db, err := bbolt.Open(path, 0o640, &bbolt.Options{Timeout: timeout, MaxSize: size})
	if errors.Is(err, bbolterrors.ErrTimeout) {
		err = ErrBusy
	}
	if err != nil {
		return nil, fmt.Errorf("open %s: %w", path, err)
	}
	return db, nil
}
