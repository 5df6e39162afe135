package daemon

import (
	"crypto/rand"
	"errors"
	"fmt"
	"os"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/atomicfile"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/passphrase"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
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

// Guarded refuses to open the page to the network without a passphrase.
func Guarded(c config.Config) error {
	a, err := access(c)
	if err == nil && c.Station.Open && a == nil {
		err = usererr.Usage(fmt.Errorf("station.listen: %q opens the page to the whole network, and without a passphrase anybody there could quiet an alarm; set one with ootherm passphrase --config FILE, or listen on 127.0.0.1", c.Station.Listen))
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
		return fmt.Errorf("the station's folder: %w", err)
	}
	return passphrase.In(c.Station.Data).Set(text)
}

// leastSecret is how many characters keep an address secret: 26 of five bits are
// 128 bits and a little (crypto/rand.Text).
const leastSecret = 26

// folder makes a station's folder, if it is not there, so that the packaged service
// may write in it.
func folder(path string) error {
	if _, err := os.Stat(path); err == nil {
		return nil
	}
	if err := os.MkdirAll(path, 0o750); err != nil {
		return err
	}
	if uid, gid, ok := Service(); ok {
		return os.Chown(path, uid, gid)
	}
	return nil
}

// calendarSecret is what the calendar's address has in it, made once. Deleting
// its file makes another, and the old address ends.
func calendarSecret(data string) (string, error) {
	path := filepath.Join(data, "calendar-secret")
	text, err := os.ReadFile(path)
	if secret := strings.TrimSpace(string(text)); secret != "" { // an empty one was never anybody's address
		if len(secret) < leastSecret {
			return "", usererr.Usage(fmt.Errorf("%s holds %d characters; what keeps the calendar's address secret has %d at least: write more, or delete the file and another is made", path, len(secret), leastSecret))
		}
		return secret, nil
	}
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return "", fmt.Errorf("the calendar's secret: %w", err)
	}
	if err := os.MkdirAll(data, 0o750); err != nil {
		return "", fmt.Errorf("the station's folder: %w", err)
	}
	secret := strings.ToLower(rand.Text())
	if err := atomicfile.WriteBytes(path, []byte(secret+"\n")); err != nil {
		return "", fmt.Errorf("the calendar's secret: %w", err)
	}
	return secret, nil
}

// Service is the user that the packaged service runs as, when this is root and
// there is one.
func Service() (uid, gid int, ok bool) {
	u, err := user.Lookup("ootherm")
	if err != nil || os.Geteuid() != 0 {
		return 0, 0, false
	}
	uid, errU := strconv.Atoi(u.Uid)
	gid, errG := strconv.Atoi(u.Gid)
	return uid, gid, errU == nil && errG == nil
}
