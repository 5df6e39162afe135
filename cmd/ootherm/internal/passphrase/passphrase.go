// Package passphrase keeps the station's passphrase as an Argon2id hash
// (RFC 9106) in one file that only the station's user can read.
package passphrase

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"unicode/utf8"

	"example.com/ootherm/cmd/ootherm/internal/atomicfile"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"golang.org/x/crypto/argon2"
)

// The cost is the OWASP password storage cheat sheet's for Argon2id: 19 MiB,
// two passes, one lane. RFC 9106 would have 64 MiB, which is more than the whole
// station may take.
const (
	memoryKiB = 19 << 10
	passes    = 2
	lanes     = 1
	saltLen   = 16 // RFC 9106, section 3.1
	hashLen   = 32
)

// shortest is NIST SP 800-63B-3, 5.1.1.2; longest bounds the work.
const shortest, longest = 8, 256

// File is where the hash is.
type File struct {
	path string
	one  sync.Mutex // one check at a time: each takes 19 MiB
}

// In is the file in a station's folder.
func In(data string) *File { return &File{path: filepath.Join(data, "passphrase")} }

// Fit tells why a text cannot be a passphrase; nil where it can.
func Fit(text string) error {
	switch n := utf8.RuneCountInString(text); {
	case n < shortest:
		return usererr.New(fmt.Sprintf("it has %d characters; use %d or more, such as four words", n, shortest))
	case len(text) > longest || !utf8.ValidString(text) || strings.ContainsAny(text, "\r\n\x00"):
		return usererr.New("it is too long, or has characters that cannot be typed in a browser; use up to 256 plain ones")
	}
	return nil
}

// Set keeps the hash of another passphrase, in place of the one before.
func (f *File) Set(text string) error {
	if err := Fit(text); err != nil {
		return err
	}
	salt := make([]byte, saltLen)
	if _, err := rand.Read(salt); err != nil {
		return err
	}
	line := encode(salt, argon2.IDKey([]byte(text), salt, passes, memoryKiB, lanes, hashLen))
	err := atomicfile.Write(f.path, func(made *os.File) error {
		_, err := made.WriteString(line + "\n")
		return errors.Join(err, own(made, filepath.Dir(f.path)))
	})
	if err != nil {
		return fmt.Errorf("writing it: %w", err)
	}
	return nil
}

// own gives a file that root made to whom its folder belongs to: the station
// does not run as root.
func own(made *os.File, dir string) error {
	info, err := os.Stat(dir)
	if err != nil {
		return err
	}
	of, ok := info.Sys().(*syscall.Stat_t)
	if !ok || os.Geteuid() != 0 {
		return nil
	}
	return made.Chown(int(of.Uid), int(of.Gid))
}

// There reports whether a passphrase is set. A file that holds none is an error.
func (f *File) There() (bool, error) {
	_, _, err := f.read()
	if errors.Is(err, os.ErrNotExist) {
		return false, nil
	}
	return err == nil, err
}

// Right reports whether a text is the passphrase. The file is read each time, so
// that a new passphrase holds at once.
func (f *File) Right(text string) (bool, error) {
	if len(text) > longest {
		return false, nil
	}
	f.one.Lock()
	defer f.one.Unlock()
	salt, want, err := f.read()
	if err != nil {
		return false, err
	}
	got := argon2.IDKey([]byte(text), salt, passes, memoryKiB, lanes, hashLen)
	return subtle.ConstantTimeCompare(got, want) == 1, nil
}

func (f *File) read() (salt, hash []byte, err error) {
	text, err := os.ReadFile(f.path)
	if err != nil {
		return nil, nil, err
	}
	rest, ok := strings.CutPrefix(strings.TrimSpace(string(text)), cost())
	a, b, two := strings.Cut(rest, "$")
	salt, errA := base64.RawStdEncoding.DecodeString(a)
	hash, errB := base64.RawStdEncoding.DecodeString(b)
	if !ok || !two || errA != nil || errB != nil || len(salt) != saltLen || len(hash) != hashLen {
		return nil, nil, fmt.Errorf("%s holds no passphrase; set it again with ootherm passphrase", f.path)
	}
	return salt, hash, nil
}

func cost() string {
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$", argon2.Version, memoryKiB, passes, lanes)
}

func encode(salt, hash []byte) string {
	return cost() + base64.RawStdEncoding.EncodeToString(salt) + "$" + base64.RawStdEncoding.EncodeToString(hash)
}
