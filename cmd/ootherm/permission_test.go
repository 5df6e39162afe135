package main

import (
	"bytes"
	"errors"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// stationUser owns the data folder of the tests that run as root. It has no name.
const stationUser, stationGroup = 12345, 12346

// asUser makes a command that of another user, in one more group. The program is copied to
// where that user may run it.
func asUser(t *testing.T, uid, gid, group uint32) func(*exec.Cmd) {
	t.Helper()
	program := filepath.Join(t.TempDir(), "ootherm")
	if err := errors.Join(os.WriteFile(program, must(t, "/proc/self/exe"), 0o755), openTo(filepath.Dir(program))); err != nil {
		t.Fatal(err)
	}
	return func(c *exec.Cmd) {
		c.Path = program
		c.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: uid, Gid: gid, Groups: []uint32{group}}}
	}
}

// openTo lets every user into a folder of [testing.T.TempDir].
func openTo(folder string) error {
	return errors.Join(os.Chmod(folder, 0o755), os.Chmod(filepath.Dir(folder), 0o755))
}

// doAs runs a command of another user to its end.
func doAs(t *testing.T, as func(*exec.Cmd), args ...string) outcome {
	t.Helper()
	c := command(t.Context(), args...)
	if as != nil {
		as(c)
	}
	var out, errout bytes.Buffer
	c.Stdout, c.Stderr = &out, &errout
	var exit *exec.ExitError
	if err := c.Run(); err != nil && !errors.As(err, &exit) {
		t.Fatal(err)
	}
	return outcome{c.ProcessState.ExitCode(), out.String(), errout.String()}
}

// wantOwner checks that everything in a folder belongs to a user and a group.
func wantOwner(t *testing.T, folder string, uid, gid int, when string) {
	t.Helper()
	n := 0
	err := filepath.WalkDir(folder, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		info, err := d.Info()
		if err != nil {
			return err
		}
		n++
		if of := info.Sys().(*syscall.Stat_t); int(of.Uid) != uid || int(of.Gid) != gid {
			t.Errorf("%s: %s belongs to %d:%d, want %d:%d", when, path, of.Uid, of.Gid, uid, gid)
		}
		return nil
	})
	if err != nil || n < 5 {
		t.Fatalf("%s: %s holds %d files: %v", when, folder, n, err)
	}
}

// useAllCommands runs each command that opens the station's files while no station runs. The
// key is that of an entry that it notes.
func useAllCommands(t *testing.T, config, key string) {
	t.Helper()
	backup := filepath.Join(t.TempDir(), "records.db")
	for _, args := range [][]string{
		{"book", "list"}, {"book", "note", "dam", "--name", "Olive", "--profile", "crested gecko", "--key", key}, {"book", "undo", key}, {"book", "medium"},
		{"windows"}, {"alarms"}, {"export"}, {"check"}, {"backup", backup}, {"restore", backup},
	} {
		want := 0
		if args[0] == "check" {
			want = exitProblem // there is no sender
		}
		if got := do(t, "", append(args, "--config", config)...); got.code != want {
			t.Fatalf("%v: %+v", args, got)
		}
	}
	if got := do(t, "four warm brown eggs\n", "passphrase", "--config", config); got.code != 0 {
		t.Fatalf("passphrase: %+v", got)
	}
}

// What root makes in the station's folder belongs to the folder's owner, so that the station
// starts after it. Without root the files belong to the user that made them.
func TestFilesBelongToTheFoldersOwner(t *testing.T) {
	config, data, listen := small(t)
	r := &eggRoom{t: t, config: config, data: data, listen: listen}
	uid, gid := os.Getuid(), os.Getgid()
	if uid == 0 {
		uid, gid = stationUser, stationGroup
		r.as = asUser(t, stationUser, stationGroup, stationGroup)
		if err := errors.Join(openTo(filepath.Dir(config)), os.Chmod(config, 0o644), os.Mkdir(data, 0o750), os.Chown(data, uid, gid)); err != nil {
			t.Fatal(err)
		}
	}
	useAllCommands(t, config, "dam-1")
	wantOwner(t, data, uid, gid, "after the commands")
	as := r.as
	for _, user := range []func(*exec.Cmd){as, nil, as} { // the station's user, this user, and the first again
		r.as = user
		r.start()
		wantOwner(t, data, uid, gid, "while the station runs")
		if got := do(t, "", "book", "list", "--config", config); got.code != 0 {
			t.Errorf("book list: %+v", got)
		}
		r.end(syscall.SIGKILL)
	}
	if os.Getuid() != 0 {
		return
	}
	// An earlier version left files of root.
	for _, name := range []string{"readings.db", "records.db", "ootherm.lock", "calendar-secret"} {
		if err := os.Chown(filepath.Join(data, name), 0, 0); err != nil {
			t.Fatal(err)
		}
		got := doAs(t, as, "run", "--config", config)
		if !strings.Contains(got.errout, name+": permission denied; type: sudo ootherm windows, which gives the files in "+data+" back to the user 12345\n") || got.code != exitProblem {
			t.Errorf("run over %s of root: %+v", name, got)
		}
	}
	useAllCommands(t, config, "dam-2")
	wantOwner(t, data, uid, gid, "after the commands found files of root")
	r.as = as
	r.start()
}

