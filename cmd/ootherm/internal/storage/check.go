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

	"go.etcd.io/bbolt"
	bbolterrors "go.etcd.io/bbolt/errors"
	"golang.org/x/sys/unix"
)

// childVariable marks a process that is to check a file and nothing else.
const childVariable = "OOTHERM_CHECK_FILE"

// What the child says on its standard output.
const (
	saysSound = "sound"
	saysBad   = "bad: "
	saysBusy  = "busy"
)

// badError is that a file is damaged; any other error of check is that it could
// not be told.
type badError struct{ why string }

func (e *badError) Error() string { return e.why }

// Verify looks through a file's content for what the store itself cannot see,
// such as a record whose own sum does not fit. It may panic.
type Verify func(*bbolt.Tx) error

// CheckMain ends the process after checking a file, if it was started by
// [Open] for that; otherwise it returns at once. Main calls it before anything
// else. Content is what is verified beyond the store's own structure, by the
// file's name.
func CheckMain(content map[string][]Verify) {
	name := os.Getenv(childVariable)
	if name == "" {
		return
	}
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "a check takes one file")
		os.Exit(1)
	}
	// A damaged file can ask for any amount of memory: rather this process is
	// ended than the station beside it.
	_ = unix.Setrlimit(unix.RLIMIT_DATA, &unix.Rlimit{Cur: 512 << 20, Max: 512 << 20})
	_ = os.WriteFile("/proc/self/oom_score_adj", []byte("1000"), 0)
	verdict, err := examine(os.Args[1], content[name])
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	fmt.Println(verdict)
	os.Exit(0)
}

// examine is the child's work. An error is that it could not be told.
func examine(path string, content []Verify) (verdict string, err error) {
	debug.SetPanicOnFault(true) // a read past the end of the mapped file
	defer func() {
		if r := recover(); r != nil {
			verdict, err = saysBad+oneLine(fmt.Sprint(r)), nil
		}
	}()
	info, err := os.Stat(path)
	if err != nil {
		return "", err
	}
	if info.Size() == 0 {
		return saysBad + "it is empty", nil
	}
	db, err := bbolt.Open(path, 0, &bbolt.Options{ReadOnly: true, Timeout: time.Second})
	switch {
	case errors.Is(err, bbolterrors.ErrTimeout):
		return saysBusy, nil
	case errors.Is(err, os.ErrPermission):
		return "", err
	case err != nil:
		return saysBad + oneLine(err.Error()), nil
	}
	err = db.View(func(tx *bbolt.Tx) error {
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
		return saysBad + oneLine(err.Error()), nil
	}
	return saysSound, nil
}

// verify checks the store's structure, reads every byte of its content and holds
// it against its seal.
func verify(tx *bbolt.Tx) error {
	var first error
	for err := range tx.Check() {
		if first == nil {
			first = err
		}
	}
	if first != nil {
		return first
	}
	if _, err := contentSum(tx); err != nil {
		return err
	}
	return verifySeal(tx)
}

// check has a child look through a file. Name says which file it is, or is to
// become.
func check(ctx context.Context, name, path string, limit time.Duration) error {
	if _, err := os.Stat(path); err != nil {
		return err
	}
	self, err := os.Executable()
	if err != nil {
		return err
	}
	limited, cancel := context.WithTimeout(ctx, limit)
	defer cancel()
	cmd := exec.CommandContext(limited, self, path)
	cmd.Env = append(os.Environ(), childVariable+"="+name)
	var out, words bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &words
	// The child ends with this process, or it would keep the file locked. The
	// signal is sent when the thread that started it ends, so keep the thread.
	cmd.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	switch err := cmd.Start(); {
	case err != nil && ctx.Err() != nil:
		return ctx.Err()
	case err != nil && limited.Err() != nil:
		return tooLong(limit)
	case err != nil:
		// Where no program may be started, or not this one, a check here is
		// better than none, and none better than not to measure.
		return examineHere(ctx, path, limit)
	}
	err = cmd.Wait()
	var exit *exec.ExitError
	switch {
	case err == nil:
		return judge(strings.TrimSpace(out.String()))
	case ctx.Err() != nil:
		return ctx.Err()
	case limited.Err() != nil:
		return tooLong(limit)
	case errors.As(err, &exit) && crashed(exit):
		return &badError{"its check crashed: " + oneLine(words.String())}
	}
	return fmt.Errorf("the check could not be done: %w: %s", err, oneLine(words.String()))
}

// judge is what a verdict means.
func judge(said string) error {
	why, bad := strings.CutPrefix(said, saysBad)
	switch {
	case said == saysSound:
		return nil
	case said == saysBusy:
		return ErrBusy
	case bad:
		return &badError{why}
	}
	return fmt.Errorf("the check said %q, which it never does", said)
}

func tooLong(limit time.Duration) error {
	return &badError{fmt.Sprintf("its check did not end within %s", limit)}
}

// examineHere is a check of the structure alone in this process. One that hangs
// is left behind.
func examineHere(ctx context.Context, path string, limit time.Duration) error {
	done := make(chan error, 1)
	go func() {
		said, err := examine(path, nil)
		if err == nil {
			err = judge(said)
		}
		done <- err
	}()
	late := time.NewTimer(limit)
	defer late.Stop()
	select {
	case err := <-done:
		return err
	case <-ctx.Done():
		return ctx.Err()
	case <-late.C:
		return tooLong(limit)
	}
}

// crashed reports whether the child fell over what it read: a panic of the
// runtime, or a fault. That somebody ended it, by hand or for want of memory, or
// forbade it a call, says nothing about the file.
func crashed(e *exec.ExitError) bool {
	s, ok := e.Sys().(syscall.WaitStatus)
	if !ok || !s.Signaled() {
		return e.ExitCode() == 2
	}
	return s.Signal() == syscall.SIGSEGV || s.Signal() == syscall.SIGBUS || s.Signal() == syscall.SIGABRT
}

func oneLine(s string) string {
	s, _, _ = strings.Cut(strings.TrimSpace(s), "\n")
	if len(s) > 200 {
		s = s[:200]
	}
	return s
}
