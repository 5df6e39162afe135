package app

import (
	"crypto/rand"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/passphrase"
	"example.com/ootherm/cmd/ootherm/internal/web"
)

var _ web.Access = (*passphrase.File)(nil)

// access is how other machines are let in; nil where no passphrase is set.
func access(c config.Config) (web.Access, error) {
	f := passphrase.In(c.Station.Data)
	there, err := f.There()
	if err != nil || !there {
		return nil, err
	}
	return f, nil
}

// guarded refuses to open the page to the network without a passphrase.
func guarded(c config.Config) error {
	a, err := access(c)
	if err == nil && c.Station.Open && a == nil {
		err = misconfigured{fmt.Errorf("station.listen: %q opens the page to the whole network, and without a passphrase anybody there could quiet an alarm; set one with ootherm passphrase --config FILE, or listen on 127.0.0.1", c.Station.Listen)}
	}
	return err
}

// SetPassphrase sets the passphrase of a configuration's station.
func SetPassphrase(path, text string) error {
	c, err := config.Load(path)
	if err != nil {
		return err
	}
	if err := folder(c.Station.Data); err != nil {
		return fmt.Errorf("app: the station's folder: %w", err)
	}
	return passphrase.In(c.Station.Data).Set(text)
}

// folder makes a station's folder, if it is not there, so that the packaged service
// may write in it.
func folder(path string) error {
	if _, err := os.Stat(path); err == nil {
		return nil
	}
	if err := os.MkdirAll(path, 0o750); err != nil {
		return err
	}
	if uid, gid, ok := service(); ok {
		return os.Chown(path, uid, gid)
	}
	return nil
}

// calendarSecret is what the calendar's address has in it, made once. Deleting
// its file makes another, and the old address ends.
func calendarSecret(data string) (string, error) {
	path := filepath.Join(data, "calendar-secret")
	text, err := os.ReadFile(path)
	if err == nil && len(strings.TrimSpace(string(text))) >= 26 {
		return strings.TrimSpace(string(text)), nil
	}
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return "", fmt.Errorf("app: the calendar's secret: %w", err)
	}
	if err := os.MkdirAll(data, 0o750); err != nil {
		return "", fmt.Errorf("app: the station's folder: %w", err)
	}
	secret := strings.ToLower(rand.Text())
	if err := os.WriteFile(path, []byte(secret+"\n"), 0o600); err != nil {
		return "", fmt.Errorf("app: the calendar's secret: %w", err)
	}
	return secret, nil
}
