package permission

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"testing"
)

// other is a user that is neither root nor the one who runs the tests.
var other = owner{12345, 12346}

// otherFolder makes a folder. It belongs to another user if the tests run as root, else to
// this user. The second result is the owner that files in it are given to.
func otherFolder(t *testing.T) (string, owner) {
	t.Helper()
	dir := t.TempDir()
	if os.Geteuid() != 0 {
		return dir, owner{uint32(os.Geteuid()), uint32(os.Getegid())}
	}
	if err := os.Chown(dir, int(other.uid), int(other.gid)); err != nil {
		t.Fatal(err)
	}
	return dir, other
}

func wantOwner(t *testing.T, path string, want owner) {
	t.Helper()
	if got, err := ownerOf(path); err != nil || got != want {
		t.Errorf("%s belongs to %v, %v; want %v", path, got, err, want)
	}
}

func TestNewFoldersBelongToTheOwnerAbove(t *testing.T) {
	dir, of := otherFolder(t)
	path := filepath.Join(dir, "a", "b")
	for range 2 {
		if err := OpenFolder(path); err != nil {
			t.Fatal(err)
		}
		wantOwner(t, path, of)
		wantOwner(t, filepath.Dir(path), of)
	}
}

func TestAFileIsNoFolder(t *testing.T) {
	path := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(path, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, folder := range []string{path, filepath.Join(path, "below")} {
		if err := OpenFolder(folder); err == nil {
			t.Errorf("%s was opened as a folder", folder)
		}
	}
}

// The folder's owner could have linked to any file.
func TestLinksAreNotGiven(t *testing.T) {
	dir, _ := otherFolder(t)
	target := filepath.Join(t.TempDir(), "target")
	if err := os.WriteFile(target, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	before, err := ownerOf(target)
	if err != nil {
		t.Fatal(err)
	}
	symbolic, hard := filepath.Join(dir, "symbolic"), filepath.Join(dir, "hard")
	if err := errors.Join(os.Symlink(target, symbolic), os.Link(target, hard)); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{symbolic, hard} {
		if err := Give(path); (err == nil) != (os.Geteuid() != 0) {
			t.Errorf("giving %s: %v", path, err)
		}
	}
	wantOwner(t, target, before)
	if err := OpenFolder(dir); err != nil && os.Geteuid() == 0 {
		t.Errorf("a link in the folder refuses all of it: %v", err)
	}
	wantOwner(t, target, before)
}

func TestHintsAreForMissingRightsAlone(t *testing.T) {
	denied, lost := &fs.PathError{Op: "open", Path: "x", Err: fs.ErrPermission}, errors.New("lost")
	for name, hint := range map[string]func(error) error{
		"sudo": SudoHint, "group": func(err error) error { return GroupHint(err, "/") }, "folder": func(err error) error { return FolderHint(err, "/") },
	} {
		if err := hint(nil); err != nil {
			t.Errorf("%s: no error became %v", name, err)
		}
		if err := hint(lost); err != lost {
			t.Errorf("%s: another error became %v", name, err)
		}
		once := hint(denied)
		if (once.Error() != denied.Error()) != (os.Geteuid() != 0) || !errors.Is(once, fs.ErrPermission) || hint(once) != once {
			t.Errorf("%s: %v, then %v", name, once, hint(once))
		}
	}
}
