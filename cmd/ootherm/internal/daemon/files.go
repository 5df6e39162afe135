package daemon

import (
	"context"
	"fmt"
	"io"
	"os"

	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/cmd/ootherm/internal/storage"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/sensor/history"
)

// RunFileCheck checks a file and ends the process if the station started this process as
// a file check. Otherwise it returns at once. Main calls it before anything else.
func RunFileCheck() {
	storage.CheckMain(map[string][]storage.Verify{storage.ReadingsName: {history.Verify}})
}

// backup writes a consistent copy of the records.
func (d *daemon) backup(w io.Writer) error {
	if d.loop.station.Load() == nil {
		return errStarting
	}
	_, err := storage.Backup(d.files.Records(), w)
	return err
}

// Restore replaces the records of a station that is not running with a backup. It keeps
// the replaced file and returns its new name.
func Restore(ctx context.Context, path, backup string) (kept string, err error) {
	c, err := config.Load(path, probeconfig.Drivers())
	if err != nil {
		return "", err
	}
	f, err := os.Open(backup)
	if err != nil {
		return "", fmt.Errorf("the backup: %w", err)
	}
	defer f.Close()
	first := make([]byte, 1)
	if _, err := f.ReadAt(first, 0); err == nil && first[0] == '{' {
		return "", usererr.Usage(fmt.Errorf("%s is a copy of the book, not of the records; add it with ootherm book add%s %s", backup, config.Flag(path), backup))
	}
	return storage.Restore(ctx, c.Station.Data, storage.RecordsName, f, storage.Options{})
}
