// Package permission keeps the station's files usable by the station's user. It gives what
// root makes in a folder to the owner of the folder, refuses a user whose files the owner
// could not open, and adds to an error for want of rights the command that helps. It must
// not know what a file holds.
//
// # Decisions
//
// Root follows no symbolic link and takes no file with a second name when it gives a file
// away: the folder's owner could otherwise have any file of the system given to itself.
package permission

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/user"
	"path/filepath"
	"strconv"

	"golang.org/x/sys/unix"
)

// serviceName is the user and the group of the packaged service.
const serviceName = "ootherm"

// owner is a user and a group by number.
type owner struct{ uid, gid uint32 }

// ServiceUser returns the user and group that the packaged service runs as. It reports
// false if this process is not root or if there is no such user.
func ServiceUser() (uid, gid int, ok bool) {
	u, err := user.Lookup(serviceName)
	if err != nil || os.Geteuid() != 0 {
		return 0, 0, false
	}
	uid, errU := strconv.Atoi(u.Uid)
	gid, errG := strconv.Atoi(u.Gid)
	return uid, gid, errU == nil && errG == nil
}

// OpenFolder prepares a station's folder for a process that will make files in it. It makes
// the folder if there is none. For root it gives to the folder's owner what root made there
// earlier. For any other user it returns an error if the folder belongs to somebody else who
// is not root, because the owner could not open what this process makes.
func OpenFolder(path string) error {
	if err := makeFolder(filepath.Clean(path)); err != nil {
		return SudoHint(fmt.Errorf("the station's folder: %w", err))
	}
	of, err := ownerOf(path)
	switch {
	case err != nil:
		return SudoHint(fmt.Errorf("the station's folder: %w", err))
	case of.uid == 0 || os.Geteuid() == int(of.uid):
		return nil
	case os.Geteuid() != 0:
		return SudoHint(fmt.Errorf("only the user %s may open the files in %s: %w", userName(of.uid), path, fs.ErrPermission))
	}
	return giveAll(path, of)
}

// folderMode lets the group of the station look into its folder.
const folderMode = 0o750

// makeFolder makes a folder, and those above it that do not exist. A folder that root makes
// belongs to the owner of the folder above. Where that is root too, it belongs to the user of
// the packaged service.
func makeFolder(path string) error {
	if info, err := os.Stat(path); err == nil && !info.IsDir() {
		return &fs.PathError{Op: "mkdir", Path: path, Err: unix.ENOTDIR}
	} else if !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	above := filepath.Dir(path)
	if err := makeFolder(above); err != nil {
		return err
	}
	if err := os.Mkdir(path, folderMode); err != nil && !errors.Is(err, fs.ErrExist) {
		return err
	}
	of, err := ownerOf(above)
	if err != nil || os.Geteuid() != 0 {
		return err
	}
	if uid, gid, ok := ServiceUser(); ok && of.uid == 0 {
		of = owner{uint32(uid), uint32(gid)}
	}
	return give(path, of)
}

// Give gives a file that this process made to the owner of its folder. It does nothing
// unless this process is root.
func Give(path string) error {
	if os.Geteuid() != 0 {
		return nil
	}
	of, err := ownerOf(filepath.Dir(path))
	if err != nil {
		return err
	}
	return give(path, of)
}

// giveAll gives the files of root in a folder to the folder's owner. It leaves folders and
// links in it as they are.
func giveAll(folder string, of owner) error {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return err
	}
	for _, e := range entries {
		path := filepath.Join(folder, e.Name())
		if has, err := ownerOf(path); err != nil || has.uid != 0 || !e.Type().IsRegular() {
			continue // it went away, or it is not a file of root
		}
		if err := give(path, of); err != nil && !errors.Is(err, fs.ErrNotExist) && !errors.Is(err, errLink) {
			return err
		}
	}
	return nil
}

// errLink is the refusal to give away a file that has another name.
var errLink = errors.New("it is a link")

// give gives a file, a socket or a folder to an owner other than root.
func give(path string, of owner) error {
	if of.uid == 0 {
		return nil
	}
	fd, err := unix.Open(path, unix.O_PATH|unix.O_NOFOLLOW|unix.O_CLOEXEC, 0)
	if err != nil {
		return &fs.PathError{Op: "open", Path: path, Err: err}
	}
	defer unix.Close(fd)
	var at unix.Stat_t
	err = unix.Fstat(fd, &at)
	kind := at.Mode & unix.S_IFMT
	switch {
	case err != nil:
	case at.Uid == of.uid && at.Gid == of.gid:
		return nil
	case kind == unix.S_IFLNK || kind == unix.S_IFREG && at.Nlink > 1:
		err = errLink
	default:
		err = unix.Fchownat(fd, "", int(of.uid), int(of.gid), unix.AT_EMPTY_PATH)
	}
	if err != nil {
		return fmt.Errorf("%s cannot be given to the user %s: %w", path, userName(of.uid), err)
	}
	return nil
}

// ownerOf returns the owner of a file or folder.
func ownerOf(path string) (owner, error) {
	var at unix.Stat_t
	if err := unix.Stat(path, &at); err != nil {
		return owner{}, &fs.PathError{Op: "stat", Path: path, Err: err}
	}
	return owner{at.Uid, at.Gid}, nil
}

// userName returns the name of a user, or its number if it has none.
func userName(uid uint32) string {
	number := strconv.Itoa(int(uid))
	if u, err := user.LookupId(number); err == nil {
		return u.Username
	}
	return number
}
