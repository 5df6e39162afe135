package daemon

import (
	"errors"
	"io"

	"example.com/ootherm/cmd/ootherm/internal/storage"
	"example.com/ootherm/sensor/history"
	"go.etcd.io/bbolt"
)

// RunFileCheck checks a file and ends the process if the station started this process as
// a file check. Otherwise it returns at once. Main calls it before anything else.
func RunFileCheck() {
	storage.CheckMain(map[string][]storage.Verify{storage.ReadingsName: {history.Verify}, storage.RecordsName: {refuseReadings}})
}

// placedHistory is a history whose flush fails if its files are not in their folder.
type placedHistory struct {
	*history.Store
	inPlace func() error
}

// Flush makes the readings durable and checks where they are.
func (h placedHistory) Flush() error { return errors.Join(h.Store.Flush(), h.inPlace()) }

// backup writes a consistent copy of the records.
func (d *daemon) backup(w io.Writer) error {
	if d.loop.station.Load() == nil {
		return errStarting
	}
	_, err := storage.Backup(d.files.Records(), w)
	return err
}

// refuseReadings returns an error for a file of readings in the place of the records.
func refuseReadings(tx *bbolt.Tx) error {
	if history.In(tx) {
		return errors.New("it holds readings, not records")
	}
	return nil
}
