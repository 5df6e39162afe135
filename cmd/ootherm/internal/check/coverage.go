package check

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"

	"example.com/ootherm/cmd/ootherm/internal/client"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/daemon"
	"example.com/ootherm/cmd/ootherm/internal/dialer"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/cmd/ootherm/internal/storage"
	"example.com/ootherm/sensor/catalog"
	"example.com/ootherm/sensor/inventory"
	"example.com/ootherm/thermal/book"
)

// Coverage writes which probes raise no alarm, and which humidity bands no probe watches.
// A probe that no zone lists raises alarms while the book has it in a box.
func Coverage(ctx context.Context, w io.Writer, path string, build daemon.Build) error {
	c, err := config.Load(path, probeconfig.Drivers())
	if err != nil {
		return err
	}
	var unlisted []config.Probe // that no zone lists
	for _, p := range c.Probes {
		if !slices.ContainsFunc(c.Zones, func(z config.Zone) bool { return slices.Contains(z.Probes, p.Name) }) {
			unlisted = append(unlisted, p)
		}
	}
	var unwatched []config.Zone // with a humidity band that none of its probes can watch
	for _, z := range c.Zones {
		if z.Humidity != nil && !slices.ContainsFunc(c.Probes, func(p config.Probe) bool { return slices.Contains(z.Probes, p.Name) && mayMeasureHumidity(ctx, p) }) {
			unwatched = append(unwatched, z)
		}
	}
	if len(unlisted) == 0 && len(unwatched) == 0 {
		return nil
	}
	boxes, bookErr := boxesOf(ctx, c, path, build)
	say := func(format string, a ...any) { fmt.Fprintf(w, format+"\n", a...) }
	for _, p := range unlisted {
		switch {
		case bookErr != nil:
			say("Consider: the probe %s raises no alarm: no zone lists it; whether a box has it is not known: %s", p.Name, bookErr)
		case !slices.ContainsFunc(boxes, func(b book.Box) bool { return b.InUse && b.Probe == p.Name }):
			say("Consider: the probe %s raises no alarm: no zone lists it, and by the book no box has it; its readings are only kept.", p.Name)
		}
	}
	for _, z := range unwatched {
		watched := slices.ContainsFunc(boxes, func(b book.Box) bool {
			return b.InUse && b.Zone == z.Name && len(b.Eggs) > 0 &&
				slices.ContainsFunc(c.Probes, func(p config.Probe) bool { return p.Name == b.Probe && mayMeasureHumidity(ctx, p) })
		})
		if !watched {
			say("Consider: %s has a humidity band, and none of its probes measures humidity, so there is no alarm when it is too dry or too damp there; give it a probe that does, or take the band away.", z.Name)
		}
	}
	return nil
}

// boxesOf gives the boxes of the book; none where there is no book yet.
func boxesOf(ctx context.Context, c config.Config, path string, build daemon.Build) ([]book.Box, error) {
	if _, err := os.Stat(filepath.Join(c.Station.Data, storage.RecordsName)); errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	b, err := client.BookOf(ctx, path, build)
	if err != nil {
		return nil, err
	}
	return b.Boxes(), nil
}

// mayMeasureHumidity reports whether a probe measures humidity, or may. Nothing is measured.
func mayMeasureHumidity(ctx context.Context, p config.Probe) bool {
	ctx, cancel := context.WithTimeout(ctx, inventory.Patience)
	defer cancel()
	does, err := catalog.MeasuresHumidity(ctx, probeconfig.Settings(p, dialer.New()))
	return does || err != nil // a probe that does not answer may measure it
}
