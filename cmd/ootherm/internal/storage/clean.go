package storage

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"example.com/ootherm/cmd/ootherm/internal/permission"
	"golang.org/x/sys/unix"
)

// cleanName is the file that says in which state the readings' file was when it was last closed
// in order.
const cleanName = "readings.clean"

// stateOf returns a text that differs after each commit to a file: its size and a sum of its
// meta pages.
func stateOf(path string) (string, error) {
	file, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer file.Close()
	info, err := file.Stat()
	if err != nil {
		return "", err
	}
	sum := sha256.New()
	for _, at := range []int64{0, pageSize(file)} {
		meta, sound := readMeta(file, at)
		if !sound {
			return "", errNoGoodState
		}
		sum.Write(meta)
	}
	return fmt.Sprintf("%d %s\n", info.Size(), hex.EncodeToString(sum.Sum(nil))), nil
}

// noteClean notes the state of the readings' file, which is closed. A lost or incomplete note
// costs a check at the next start, so it is not synced.
func (f *Files) noteClean() error {
	state, err := stateOf(filepath.Join(f.dir, ReadingsName))
	if err != nil {
		return err
	}
	note := filepath.Join(f.dir, cleanName)
	file, err := os.OpenFile(note, os.O_CREATE|os.O_WRONLY|os.O_TRUNC|unix.O_NOFOLLOW, 0o640)
	if err != nil {
		return err
	}
	_, err = file.WriteString(state)
	return errors.Join(err, file.Close(), permission.Give(note))
}

// takeClean reports whether the readings' file is as it was when it was closed in order. It
// removes the note: after a crash the next start checks the file.
func (f *Files) takeClean() bool {
	note := filepath.Join(f.dir, cleanName)
	noted, err := os.ReadFile(note)
	if err != nil || os.Remove(note) != nil {
		return false
	}
	state, err := stateOf(filepath.Join(f.dir, ReadingsName))
	return err == nil && state == string(noted)
}
