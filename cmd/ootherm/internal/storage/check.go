package storage

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"runtime"
	"runtime/debug"
	"strings"
	"syscall"
	"time"
	"unsafe"

	"go.etcd.io/bbolt"
	bbolterrors "go.etcd.io/bbolt/errors"
	"golang.org/x/sys/unix"
)

// childVariable is the environment variable that makes a process check one file. Its value
// is the file's name.
const childVariable = "OOTHERM_CHECK_FILE"

// Verdicts that the child prints on its standard output.
const (
	verdictSound = "sound"
	verdictBad   = "bad: " // and the reason
	verdictBusy  = "busy"
)

// badError reports that a file is damaged. Any other error of check means that the check
// could not be done.
type badError struct{ why string }

func (e *badError) Error() string { return e.why }

// Verify checks a file's content for damage that the store cannot see, such as a record
// with a wrong checksum. It may panic.
type Verify func(*bbolt.Tx) error

// CheckMain checks a file and ends the process if [Open] started the process as a check.
// Otherwise it returns at once. Main calls it before anything else. The argument content
// lists the checks of a file's content, by the file's name.
func CheckMain(content map[string][]Verify) {
	name := os.Getenv(childVariable)
	if name == "" {
		return
	}
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "a check takes one file")
		os.Exit(1)
	}
	// A damaged file can demand any amount of memory. The limits end this process before
	// the station's.
	_ = unix.Setrlimit(unix.RLIMIT_DATA, &unix.Rlimit{Cur: 512 << 20, Max: 512 << 20})
	_ = os.WriteFile("/proc/self/oom_score_adj", []byte("1000"), 0)
	// A short life needs little collection, which is much of its time on a slow machine. The
	// unit's limit holds for the station and its check together.
	debug.SetGCPercent(-1)
	debug.SetMemoryLimit(48 << 20)
	verdict, err := examine(os.Args[1], content[name])
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	fmt.Println(verdict)
	os.Exit(0)
}

