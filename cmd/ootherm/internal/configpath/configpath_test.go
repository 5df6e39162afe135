package configpath

import (
	"os"
	"path/filepath"
	"testing"
)

// emptyFile makes an empty file and the folders above it.
func emptyFile(t *testing.T, path string) string {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestPathsWithoutTheFlag(t *testing.T) {
	dir := t.TempDir()
	packaged, own := emptyFile(t, filepath.Join(dir, "etc/ootherm.toml")), emptyFile(t, filepath.Join(dir, "own/ootherm.toml"))
	noPackage, noOwn := filepath.Join(dir, "none/ootherm.toml"), filepath.Join(dir, "home/ootherm.toml")
	onlyFolder := filepath.Join(dir, "etc/another.toml") // the package is installed and not set up
	for _, c := range []struct {
		name          string
		u             user
		read, written string
	}{
		{"the variable comes first", user{"/x/y.toml", packaged, own, true}, "/x/y.toml", "/x/y.toml"},
		{"the packaged file comes before the own", user{"", packaged, own, false}, packaged, own},
		{"root writes the packaged file", user{"", packaged, own, true}, packaged, packaged},
		{"the own file is read without a packaged one", user{"", onlyFolder, own, true}, own, onlyFolder},
		{"root is led to the packaged file", user{"", onlyFolder, noOwn, true}, onlyFolder, onlyFolder},
		{"a user is led to the own file", user{"", onlyFolder, noOwn, false}, noOwn, noOwn},
		{"root without the package has an own file", user{"", noPackage, noOwn, true}, noOwn, noOwn},
		{"a user without a folder", user{"", noPackage, "", false}, noPackage, noPackage},
	} {
		if got := c.u.defaultPath(); got != c.read {
			t.Errorf("%s: read is %s, want %s", c.name, got, c.read)
		}
		if got := c.u.newPath(); got != c.written {
			t.Errorf("%s: written is %s, want %s", c.name, got, c.written)
		}
	}
}

func TestOwnFileIsInTheUsersFolder(t *testing.T) {
	t.Setenv(Variable, "")
	t.Setenv("XDG_CONFIG_HOME", "/home/keeper/settings")
	if got, want := thisUser().own, "/home/keeper/settings/ootherm/ootherm.toml"; got != want {
		t.Errorf("the own file is %s, want %s", got, want)
	}
}

func TestFlagNamesAnotherFile(t *testing.T) {
	t.Setenv(Variable, "/srv/eggs/ootherm.toml")
	for path, want := range map[string]string{
		"/srv/eggs/ootherm.toml":         "",
		"/srv/eggs/../eggs/ootherm.toml": "",
		"/srv/2027.toml":                 " --config /srv/2027.toml",
		"/srv/egg room's.toml":           ` --config '/srv/egg room'\''s.toml'`,
	} {
		if got := Flag(path); got != want {
			t.Errorf("%s: the flag is %q, want %q", path, got, want)
		}
	}
}
