package client

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/daemon"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
)

// Labels draws the labels of boxes into a folder, and gives the files. Without names it
// draws those of all boxes in use. It writes nothing unless it can draw all.
func Labels(ctx context.Context, path string, build daemon.Build, boxes []string, dpi int, folder string) ([]string, error) {
	cfg, err := config.Load(path, probeconfig.Drivers())
	if err != nil {
		return nil, err
	}
	if !cfg.Station.Addressed {
		return nil, usererr.Usage(errors.New(`station.url is not set, and labels carry it: write the address that a phone opens under [station], like url = "http://eggroom.local:8080", and restart the station; it is printed, so choose a name or a number that will stay`))
	}
	c, err := Dial(ctx, path, build)
	if err != nil {
		return nil, err
	}
	defer c.Close()
	n, err := c.Now(ctx)
	if err != nil {
		return nil, err
	}
	var used, unknown []string
	for _, x := range n.Boxes {
		used = append(used, x.Box)
	}
	for _, name := range boxes {
		if !slices.Contains(used, name) {
			unknown = append(unknown, strconv.Quote(name))
		}
	}
	switch {
	case len(unknown) > 0 && len(used) == 0:
		return nil, fmt.Errorf("no box %s is in use, nor any other: set it up in the book first", strings.Join(unknown, ", "))
	case len(unknown) > 0:
		return nil, fmt.Errorf("no box %s is in use; in use: %s", strings.Join(unknown, ", "), strings.Join(used, ", "))
	case len(used) == 0:
		return nil, errors.New("no box is in use, so there is no label to draw: set one up in the book first")
	case len(boxes) == 0:
		boxes = used
	}
	drawn := map[string][]byte{}
	for _, name := range boxes {
		var b bytes.Buffer
		if err := c.Ask(ctx, http.MethodGet, "/b/"+url.PathEscape(name)+"/label.png?dpi="+strconv.Itoa(dpi), nil, &b); err != nil {
			return nil, err
		}
		drawn[name] = b.Bytes()
	}
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return nil, fmt.Errorf("the folder for the labels: %w", err)
	}
	var files []string
	for _, name := range boxes {
		file := filepath.Join(folder, "box-"+url.PathEscape(name)+".png")
		if slices.Contains(files, file) {
			continue // named twice
		}
		if err := os.WriteFile(file, drawn[name], 0o644); err != nil {
			return nil, fmt.Errorf("a label: %w", err)
		}
		files = append(files, file)
	}
	return files, nil
}
