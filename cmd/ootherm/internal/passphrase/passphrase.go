// Package passphrase stores the station's passphrase as an Argon2id hash (RFC 9106). It
// owns one file, which only the station's user can read. It must not know who asks for the
// passphrase, and it never stores the passphrase itself.
package passphrase

import (
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"
	"sync"
	"unicode/utf8"

	"example.com/ootherm/cmd/ootherm/internal/atomicfile"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"golang.org/x/crypto/argon2"
)

// The cost of Argon2id is the one of the OWASP password storage cheat sheet: 19 MiB, two
// passes, one lane. RFC 9106 recommends 64 MiB, which is more than the whole station may
// use.
const (
	memoryKiB = 19 << 10
	passes    = 2
	lanes     = 1
	saltLen   = 16 // RFC 9106, section 3.1
	hashLen   = 32
)

// Limits of a passphrase.
const (
	minCharacters = 8   // NIST SP 800-63B-3, 5.1.1.2
	maxBytes      = 256 // limits the work of a check (our choice)
)

// File is the file that holds the hash.
type File struct {
	path string
	mu   sync.Mutex // one check at a time: each needs 19 MiB
}

// FileIn returns the passphrase's file in a station's folder.
func FileIn(data string) *File { return &File{path: filepath.Join(data, "passphrase")} }

// Validate returns an error for people if a text cannot be a passphrase.
func Validate(text string) error {
	switch n := utf8.RuneCountInString(text); {
	case n < minCharacters:
		return usererr.New(fmt.Sprintf("it has %d characters; use %d or more, such as four words", n, minCharacters))
	case len(text) > maxBytes || !utf8.ValidString(text) || strings.ContainsAny(text, "\r\n\x00"):
		return usererr.New("it is too long, or has characters that cannot be typed in a browser; use up to 256 plain ones")
	}
	return nil
}

// Set stores the hash of a new passphrase and replaces the old one. The error is that of
// [Validate], or of the disk.
func (f *File) Set(text string) error {
	if err := Validate(text); err != nil {
		return err
	}
	salt := make([]byte, saltLen)
	if _, err := rand.Read(salt); err != nil {
		return err
	}
	line := encode(salt, argon2.IDKey([]byte(text), salt, passes, memoryKiB, lanes, hashLen))
	err := atomicfile.Write(f.path, func(made *os.File) error {
		_, err := made.WriteString(line + "\n")
		return err
	})
	if err != nil {
		return fmt.Errorf("writing the passphrase: %w", err)
	}
	return nil
}

// IsSet reports whether a passphrase is set. A file without a valid hash is an error.
func (f *File) IsSet() (bool, error) {
	_, _, err := f.read()
	if errors.Is(err, os.ErrNotExist) {
		return false, nil
	}
	return err == nil, err
}

// Right reports whether a text is the passphrase. It reads the file each time, so that a
// new passphrase applies at once.
func (f *File) Right(text string) (bool, error) {
	if len(text) > maxBytes {
		return false, nil
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	salt, want, err := f.read()
	if err != nil {
		return false, err
	}
	// Collect garbage before and after a check. Otherwise the memory of this check adds to the
	// garbage of other requests, or to that of the check before.
	debug.FreeOSMemory()
	got := argon2.IDKey([]byte(text), salt, passes, memoryKiB, lanes, hashLen)
	debug.FreeOSMemory()
	return subtle.ConstantTimeCompare(got, want) == 1, nil
}

// Version returns a text that changes with each new passphrase, also when the same one is
// set again.
func (f *File) Version() (string, error) {
	salt, hash, err := f.read()
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256(append(salt, hash...))
	return string(sum[:]), nil
}

// read returns the salt and the hash in the file.
func (f *File) read() (salt, hash []byte, err error) {
	text, err := os.ReadFile(f.path)
	if err != nil {
		return nil, nil, err
	}
	rest, ok := strings.CutPrefix(strings.TrimSpace(string(text)), header())
	a, b, two := strings.Cut(rest, "$")
	salt, errA := base64.RawStdEncoding.DecodeString(a)
	hash, errB := base64.RawStdEncoding.DecodeString(b)
	if !ok || !two || errA != nil || errB != nil || len(salt) != saltLen || len(hash) != hashLen {
		return nil, nil, fmt.Errorf("%s holds no passphrase; set it again with ootherm passphrase", f.path)
	}
	return salt, hash, nil
}

// header returns the algorithm and its cost, as they begin the file.
func header() string {
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$", argon2.Version, memoryKiB, passes, lanes)
}

// encode returns the line of the file.
func encode(salt, hash []byte) string {
	return header() + base64.RawStdEncoding.EncodeToString(salt) + "$" + base64.RawStdEncoding.EncodeToString(hash)
}
