package setup

import (
	"context"
	"errors"
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/configpath"
)

func TestSetupStartsThePackagedServiceAlone(t *testing.T) {
	t.Setenv("OOTHERM_CONFIG", "/srv/eggs.toml")
	for _, c := range []struct {
		name, file string
		systemd    bool
		fails      error
		started    int
		want       string
	}{
		{"packaged", configpath.Packaged, true, nil, 1, "The station is started"},
		{"packaged, and the service fails", configpath.Packaged, true, errors.New("exit status 1"), 1, "did not start: exit status 1. journalctl -u ootherm says why. Then: sudo systemctl start ootherm"},
		{"packaged without systemd", configpath.Packaged, false, nil, 0, "To start it:\n  sudo -u ootherm ootherm run --config /etc/ootherm/ootherm.toml"},
		{"the default", "/srv/eggs.toml", true, nil, 0, "Next: ootherm run"},
		{"another file", "/srv/2027.toml", true, nil, 0, "Next: ootherm run --config /srv/2027.toml"},
	} {
		started := 0
		got := startWith(t.Context(), c.file, c.systemd, func(context.Context) error { started++; return c.fails })
		if !strings.Contains(got, c.want) || started != c.started {
			t.Errorf("%s: %q after %d starts, want %q after %d", c.name, got, started, c.want, c.started)
		}
	}
}
