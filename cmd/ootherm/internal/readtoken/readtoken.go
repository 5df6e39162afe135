// Package readtoken keeps the tokens with which other programs read a station's metrics and
// JSON. It owns one file in the station's folder, which only the station's user can read,
// and it never stores a token itself. It must not know what a request is.
//
// # Decisions
//
//   - A token is 52 random characters with 260 bits (crypto/rand.Text, twice). Nobody
//     guesses that, so a plain SHA-256 of it is stored. A slow hash such as the
//     passphrase's would cost every scrape a fraction of a second.
//   - A token reads and never writes, so that a copy of it in another program's
//     configuration cannot quiet an alarm.
package readtoken

import (
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
	"unicode"

	"example.com/ootherm/cmd/ootherm/internal/atomicfile"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
)

// Limits of the file, our choice.
const (
	maxTokens    = 100
	maxNameBytes = 64
)

// Token is a token as it is kept: its name, the day on which it was made, and its hash.
type Token struct {
	Name   string `json:"name"`
	Made   string `json:"made"`   // 2006-01-02
	SHA256 string `json:"sha256"` // hexadecimal
}

// File is the file that holds the hashes of a station's tokens.
type File struct{ path string }

// FileIn returns the file of the tokens in a station's folder.
func FileIn(data string) File { return File{filepath.Join(data, "reading-tokens")} }

// List gives the tokens in the order in which they were made. Without a file there is none.
func (f File) List() ([]Token, error) {
	b, err := os.ReadFile(f.path)
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("reading the tokens: %w", err)
	}
	var all []Token
	if err := json.Unmarshal(b, &all); err != nil {
		return nil, usererr.New(fmt.Sprintf("%s is damaged: %v; delete it and make new tokens", f.path, err))
	}
	return all, nil
}

// Make makes a token, and returns its text. The text cannot be shown again.
func (f File) Make(name string, day time.Time) (string, error) {
	if name == "" || len(name) > maxNameBytes || strings.ContainsFunc(name, func(r rune) bool { return unicode.IsControl(r) || r == unicode.ReplacementChar }) {
		return "", usererr.Usage(fmt.Errorf("%q cannot be a token's name: use 1 to %d characters, such as the name of the program that reads", name, maxNameBytes))
	}
	all, err := f.List()
	if err != nil {
		return "", err
	}
	if slices.ContainsFunc(all, func(t Token) bool { return t.Name == name }) {
		return "", usererr.Usage(fmt.Errorf("a token is named %q already; revoke it first, or use another name", name))
	}
	if len(all) >= maxTokens {
		return "", usererr.New(fmt.Sprintf("there are %d tokens already; revoke those that nobody uses", maxTokens))
	}
	secret := strings.ToLower(rand.Text() + rand.Text())
	return secret, f.write(append(all, Token{Name: name, Made: day.Format(time.DateOnly), SHA256: hash(secret)}))
}

// Revoke ends the token of a name.
func (f File) Revoke(name string) error {
	all, err := f.List()
	if err != nil {
		return err
	}
	left := slices.DeleteFunc(slices.Clone(all), func(t Token) bool { return t.Name == name })
	if len(left) == len(all) {
		return usererr.Usage(fmt.Errorf("no token is named %q; see ootherm token list", name))
	}
	return f.write(left)
}

// Valid reports whether a text is one of the tokens. It reads the file each time, so that a
// new token and a revoked one apply at once.
func (f File) Valid(secret string) (bool, error) {
	all, err := f.List()
	if err != nil {
		return false, err
	}
	got, found := hash(secret), 0
	for _, t := range all {
		found |= subtle.ConstantTimeCompare([]byte(got), []byte(t.SHA256))
	}
	return found == 1, nil
}

func (f File) write(all []Token) error {
	b, err := json.MarshalIndent(all, "", "  ")
	if err == nil {
		err = atomicfile.WriteBytes(f.path, append(b, '\n'))
	}
	if err != nil {
		return fmt.Errorf("writing the tokens: %w", err)
	}
	return nil
}

func hash(secret string) string {
	sum := sha256.Sum256([]byte(secret))
	return hex.EncodeToString(sum[:])
}
