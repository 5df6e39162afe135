package permission

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/user"
	"slices"
	"strconv"

	"golang.org/x/sys/unix"
)

// ErrUnknown reports that this user may not read a file, and that another one runs the
// station.
var ErrUnknown = fmt.Errorf("another user runs the station: %w", fs.ErrPermission)

// Readable returns an error if the user of the station cannot read a file. The station's user
// is the owner of its folder, or the user of the packaged service where there is no folder
// yet. It is [ErrUnknown] if this user cannot find out. For root it goes by the mode of the
// file itself and leaves out the folders above.
func Readable(path, folder string) error {
	of, known := stationUser(folder)
	if !known {
		of = owner{uint32(os.Geteuid()), uint32(os.Getegid())}
	}
	f, err := os.Open(path)
	if err != nil {
		if errors.Is(err, fs.ErrPermission) && os.Geteuid() != int(of.uid) {
			return ErrUnknown
		}
		return err
	}
	defer f.Close()
	var at unix.Stat_t
	if err := unix.Fstat(int(f.Fd()), &at); err != nil {
		return &fs.PathError{Op: "stat", Path: path, Err: err}
	}
	if at.Mode&unix.S_IFMT == unix.S_IFDIR {
		return &fs.PathError{Op: "read", Path: path, Err: unix.EISDIR}
	}
	if os.Geteuid() != 0 || of.uid == 0 || readableBy(at, of) {
		return nil
	}
	return fmt.Errorf("the user %s, which runs the station, may not read it: sudo chown %s %s", userName(of.uid), userName(of.uid), path)
}

// stationUser is the owner of the station's folder, or else the user of the packaged service.
func stationUser(folder string) (owner, bool) {
	if of, err := ownerOf(folder); err == nil {
		return of, true
	}
	uid, gid, ok := ServiceUser()
	return owner{uint32(uid), uint32(gid)}, ok
}

// readableBy reports whether the mode of a file lets a user read it.
func readableBy(at unix.Stat_t, of owner) bool {
	switch {
	case at.Uid == of.uid:
		return at.Mode&0o400 != 0
	case at.Gid == of.gid || slices.Contains(groupsOf(of.uid), strconv.Itoa(int(at.Gid))):
		return at.Mode&0o040 != 0
	}
	return at.Mode&0o004 != 0
}

// groupsOf gives the numbers of the groups that a user is listed in.
func groupsOf(uid uint32) []string {
	u, err := user.LookupId(strconv.Itoa(int(uid)))
	if err != nil {
		return nil
	}
	all, err := u.GroupIds()
	if err != nil {
		return nil
	}
	return all
}
