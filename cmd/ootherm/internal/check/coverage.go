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
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/cmd/ootherm/internal/storage"
	"example.com/ootherm/sensor/catalog"
	"example.com/ootherm/sensor/inventory"
	"example.com/ootherm/thermal/book"
)

// Coverage says which probes nobody is called by, and which humidity bands no probe
// watches. A box of the book watches by its probe while eggs are in it.
func Coverage(ctx context.Context, w io.Writer, path string, build daemon.Build) error {
	c, err := config.Load(path, probeconfig.Drivers())
	if err != nil {
		return err
	}
	var alone []config.Probe // that no zone lists
	for _, p := range c.Probes {
		if !slices.ContainsFunc(c.Zones, func(z config.Zone) bool { return slices.Contains(z.Probes, p.Name) }) {
			alone = append(alone, p)
		}
	}
	var dry []config.Zone // with a humidity band that no probe it lists can watch
	for _, z := range c.Zones {
		if z.Humidity != nil && !slices.ContainsFunc(c.Probes, func(p config.Probe) bool { return slices.Contains(z.Probes, p.Name) && mayMeasureHumidity(ctx, p) }) {
			dry = append(dry, z)
		}
	}
	if len(alone) == 0 && len(dry) == 0 {
		return nil
	}
	boxes, unread := boxesOf(ctx, c, path, build)
	say := func(format string, a ...any) { fmt.Fprintf(w, format+"\n", a...) }
	for _, p := range alone {
		switch {
		case unread != nil:
			say("Think of: nobody is called by the probe %s: no zone lists it; whether a box has it is not known: %s", p.Name, unread)
		case !slices.ContainsFunc(boxes, func(b book.Box) bool { return b.InUse && b.Probe == p.Name }):
			say("Think of: nobody is called by the probe %s: no zone lists it, and by the book no box has it; its readings are kept, and no more.", p.Name)
		}
	}
	for _, z := range dry {
		boxed := slices.ContainsFunc(boxes, func(b book.Box) bool {
			return b.InUse && b.Zone == z.Name && len(b.Eggs) > 0 &&
				slices.ContainsFunc(c.Probes, func(p config.Probe) bool { return p.Name == b.Probe && mayMeasureHumidity(ctx, p) })
		})
		if !boxed {
			say("Think of: %s has a humidity band, and none of its probes measures humidity, so too dry and too damp are never told there; give it a probe that does, or take the band away.", z.Name)
		}
	}
	return nil
}

// boxesOf are the boxes of the book, if there is one.
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
	does, err := catalog.MeasuresHumidity(ctx, probeconfig.Settings(p))
	return does || err != nil // one that is not there cannot be asked
}
