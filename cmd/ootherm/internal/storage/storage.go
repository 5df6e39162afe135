// Package storage opens the two files of a station safely: the readings, large
// and replaceable, and the records (book, alarms, messages), small and precious.
//
// A new file is made aside, verified, synced and renamed. An existing one is
// checked first, in a child process with a time limit, since the store can hang
// or crash for ever on a damaged file; a damaged one is brought back to its last
// good state if that loses one commit at most, and is otherwise set aside under
// another name and begun anew. Nothing is ever deleted.
package storage

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"time"

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

// ErrBusy is that another process holds the files.
var ErrBusy = errors.New("another ootherm is running on these files")

// Options of Open. The zero value will do.
type Options struct {
	Timeout      time.Duration    // how long to wait for the files' locks; 2 s if zero
	CheckLimit   time.Duration    // how long the check of one file may take; 5 min if zero
	ReadingsSize int              // the most the readings' file may grow to, bytes; 256 MB if zero
	RecordsSize  int              // the same of the records; 64 MB if zero
	Now          func() time.Time // names what is set aside; time.Now if nil

	step func(string) // told before each step that changes the disk, for tests
}

func (o Options) filled() Options {
	if o.Timeout <= 0 {
		o.Timeout = 2 * time.Second
	}
	if o.CheckLimit <= 0 {
		o.CheckLimit = 5 * time.Minute
	}
	// A 32-bit process cannot map a file past 2 GB, and a card should not fill.
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

// Damage is that a file was found damaged, and what was done. It is an error to
// raise an alarm with, not one that stopped anything.
type Damage struct {
	File     string // its name in the data directory
	Why      string
	Repaired bool   // else a new, empty file was begun
	Aside    string // where the damaged file is now
}

func (d *Damage) Error() string {
	if d.Repaired {
		return fmt.Sprintf("%s was damaged (%s) and is back at its last good state: at most the last thing written is lost; the damaged file is kept as %s", d.File, d.Why, d.Aside)
	}
	return fmt.Sprintf("%s was damaged (%s) and could not be repaired: a new, empty one was begun; the damaged file is kept as %s: restore a backup", d.File, d.Why, d.Aside)
}

// Files are the two open files of one data directory.
type Files struct {
	dir     string
	o       Options
	lock    *os.File
	records *bbolt.DB
	cancel  context.CancelFunc
	ready   chan struct{} // closed once the next two are settled

	readings *bbolt.DB
	failed   error

	mu      sync.Mutex
	damages []*Damage
	closed  bool
}

// Open takes a data directory, which it makes if there is none. It returns once
// the records are open; the readings, whose check may take a minute, follow: see
// [Files.Readings]. An error is [ErrBusy] if another process has the directory.
//
// The check runs this same program again, so main must call [CheckMain] before
// anything else.
func Open(ctx context.Context, dir string, o Options) (*Files, error) {
	o = o.filled()
	o.step("directory")
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return nil, fmt.Errorf("the data directory: %w", err)
	}
	lock, err := takeLock(ctx, dir, o.Timeout)
	if err != nil {
		return nil, err
	}
	f := &Files{dir: dir, o: o, lock: lock, ready: make(chan struct{})}
	if f.records, err = f.prepare(ctx, RecordsName, o.RecordsSize); err != nil {
		lock.Close()
		return nil, err
	}
	ctx, f.cancel = context.WithCancel(context.WithoutCancel(ctx))
	go func() {
		defer close(f.ready)
		f.readings, f.failed = f.prepare(ctx, ReadingsName, o.ReadingsSize)
	}()
	return f, nil
}

// Records is the records' file.
func (f *Files) Records() *bbolt.DB { return f.records }

// Sealed is the records' file for writing; see [Sealed].
func (f *Files) Sealed() Sealed { return Sealed{f.records} }

// Readings waits for the readings' file.
func (f *Files) Readings(ctx context.Context) (*bbolt.DB, error) {
	select {
	case <-f.ready:
		if f.failed != nil {
			return nil, f.failed
		}
		return f.readings, nil
	case <-ctx.Done():
		return nil, fmt.Errorf("waiting for %s: %w", ReadingsName, ctx.Err())
	}
}

// Damages are the files found damaged so far.
func (f *Files) Damages() []*Damage {
	f.mu.Lock()
	defer f.mu.Unlock()
	return append([]*Damage(nil), f.damages...)
}

// Close closes both files and lets the directory go. A check of the readings
// that is still running is given up.
func (f *Files) Close() error {
	f.mu.Lock()
	again := f.closed
	f.closed = true
	f.mu.Unlock()
	if again {
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
	errs = append(errs, f.lock.Close())
	if err := errors.Join(errs...); err != nil {
		return fmt.Errorf("close: %w", err)
	}
	return nil
}

// Bytes is how large the two files are.
func (f *Files) Bytes() (int64, error) {
	var sum int64
	for _, name := range []string{ReadingsName, RecordsName} {
		info, err := os.Stat(filepath.Join(f.dir, name))
		if err != nil {
			return 0, fmt.Errorf("how large the files are: %w", err)
		}
		sum += info.Size()
	}
	return sum, nil
}

// Free is how much the disk under the files still takes, bytes.
func (f *Files) Free() (uint64, error) {
	var s unix.Statfs_t
	if err := unix.Statfs(f.dir, &s); err != nil {
		return 0, fmt.Errorf("how much room %s has: %w", f.dir, err)
	}
	return s.Bavail * uint64(s.Bsize), nil
}

// takeLock holds a directory against other processes until the file is closed,
// or the process ends.
func takeLock(ctx context.Context, dir string, timeout time.Duration) (*os.File, error) {
	path := filepath.Join(dir, lockName)
	file, err := os.OpenFile(path, os.O_CREATE|os.O_RDWR, 0o640)
	if err != nil {
		return nil, fmt.Errorf("the lock of the data directory: %w", err)
	}
	ctx, cancel := context.WithTimeout(ctx, timeout)
	defer cancel()
	again := time.NewTicker(20 * time.Millisecond)
	defer again.Stop()
	for {
		err := unix.Flock(int(file.Fd()), unix.LOCK_EX|unix.LOCK_NB)
		if err == nil {
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

// open opens a file that is known to be sound.
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
