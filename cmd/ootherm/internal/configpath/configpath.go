// Package configpath says which configuration a command reads and setup writes, and names it
// in the commands that are shown to a person. It owns the places of the file. It must not
// know what is in it.
package configpath

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"

	"example.com/ootherm/cmd/ootherm/internal/shellword"
)

// Packaged is the configuration that the packaged service reads.
const Packaged = "/etc/ootherm/ootherm.toml"

// Variable is the environment variable that names the default configuration.
const Variable = "OOTHERM_CONFIG"

// Default returns the configuration of a command without --config. It is the file that
// OOTHERM_CONFIG names. Without the variable it is the packaged file if that exists, else the
// user's own file (ootherm/ootherm.toml in the folder of [os.UserConfigDir]). Where neither
// exists, it is the file that setup would write.
func Default() string { return thisUser().defaultPath() }

// New returns the file that setup writes without --config. It is the file that
// OOTHERM_CONFIG names. Without the variable it is the packaged file for root where the
// package is installed, else the user's own file.
func New() string { return thisUser().newPath() }

// Flag returns the flag that leads a command to a configuration, with a space before it. It
// is empty for the default configuration.
func Flag(path string) string {
	if absolute(path) == absolute(Default()) {
		return ""
	}
	return " --config " + shellword.Quote(path)
}

// StartCommand returns the command that starts a station with a configuration. The packaged
// service starts with its own file alone.
func StartCommand(path string) string {
	if absolute(path) == Packaged {
		return "sudo systemctl start ootherm"
	}
	return "ootherm run" + Flag(path)
}

// Sudo is what stands before a command that only root and the station's user may give: the
// packaged station has a user of its own.
func Sudo(path string) string {
	if absolute(path) == Packaged {
		return "sudo "
	}
	return ""
}

// Installed reports whether the package is installed.
func Installed() bool { return exists(filepath.Dir(Packaged)) }

// OutsideService reports whether the package is installed and its service reads another
// file than this one.
func OutsideService(path string) bool {
	return Installed() && absolute(path) != Packaged
}

// user is what decides which configuration is the default.
type user struct {
	variable string // value of OOTHERM_CONFIG
	packaged string
	own      string // empty: the user has no folder for configurations
	root     bool
}

func thisUser() user {
	u := user{variable: os.Getenv(Variable), packaged: Packaged, root: os.Geteuid() == 0}
	if folder, err := os.UserConfigDir(); err == nil {
		u.own = filepath.Join(folder, "ootherm", "ootherm.toml")
	}
	return u
}

func (u user) defaultPath() string {
	switch {
	case u.variable != "":
		return u.variable
	case exists(u.packaged):
		return u.packaged
	case u.own != "" && exists(u.own):
		return u.own
	}
	return u.newPath()
}

func (u user) newPath() string {
	switch {
	case u.variable != "":
		return u.variable
	case u.own == "", u.root && exists(filepath.Dir(u.packaged)):
		return u.packaged
	}
	return u.own
}

// exists reports whether there is a file or a folder. One that cannot be looked at counts as
// existing, so that the user hears of the missing rights.
func exists(path string) bool {
	_, err := os.Lstat(path)
	return !errors.Is(err, fs.ErrNotExist)
}

func absolute(path string) string {
	if whole, err := filepath.Abs(path); err == nil {
		return whole
	}
	return path
}
