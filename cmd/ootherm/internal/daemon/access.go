package daemon

import (
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/atomicfile"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/configpath"
	"example.com/ootherm/cmd/ootherm/internal/passphrase"
	"example.com/ootherm/cmd/ootherm/internal/permission"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/cmd/ootherm/internal/readtoken"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
)

// access lets other machines in: people by the passphrase, programs by a token.
type access struct {
	*passphrase.File
	tokens readtoken.File
}

var _ page.Access = access{}

// ValidToken reports whether a text is a token with which another program may read.
func (a access) ValidToken(text string) (bool, error) { return a.tokens.Valid(text) }

// ReadingTokens gives the file of the reading tokens of the station that the configuration
// file at path describes.
func ReadingTokens(path string) (readtoken.File, error) {
	c, err := config.Load(path, probeconfig.Drivers())
	if err != nil {
		return readtoken.File{}, err
	}
	if err := permission.OpenFolder(c.Station.Data); err != nil {
		return readtoken.File{}, err
	}
	return readtoken.FileIn(c.Station.Data), nil
}

// remoteAccess returns what lets other machines in. It is nil if no passphrase is set.
func remoteAccess(c config.Config) (page.Access, error) {
	f := passphrase.FileIn(c.Station.Data)
	set, err := f.IsSet()
	if err != nil || !set {
		return nil, err
	}
	return access{f, readtoken.FileIn(c.Station.Data)}, nil
}

// RequirePassphrase returns an error if the configuration opens the page to the network
// and no passphrase is set. path is the configuration's file.
func RequirePassphrase(path string, c config.Config) error {
	needs, err := NeedsPassphrase(c)
	if needs {
		err = usererr.Usage(fmt.Errorf("station.listen: %q opens the page to the whole network, and without a passphrase anybody there could quiet an alarm; set one with %s, or listen on 127.0.0.1", c.Station.Listen, PassphraseCommand(path)))
	}
	return err
}

// NeedsPassphrase reports whether the page is open to the network and no passphrase is set.
func NeedsPassphrase(c config.Config) (bool, error) {
	a, err := remoteAccess(c)
	if errors.Is(err, fs.ErrPermission) {
		return false, nil // one is set, and only the station may read it
	}
	return err == nil && c.Station.Open && a == nil, err
}

// PassphraseCommand is the command that sets the passphrase of a configuration's station.
func PassphraseCommand(path string) string {
	return configpath.Sudo(path) + "ootherm passphrase" + configpath.Flag(path)
}

// SetPassphrase sets the passphrase of the station that the configuration file at path
// describes.
func SetPassphrase(path, text string) error {
	c, err := config.Load(path, probeconfig.Drivers())
	if err != nil {
		return err
	}
	if err := permission.OpenFolder(c.Station.Data); err != nil {
		return err
	}
	return passphrase.FileIn(c.Station.Data).Set(text)
}

// minSecretLength is the length, in characters, from which the calendar's address cannot
// be guessed: 26 characters of five bits hold 130 bits (crypto/rand.Text).
const minSecretLength = 26

// calendarSecret returns the secret part of the calendar's address. It makes the secret
// at the first call and keeps it in a file. A user who deletes the file gets a new
// secret, and the old address stops working.
func calendarSecret(data string) (string, error) {
	path := filepath.Join(data, "calendar-secret")
	text, err := os.ReadFile(path)
	if secret := strings.TrimSpace(string(text)); secret != "" { // an empty secret was never part of an address
		if len(secret) < minSecretLength {
			return "", usererr.Usage(fmt.Errorf("%s holds %d characters; the secret in the calendar's address needs at least %d: write more, or delete the file to get a new secret", path, len(secret), minSecretLength))
		}
		return secret, nil
	}
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return "", fmt.Errorf("the calendar's secret: %w", err)
	}
	secret := strings.ToLower(rand.Text())
	if err := atomicfile.WriteBytes(path, []byte(secret+"\n")); err != nil {
		return "", fmt.Errorf("the calendar's secret: %w", err)
	}
	return secret, nil
}
