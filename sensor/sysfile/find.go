package sysfile

import (
	"context"
	"os"
	"path/filepath"
	"strings"

	"example.com/ootherm/sensor"
)

// Find is the directory of a device: the device itself where it holds a slash,
// otherwise the one below root whose file "name" says so. The kernel numbers its
// devices as they appear, so a name outlives a number.
func (read Reader) Find(ctx context.Context, root, device string) (string, error) {
	if err := ctx.Err(); err != nil {
		return "", sensor.Fail(sensor.NoAnswer, "%s: not looked for: %w", device, err)
	}
	if strings.ContainsRune(device, '/') {
		if _, err := os.Stat(device); err != nil {
			return "", sensor.Fail(sensor.NoAnswer, "%s: no such device: see that the probe is plugged in and its overlay loaded: %w", device, err)
		}
		return device, nil
	}
	entries, err := os.ReadDir(root)
	if err != nil {
		return "", sensor.Fail(sensor.NoAnswer, "%s: the kernel offers no such devices: load the part's overlay: %w", root, err)
	}
	var names, found []string
	for _, e := range entries {
		dir := filepath.Join(root, e.Name())
		name, err := read.Text(ctx, filepath.Join(dir, "name"))
		if err != nil {
			continue // without a name, or on its way out: not the one sought
		}
		names = append(names, name)
		if name == device {
			found = append(found, dir)
		}
	}
	switch len(found) {
	case 1:
		return found[0], nil
	case 0:
		there := strings.Join(names, ", ")
		if there == "" {
			there = "none"
		}
		return "", sensor.Fail(sensor.NoAnswer, "no device in %s is named %q (there: %s): load its overlay, or name one of these", root, device, there)
	}
	return "", sensor.Fail(sensor.NoAnswer, "%d devices are named %q: name one by its directory: %s", len(found), device, strings.Join(found, ", "))
}
