package outbox_test

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"go.etcd.io/bbolt"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/alerttest"
	"example.com/ootherm/alert/outbox"
)

func open(t testing.TB, path string) *bbolt.DB {
	t.Helper()
	db, err := bbolt.Open(path, 0o600, lock)
	if err != nil {
		t.Fatal(err)
	}
	return db
}

var lock = &bbolt.Options{Timeout: 5 * time.Second}

func notWaiting(err error) bool { return errors.Is(err, outbox.ErrNotWaiting) }

func reuse(err error) bool { var r *outbox.ReuseError; return errors.As(err, &r) }

func TestStore(t *testing.T) {
	alerttest.Journal(t, func(t *testing.T) func() alert.Journal {
		path := filepath.Join(t.TempDir(), "records.db")
		var db *bbolt.DB
		t.Cleanup(func() {
			if err := db.Close(); err != nil {
				t.Error(err)
			}
		})
		return func() alert.Journal { // each time from the file
			if db != nil {
				if err := db.Close(); err != nil {
					t.Fatal(err)
				}
			}
			db = open(t, path)
			s, err := outbox.New(db)
			if err != nil {
				t.Fatal(err)
			}
			return s
		}
	}, notWaiting, reuse)
}

func TestMemory(t *testing.T) {
	alerttest.Journal(t, func(*testing.T) func() alert.Journal {
		m := outbox.NewMemory()
		return func() alert.Journal { return m }
	}, notWaiting, reuse)
}

func TestLayoutOfALaterVersionIsLeftAlone(t *testing.T) {
	path := filepath.Join(t.TempDir(), "records.db")
	db := open(t, path)
	if _, err := outbox.New(db); err != nil {
		t.Fatal(err)
	}
	if err := db.Update(func(tx *bbolt.Tx) error {
		return tx.Bucket([]byte("outbox")).Put([]byte("schema"), []byte("9"))
	}); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	before, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	db = open(t, path)
	if _, err := outbox.New(db); err == nil || !strings.Contains(err.Error(), `layout "9"`) {
		t.Errorf("opened: %v", err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	if now, err := os.ReadFile(path); err != nil || string(now) != string(before) {
		t.Errorf("the file was changed (%v)", err)
	}
}

func TestDamagedRecordIsNamed(t *testing.T) {
	db := open(t, filepath.Join(t.TempDir(), "records.db"))
	defer db.Close()
	s, err := outbox.New(db)
	if err != nil {
		t.Fatal(err)
	}
	if err := db.Update(func(tx *bbolt.Tx) error {
		return tx.Bucket([]byte("outbox")).Bucket([]byte("waiting")).Put([]byte("x/1\x00mail"), []byte("{"))
	}); err != nil {
		t.Fatal(err)
	}
	as, ms, err := s.Load(t.Context())
	if err == nil || !strings.Contains(err.Error(), `x/1\x00mail`) || as != nil || ms != nil {
		t.Errorf("loaded %v, %v, %v", as, ms, err)
	}
}
