package daemon

import (
	"context"
	"fmt"
	"io"
	"os"

	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/storage"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/sensor/history"
)

// CheckedFile checks a file and ends the program, in a child that the station
// started for that; otherwise it returns at once. Main calls it first.
func CheckedFile() {
	storage.CheckMain(map[string][]storage.Verify{storage.ReadingsName: {history.Verify}})
}

// backup writes the records out, as they are at one moment.
func (d *daemon) backup(w io.Writer) error {
	if d.loop.station.Load() == nil {
		return errStarting
	}
	_, err := storage.Backup(d.files.Records(), w)
	return err
}

// Restore puts a backup in the place of the records of a station that does not
// run. It gives the name under which what was there is kept.
func Restore(ctx context.Context, path, backup string) (was string, err error) {
	c, err := config.Load(path)
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
		return "", usererr.Usage(fmt.Errorf("%s is a copy of the book, not of the records; put it in with ootherm book add --config %s %s", backup, path, backup))
	}
	return storage.Restore(ctx, c.Station.Data, storage.RecordsName, f, storage.Options{})
}
