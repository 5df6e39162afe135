package permission

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/user"
	"path/filepath"
	"slices"
	"strconv"

	"example.com/ootherm/cmd/ootherm/internal/shellword"
	"golang.org/x/sys/unix"
)

// SudoHint adds to an error for want of rights that the same command works with sudo. It
// returns any other error as it is, and every error of root.
func SudoHint(err error) error {
	if !needsHint(err) {
		return err
	}
	return &hinted{err, "type: sudo ootherm " + shellword.Join(os.Args[1:])}
}

// FolderHint adds to an error for want of rights in the station's folder that the same
// command works with sudo. The folder's owner hears how files that somebody else made are
// given back. It returns any other error as it is, and every error of root.
func FolderHint(err error, folder string) error {
	of, errOwner := ownerOf(folder)
	if !needsHint(err) || errOwner != nil || int(of.uid) != os.Geteuid() {
		return SudoHint(err)
	}
	return &hinted{err, fmt.Sprintf("type: sudo ootherm windows, which gives the files in %s back to the user %s", folder, userName(of.uid))}
}

// GroupHint adds to an error for want of rights which group may use the file at path, and
// how to join it. Where no group may, it adds what [SudoHint] adds. It returns any other
// error as it is, and every error of root.
func GroupHint(err error, path string) error {
	if !needsHint(err) {
		return err
	}
	id := groupOf(path)
	group, errGroup := user.LookupGroupId(id)
	me, errMe := user.Current()
	if errGroup != nil || errMe != nil || isMember(id) {
		return SudoHint(err)
	}
	if listed, errListed := me.GroupIds(); errListed == nil && slices.Contains(listed, id) {
		return &hinted{err, fmt.Sprintf("the group %s may; you are in it from your next login on: log out and in again", group.Name)}
	}
	return &hinted{err, fmt.Sprintf("the group %s may: sudo adduser %s %s, then log in again", group.Name, shellword.Quote(me.Username), group.Name)}
}

// needsHint reports whether an error is for want of rights and has no hint yet.
func needsHint(err error) bool {
	return errors.Is(err, fs.ErrPermission) && !errors.As(err, new(*hinted)) && os.Geteuid() != 0
}

// hinted is an error for want of rights with the command that helps.
type hinted struct {
	err  error
	hint string
}

func (h *hinted) Error() string { return h.err.Error() + "; " + h.hint }

func (h *hinted) Unwrap() error { return h.err }

// groupOf returns the number of the group that may read a file, as text. Where the file
// cannot be looked at, the group of the first folder above that can be looked at decides. It
// is empty where no group may, or only that of root.
func groupOf(path string) string {
	var at unix.Stat_t
	err := unix.Stat(path, &at)
	for errors.Is(err, unix.EACCES) && path != filepath.Dir(path) {
		path = filepath.Dir(path)
		err = unix.Stat(path, &at)
	}
	if err != nil || at.Mode&0o040 == 0 || at.Gid == 0 {
		return ""
	}
	return strconv.Itoa(int(at.Gid))
}

// isMember reports whether this process is in a group.
func isMember(id string) bool {
	all, err := os.Getgroups()
	return err == nil && slices.ContainsFunc(append(all, os.Getegid()), func(g int) bool { return strconv.Itoa(g) == id })
}
