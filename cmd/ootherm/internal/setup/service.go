package setup

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/configpath"
	"example.com/ootherm/cmd/ootherm/internal/permission"
)

// systemdFolder exists while systemd runs the machine (sd_booted(3)).
const systemdFolder = "/run/systemd/system"

// startStation starts the packaged service with the configuration that was just written,
// and says so. Without systemd, with another configuration, or after Ctrl-C it gives the
// command to type.
func startStation(ctx context.Context, file, data string) string {
	_, err := os.Stat(systemdFolder)
	if err != nil && filepath.Clean(file) == configpath.Packaged {
		if err := permission.OpenFolder(data); err != nil { // systemd would make it
			return fmt.Sprintf("The station has no folder for its data: %v", err)
		}
	}
	return startWith(ctx, file, err == nil, restartService)
}

// startWith does what startStation does, with the way to restart the service.
func startWith(ctx context.Context, file string, systemd bool, restart func(context.Context) error) string {
	packaged := filepath.Clean(file) == configpath.Packaged
	if packaged && !systemd {
		return "This machine runs no systemd, so the station does not start by itself. To start it:\n  sudo -u ootherm ootherm run --config " + file
	}
	if !packaged || ctx.Err() != nil {
		return "Next: " + configpath.StartCommand(file)
	}
	if err := restart(ctx); err != nil {
		return fmt.Sprintf("The station did not start: %v. journalctl -u ootherm says why. Then: %s", err, configpath.StartCommand(file))
	}
	return "The station is started, and starts again with the machine."
}

// restartService starts the packaged service, or starts it again with its new configuration.
func restartService(ctx context.Context) error {
	out, err := exec.CommandContext(ctx, "systemctl", "restart", "ootherm.service").CombinedOutput()
	if text := strings.TrimSpace(string(out)); err != nil && text != "" {
		return fmt.Errorf("%w: %s", err, text)
	}
	return err
}
