// Package forecastlogtest makes a store of windows for one test.
package forecastlogtest

import (
	"path/filepath"
	"testing"

	bolt "go.etcd.io/bbolt"

	"example.com/ootherm/thermal/forecastlog"
)

// Open gives an empty store, which ends with the test. It waits for no disk.
func Open(t testing.TB) *forecastlog.Store {
	t.Helper()
	db, err := bolt.Open(filepath.Join(t.TempDir(), "records.db"), 0o600, &bolt.Options{NoSync: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	})
	s, err := forecastlog.Open(db)
	if err != nil {
		t.Fatal(err)
	}
	return s
}
