package storage

import (
	"errors"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"go.etcd.io/bbolt"
)

func TestErrorNamesTheOtherProcess(t *testing.T) {
	dir := t.TempDir()
	cmd := child(t, holdVariable+"="+dir)
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	if _, err := out.Read(make([]byte, 16)); err != nil {
		t.Fatal(err)
	}
	_, err = Open(t.Context(), dir, Options{Timeout: 50 * time.Millisecond})
	if !errors.Is(err, ErrBusy) || !strings.Contains(err.Error(), dir) {
		t.Errorf("error is %v", err)
	}
	if _, err := Restore(t.Context(), dir, []Replacement{{RecordsName, strings.NewReader("x")}}, Options{Timeout: 50 * time.Millisecond}); !errors.Is(err, ErrBusy) {
		t.Errorf("restored under a running station: %v", err)
	}
	in.Close()
	if err := cmd.Wait(); err != nil {
		t.Fatal(err)
	}
	mustClose(t, mustOpen(t, dir, Options{}))
}

func TestOneFileLockedByAnotherProgram(t *testing.T) {
	dir := t.TempDir()
	db, err := bbolt.Open(filepath.Join(dir, RecordsName), 0o600, &bbolt.Options{Timeout: time.Second})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := Open(t.Context(), dir, Options{Timeout: 50 * time.Millisecond}); !errors.Is(err, ErrBusy) {
		t.Errorf("error is %v", err)
	}
	wantFiles(t, dir, lockName, RecordsName)
}