// A user who may not use a file is told the command or the group that helps.
func TestRefusalNamesTheCommand(t *testing.T) {
	config, data, listen := small(t)
	list := func(as func(*exec.Cmd), want ...string) {
		t.Helper()
		got := doAs(t, as, "book", "list", "--config", config)
		for _, text := range want {
			if got.code == 0 || got.out != "" || !strings.Contains(got.errout, text) {
				t.Errorf("%+v, want %q", got, text)
			}
		}
	}
	command := "; type: sudo ootherm book list --config " + config + "\n"
	if os.Getuid() != 0 {
		put(t, filepath.Dir(config), "ootherm.toml", strings.ReplaceAll(string(must(t, config)), data, "/usr/share/ootherm/data"))
		list(nil, "no station runs", command)
		if err := os.Chmod(config, 0); err != nil {
			t.Fatal(err)
		}
		list(nil, config+": permission denied; ")
		return
	}
	const nobody, daemonGroup = 65534, 1 // by Debian's base-passwd
	other, member := asUser(t, nobody, nobody, nobody), asUser(t, nobody, nobody, daemonGroup)
	if err := errors.Join(openTo(filepath.Dir(config)), os.Mkdir(data, 0o750), os.Chown(data, stationUser, daemonGroup)); err != nil {
		t.Fatal(err)
	}
	list(member, config+": permission denied"+command) // the file is root's alone
	if err := errors.Join(os.Chown(config, 0, daemonGroup), os.Chmod(config, 0o640)); err != nil {
		t.Fatal(err)
	}
	list(other, config+": permission denied; the group daemon may: sudo adduser nobody daemon, then log in again\n")
	list(member, "no station runs", "only the user 12345 may open the files in "+data, command)
	if all, err := os.ReadDir(data); err != nil || len(all) > 0 {
		t.Errorf("the refused commands left %v, %v", all, err)
	}
	if got := doAs(t, member, "check", "--config", config); got.code != exitProblem || !strings.Contains(got.errout, "there is no sender") {
		t.Errorf("check by a member of the group: %+v", got)
	}
	// The station runs: a member of the group may ask it, and others are told of the group.
	if err := os.Chmod(config, 0o644); err != nil {
		t.Fatal(err)
	}
	r := &eggRoom{t: t, config: config, data: data, listen: listen, as: asUser(t, stationUser, daemonGroup, daemonGroup)}
	r.start()
	list(other, "this user may not ask the running station", "the group daemon may: sudo adduser nobody daemon, then log in again\n")
	if got := doAs(t, member, "book", "list", "--config", config); got.code != 0 {
		t.Errorf("book list by a member of the group: %+v", got)
	}
}

// Root gives away no file that the folder's owner only linked to.
func TestLinksStayRoots(t *testing.T) {
	config, data, _ := small(t)
	target := put(t, filepath.Dir(config), "precious", "keep")
	if err := os.Mkdir(data, 0o750); err != nil {
		t.Fatal(err)
	}
	if os.Getuid() == 0 {
		if err := os.Chown(data, stationUser, stationGroup); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Symlink(target, filepath.Join(data, "ootherm.lock")); err != nil {
		t.Fatal(err)
	}
	if got := do(t, "", "book", "list", "--config", config); got.code != exitProblem {
		t.Errorf("a lock that is a symbolic link: %+v", got)
	}
	info, err := os.Stat(target)
	if err != nil {
		t.Fatal(err)
	}
	if of := info.Sys().(*syscall.Stat_t); int(of.Uid) != os.Getuid() || string(must(t, target)) != "keep" {
		t.Errorf("the linked file belongs to %d", of.Uid)
	}
}
