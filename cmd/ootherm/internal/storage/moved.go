package storage

import (
	"errors"
	"io"
	"os"
	"path/filepath"
)

// maxSiblings limits the folders in which [MovedTo] looks (our choice).
const maxSiblings = 1000

// notePlace writes into the lock of a data directory where the directory is, so that it is
// recognised after it was moved. On a full card it is not written, and then it is not
// recognised.
func notePlace(lock *os.File, dir string) {
	place, err := filepath.Abs(dir)
	if err != nil || placeOf(lock) == place {
		return
	}
	if err := lock.Truncate(0); err == nil {
		_, _ = lock.WriteAt([]byte(place), 0)
	}
}

// placeOf returns what a lock says of the place of its directory.
func placeOf(lock io.ReaderAt) string {
	text := make([]byte, 4<<10) // the longest path of Linux (limits.h)
	n, err := lock.ReadAt(text, 0)
	if err != nil && !errors.Is(err, io.EOF) {
		return ""
	}
	return string(text[:n])
}

// MovedTo returns the folder beside a data directory that was this data directory before. It
// is empty if the directory exists, or if there is no such folder.
func MovedTo(dir string) string {
	place, err := filepath.Abs(dir)
	if err != nil {
		return ""
	}
	if _, err := os.Lstat(place); !errors.Is(err, os.ErrNotExist) {
		return ""
	}
	above, err := os.Open(filepath.Dir(place))
	if err != nil {
		return ""
	}
	defer above.Close()
	names, _ := above.Readdirnames(maxSiblings) // what cannot be read is not there
	for _, name := range names {
		folder := filepath.Join(filepath.Dir(place), name)
		lock, err := os.Open(filepath.Join(folder, lockName))
		if err != nil {
			continue
		}
		was := placeOf(lock)
		_ = lock.Close() // it was only read
		if _, err := os.Stat(filepath.Join(folder, RecordsName)); err == nil && was == place {
			return folder
		}
	}
	return ""
}
