package daemon

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/permission"
	"example.com/ootherm/cmd/ootherm/internal/storage"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"golang.org/x/sys/unix"
)

// presenceName returns the name of the abstract socket that a running station holds for a
// data folder. It does not lie in the folder, so it is there although the folder was moved.
func presenceName(data string) (string, error) {
	place, err := filepath.Abs(data)
	if err != nil {
		return "", err
	}
	return fmt.Sprintf("@ootherm-%x", sha256.Sum256([]byte(place))), nil
}

// showPresence lets commands find out that a station runs over a data folder, until the
// returned function is called. Without it a command only misses a folder that was moved.
func showPresence(data string) (end func(), err error) {
	name, err := presenceName(data)
	if err != nil {
		return func() {}, err
	}
	l, err := net.Listen("unix", name)
	if err != nil {
		return func() {}, fmt.Errorf("the sign that the station runs: %w", err)
	}
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			_ = c.Close() // the caller wanted to know that somebody is here
		}
	}()
	return func() { _ = l.Close() }, nil
}

// RefuseMoved returns an error if the data folder of a station was moved or removed: a
// command would make a new, empty one. Call it where no station answers in the folder.
func RefuseMoved(data string) error {
	if pid, running := presence(data); running {
		return usererr.New(fmt.Sprintf("a station runs (process %d), but %s is not the folder that it opened: that was moved, removed or covered. Put it back and restart the station; nothing was changed", pid, data))
	}
	if moved := storage.MovedTo(data); moved != "" {
		return usererr.New(fmt.Sprintf("there is no folder %s; %s was in its place before. Put it back: mv %s %s; or begin with an empty one: mkdir %s", data, moved, moved, data, data))
	}
	return nil
}

// presence returns the process of the station that runs over a data folder. It believes
// root, this user and the user of the service, because any user may listen at the name.
func presence(data string) (pid int32, running bool) {
	name, err := presenceName(data)
	if err != nil {
		return 0, false
	}
	c, err := net.DialTimeout("unix", name, time.Second)
	if err != nil {
		return 0, false
	}
	defer c.Close()
	x, ok := c.(*net.UnixConn)
	if !ok {
		return 0, false
	}
	raw, err := x.SyscallConn()
	if err != nil {
		return 0, false
	}
	var peer *unix.Ucred
	var failed error
	err = raw.Control(func(fd uintptr) { peer, failed = unix.GetsockoptUcred(int(fd), unix.SOL_SOCKET, unix.SO_PEERCRED) })
	if errors.Join(err, failed) != nil {
		return 0, false
	}
	service, _, has := permission.ServiceUser()
	believed := peer.Uid == 0 || int(peer.Uid) == os.Geteuid() || has && int(peer.Uid) == service
	return peer.Pid, believed
}