// examine checks a file and returns a verdict. It returns an error if the check could not
// be done.
func examine(path string, content []Verify) (verdict string, err error) {
	debug.SetPanicOnFault(true) // a read past the end of the mapped file
	defer func() {
		if r := recover(); r != nil {
			verdict, err = verdictBad+brokenText(fmt.Sprint(r)), nil
		}
	}()
	info, err := os.Stat(path)
	if err != nil {
		return "", err
	}
	if info.Size() == 0 {
		return verdictBad + "it is empty", nil
	}
	db, err := bbolt.Open(path, 0, &bbolt.Options{ReadOnly: true, Timeout: time.Second})
	switch {
	case errors.Is(err, bbolterrors.ErrTimeout):
		return verdictBusy, nil
	case errors.Is(err, os.ErrPermission):
		return "", err
	case err != nil:
		return verdictBad + "it is not a file of a station, or its beginning is overwritten (" + oneLine(err.Error()) + ")", nil
	}
	err = db.View(func(tx *bbolt.Tx) error {
		// The store maps the file once, and then trusts that each of its pages is there.
		if tx.Size() > info.Size() {
			return fmt.Errorf("it ends after %d of %d bytes", info.Size(), tx.Size())
		}
		if err := verify(tx); err != nil {
			return err
		}
		for _, v := range content {
			if err := v(tx); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return verdictBad + oneLine(err.Error()), nil
	}
	return verdictSound, nil
}

// verify checks the store's structure, and compares its content with its seal if it has one.
func verify(tx *bbolt.Tx) error {
	var first error
	for err := range tx.Check() {
		if first == nil {
			first = err
		}
	}
	if first != nil {
		return errors.New(brokenText(first.Error()))
	}
	if err := tx.ForEach(func(_ []byte, b *bbolt.Bucket) error { return verifyPlace(tx, b) }); err != nil {
		return err
	}
	return verifySeal(tx)
}

// verifyPlace checks that each value of a bucket lies within the file, so that reading it
// cannot crash. It does not read the values: they are nearly the whole file.
func verifyPlace(tx *bbolt.Tx, b *bbolt.Bucket) error {
	start := tx.DB().Info().Data
	end := start + uintptr(tx.Size())
	inline := b.Root() == 0 // it lies in the page of the bucket above, and may be a copy of it
	return b.ForEach(func(k, v []byte) error {
		switch at := uintptr(unsafe.Pointer(unsafe.SliceData(v))); {
		case v == nil:
			return verifyPlace(tx, b.Bucket(k))
		case len(v) == 0 || inline:
		case at < start || at >= end || uintptr(len(v)) > end-at:
			return fmt.Errorf("a record of %d bytes lies outside the file", len(v))
		}
		return nil
	})
}

// check checks a file in a child process. It returns a [badError] if the file is damaged.
// The name selects the checks of the content.
func check(ctx context.Context, name, path string, limit time.Duration) error {
	if _, err := os.Stat(path); err != nil {
		return err
	}
	// The child's error is text alone, and the caller needs to know that rights are missing.
	if err := unix.Access(path, unix.R_OK); errors.Is(err, unix.EACCES) {
		return &os.PathError{Op: "open", Path: path, Err: err}
	}
	self, err := os.Executable()
	if err != nil {
		return err
	}
	limited, cancel := context.WithTimeout(ctx, limit)
	defer cancel()
	cmd := exec.CommandContext(limited, self, path)
	cmd.Env = append(os.Environ(), childVariable+"="+name)
	var out, errOut bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errOut
	// The kernel kills the child when this process ends, so that no child keeps the file
	// locked. The signal follows the thread that started the child, so keep the thread.
	cmd.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	switch err := cmd.Start(); {
	case err != nil && ctx.Err() != nil:
		return ctx.Err()
	case err != nil && limited.Err() != nil:
		return tooLong(limit)
	case err != nil:
		// No child can be started. Check the structure in this process instead: a station
		// with a weaker check is better than none.
		return examineHere(ctx, path, limit)
	}
	err = cmd.Wait()
	var exit *exec.ExitError
	switch {
	case err == nil:
		return verdictError(strings.TrimSpace(out.String()))
	case ctx.Err() != nil:
		return ctx.Err()
	case limited.Err() != nil:
		return tooLong(limit)
	case errors.As(err, &exit) && crashed(exit):
		return &badError{brokenText(errOut.String())}
	}
	return fmt.Errorf("the check could not be done: %w: %s", err, oneLine(errOut.String()))
}

// verdictError returns the error that a verdict means. It is nil for a sound file.
func verdictError(verdict string) error {
	why, bad := strings.CutPrefix(verdict, verdictBad)
	switch {
	case verdict == verdictSound:
		return nil
	case verdict == verdictBusy:
		return ErrBusy
	case bad:
		return &badError{why}
	}
	return fmt.Errorf("the check gave the unknown verdict %q", verdict)
}

// tooLong is the error of a check that passed its time limit.
func tooLong(limit time.Duration) error {
	return &badError{fmt.Sprintf("its check did not end within %s", limit)}
}

// examineHere checks the structure of a file in this process, without its content. If the
// check hangs, it leaves the goroutine behind.
func examineHere(ctx context.Context, path string, limit time.Duration) error {
	done := make(chan error, 1)
	go func() {
		verdict, err := examine(path, nil)
		if err == nil {
			err = verdictError(verdict)
		}
		done <- err
	}()
	timeout := time.NewTimer(limit)
	defer timeout.Stop()
	select {
	case err := <-done:
		return err
	case <-ctx.Done():
		return ctx.Err()
	case <-timeout.C:
		return tooLong(limit)
	}
}

// crashed reports whether the file made the child crash: a panic of the runtime, or a
// fault. A child that was killed, by hand, for lack of memory or for a forbidden call, says
// nothing about the file.
func crashed(e *exec.ExitError) bool {
	s, ok := e.Sys().(syscall.WaitStatus)
	if !ok || !s.Signaled() {
		return e.ExitCode() == 2
	}
	return s.Signal() == syscall.SIGSEGV || s.Signal() == syscall.SIGBUS || s.Signal() == syscall.SIGABRT
}

// brokenText says that a store contradicts itself, with what the store says of it.
func brokenText(detail string) string {
	return "its pages contradict each other (" + strings.TrimPrefix(oneLine(detail), "panic: ") + ")"
}

// oneLine returns the first line of a text, at most 200 bytes.
func oneLine(s string) string {
	s, _, _ = strings.Cut(strings.TrimSpace(s), "\n")
	if len(s) > 200 {
		s = s[:200]
	}
	return s
}
