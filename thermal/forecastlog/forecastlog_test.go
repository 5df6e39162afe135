package forecastlog_test

import (
	"encoding/binary"
	"math"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/thermal/forecastlog"
	bolt "go.etcd.io/bbolt"
)

func openDB(t *testing.T, path string) *bolt.DB {
	t.Helper()
	db, err := bolt.Open(path, 0o600, &bolt.Options{Timeout: 10 * time.Second})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = db.Close() }) // closed in the test already, where it is opened again
	return db
}

func open(t *testing.T, db *bolt.DB) *forecastlog.Store {
	t.Helper()
	s, err := forecastlog.Open(db)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func window(clutch, box, day string, developed float64) forecastlog.Window {
	at, err := time.Parse(time.DateOnly, day)
	if err != nil {
		panic(err)
	}
	return forecastlog.Window{Clutch: clutch, Box: box, Day: day, At: at, CheckFrom: at.AddDate(0, 0, 20),
		Likely: at.AddDate(0, 0, 30), LateAfter: at.AddDate(0, 0, 45), Developed: developed}
}

// What was kept first stays, and comes in the order of clutch, box and day.
func TestContract(t *testing.T) {
	s := open(t, openDB(t, filepath.Join(t.TempDir(), "records.db")))
	want := func(clutch string, ws ...forecastlog.Window) {
		t.Helper()
		got, err := s.Load(clutch)
		if err != nil || !reflect.DeepEqual(got, ws) {
			t.Errorf("of %q: %+v, %v; want %+v", clutch, got, err, ws)
		}
	}
	keep := func(ws ...forecastlog.Window) {
		t.Helper()
		if err := s.Keep(ws); err != nil {
			t.Fatal(err)
		}
	}
	want("")
	a, b := window("S1", "B1", "2026-05-02", 0.2), window("S1", "B1", "2026-05-01", 0.19)
	c, d := window("S1", "B2", "2026-05-01", 0.2), window("S10", "B1", "2026-05-01", 0.5)
	keep(a, d)
	keep(b, c)
	want("", b, a, c, d)
	want("S1", b, a, c) // and not those of S10
	want("S")
	later := a
	later.Developed = 0.9
	keep(later) // a restart on the same day changes nothing
	want("S1", b, a, c)
	for _, bad := range []forecastlog.Window{
		{Box: "B1", Day: "2026-05-01"}, {Clutch: "S1", Box: "B1", Day: "1 May"}, {Clutch: "S\x00", Box: "B1", Day: "2026-05-01"},
		{Clutch: "S1", Box: "B1", Day: "2026-05-03", Developed: math.NaN()},
	} {
		if err := s.Keep([]forecastlog.Window{window("T1", "B1", "2026-05-01", 0.1), bad}); err == nil {
			t.Errorf("%+v was kept: %v", bad, err)
		}
	}
	want("T1")
}

// What was kept is there after the file was closed.
func TestKeptOverAnotherStart(t *testing.T) {
	path := filepath.Join(t.TempDir(), "records.db")
	db := openDB(t, path)
	w := window("S1", "B1", "2026-05-01", 0.25)
	if err := open(t, db).Keep([]forecastlog.Window{w}); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	got, err := open(t, openDB(t, path)).Load("S1")
	if err != nil || len(got) != 1 || !reflect.DeepEqual(got[0], w) {
		t.Errorf("%+v, %v; want %+v", got, err, w)
	}
}

// A file by a newer program, and a record that is no JSON, are said; no windows
// come beside the error.
func TestNewerAndDamagedAreSaid(t *testing.T) {
	db := openDB(t, filepath.Join(t.TempDir(), "records.db"))
	s := open(t, db)
	change := func(bucket []string, key, value []byte) {
		t.Helper()
		err := db.Update(func(tx *bolt.Tx) error {
			b := tx.Bucket([]byte(bucket[0]))
			for _, name := range bucket[1:] {
				b = b.Bucket([]byte(name))
			}
			return b.Put(key, value)
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	change([]string{"shown", "windows"}, []byte("S1\x00B1\x002026-05-01"), []byte("{"))
	if ws, err := s.Load(""); err == nil || ws != nil || !strings.Contains(err.Error(), "clutch S1 in box B1 on 2026-05-01") {
		t.Errorf("%v beside %v", ws, err)
	}
	change([]string{"shown"}, []byte("schema"), binary.BigEndian.AppendUint32(nil, 2))
	if _, err := forecastlog.Open(db); err == nil || !strings.Contains(err.Error(), "newer version") {
		t.Errorf("a newer file gave %v", err)
	}
}
