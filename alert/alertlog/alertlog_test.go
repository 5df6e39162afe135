package alertlog_test

import (
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/alertlog"
	bolt "go.etcd.io/bbolt"
)

var (
	zero  = time.Date(2026, 5, 1, 0, 0, 0, 0, time.UTC)
	cold  = alert.Key{Kind: alert.TemperatureLow, Priority: alert.Warning, Zone: "room"}
	limit = alert.Limit{At: 22, Deadband: 0.3, OnDelay: 10 * time.Minute, OffDelay: 5 * time.Minute}
)

func open(t *testing.T, path string) (*bolt.DB, *alertlog.Store) {
	t.Helper()
	db, err := bolt.Open(path, 0o600, &bolt.Options{Timeout: time.Second})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = db.Close() }) // a second time it says nothing new
	s, err := alertlog.Open(db)
	if err != nil {
		t.Fatal(err)
	}
	return db, s
}

// An alarm goes through its life; its record follows, over a restart too.
func TestAnAlarmIsKeptFromItsBeginningToItsEnd(t *testing.T) {
	path := filepath.Join(t.TempDir(), "records.db")
	db, s := open(t, path)
	a := alert.New(cold, limit)
	see := func(minute int, v float64) {
		t.Helper()
		var events []alert.Event
		a, events = a.Observe(zero.Add(time.Duration(minute)*time.Minute), v, true)
		if err := s.Keep(events); err != nil {
			t.Fatal(err)
		}
	}
	for m := range 12 {
		see(m, 21.5)
	}
	a, events := a.Acknowledge(zero.Add(12*time.Minute), "me")
	if err := s.Keep(events); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	_, s = open(t, path)
	see(13, 20.1)
	for m := 20; m < 30; m++ {
		see(m, 23)
	}
	for m := 60; m < 75; m++ { // and once more
		see(m, 21.9)
	}
	all, err := s.Between(zero, zero.Add(24*time.Hour))
	if err != nil || len(all) != 2 {
		t.Fatalf("%d alarms, %v: %+v", len(all), err, all)
	}
	x := all[0]
	min := func(m int) time.Time { return zero.Add(time.Duration(m) * time.Minute) }
	if x.Key != cold || !x.Began.Equal(min(0)) || !x.Raised.Equal(min(10)) || !x.Seen.Equal(min(12)) || !x.Ended.Equal(min(25)) ||
		x.Peak == nil || *x.Peak != 20.1 || x.Limit == nil || *x.Limit != 22 {
		t.Errorf("the first is %+v", x)
	}
	if y := all[1]; !y.Began.Equal(min(60)) || !y.Ended.IsZero() || !y.Seen.IsZero() {
		t.Errorf("the second, which lasts, is %+v", y)
	}
	for _, c := range []struct{ from, to, n int }{{0, 1, 1}, {26, 60, 0}, {24, 60, 1}, {26, 61, 1}, {500, 600, 1}} {
		if got, err := s.Between(min(c.from), min(c.to)); err != nil || len(got) != c.n {
			t.Errorf("from %d to %d min: %d alarms (%v), want %d", c.from, c.to, len(got), err, c.n)
		}
	}
}

// What was hidden from the start is none; an end without a beginning is none.
func TestWhatWasNeverToldIsNotKept(t *testing.T) {
	_, s := open(t, filepath.Join(t.TempDir(), "records.db"))
	events := []alert.Event{
		{At: zero, Key: cold, From: alert.Normal, To: alert.Suppressed, Peak: math.NaN()},
		{At: zero, Key: cold, From: alert.Suppressed, To: alert.Normal, Peak: math.NaN()},
		{At: zero, Key: cold, From: alert.Active, To: alert.Normal, Peak: math.NaN()},
	}
	if err := s.Keep(events); err != nil {
		t.Fatal(err)
	}
	if all, err := s.Between(zero.Add(-time.Hour), zero.Add(time.Hour)); err != nil || len(all) != 0 {
		t.Errorf("%+v, %v", all, err)
	}
}

func TestANewerDiaryIsNotTouched(t *testing.T) {
	db, _ := open(t, filepath.Join(t.TempDir(), "records.db"))
	if err := db.Update(func(tx *bolt.Tx) error {
		return tx.Bucket([]byte("diary")).Put([]byte("schema"), []byte{0, 0, 0, 9})
	}); err != nil {
		t.Fatal(err)
	}
	if _, err := alertlog.Open(db); err == nil || !strings.Contains(err.Error(), "newer version") {
		t.Errorf("error is %v", err)
	}
}
