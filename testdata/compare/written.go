package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"
)

// written stores a day as a station does, a commit every five minutes that the kernel writes out,
// behind a day that is there already. It gives how many bytes the kernel wrote; 0 where the
// folder is in memory.
func written(open func(string) (store, error), probes int) (bytes int64, err error) {
	dir, err := os.MkdirTemp("", "written")
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	s, err := open(dir)
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, s.close()) }()
	days := [2][][]reading{}
	for day := range days {
		for p := range probes {
			days[day] = append(days[day], made(p, day))
		}
	}
	if err := errors.Join(s.load(days[0]), flushed(dir)); err != nil {
		return 0, err
	}
	before, err := kernelWrote()
	if err != nil {
		return 0, err
	}
	const commits = int(24 * time.Hour / (5 * time.Minute))
	for i := range commits {
		batch := make([][]reading, probes)
		for p, all := range days[1] {
			batch[p] = all[len(all)*i/commits : len(all)*(i+1)/commits]
		}
		if err := errors.Join(s.load(batch), flushed(dir)); err != nil {
			return 0, err
		}
	}
	after, err := kernelWrote()
	return after - before, err
}

// flushed has the kernel write out all files below a folder.
func flushed(dir string) error {
	return filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		if err != nil || !e.Type().IsRegular() {
			return err
		}
		f, err := os.OpenFile(path, os.O_RDWR, 0)
		if errors.Is(err, fs.ErrNotExist) || errors.Is(err, fs.ErrPermission) {
			return nil
		}
		if err != nil {
			return err
		}
		return errors.Join(f.Sync(), f.Close())
	})
}

// kernelWrote is what this process had the kernel write to block devices, bytes (proc(5)).
func kernelWrote() (int64, error) {
	text, err := os.ReadFile("/proc/self/io")
	if err != nil {
		return 0, err
	}
	for line := range strings.Lines(string(text)) {
		if n, ok := strings.CutPrefix(line, "write_bytes: "); ok {
			return strconv.ParseInt(strings.TrimSpace(n), 10, 64)
		}
	}
	return 0, fmt.Errorf("/proc/self/io does not say write_bytes")
}
