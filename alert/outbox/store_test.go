package outbox_test

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
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

// openStore makes a new file with a store in it.
func openStore(t *testing.T) (*outbox.Store, *bbolt.DB) {
	t.Helper()
	db := open(t, filepath.Join(t.TempDir(), "records.db"))
	t.Cleanup(func() { _ = db.Close() })
	s, err := outbox.New(db)
	if err != nil {
		t.Fatal(err)
	}
	return s, db
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
	s, db := openStore(t)
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

func TestDeliveryTimesAreKept(t *testing.T) {
	path := filepath.Join(t.TempDir(), "records.db")
	db := open(t, path)
	defer func() { db.Close() }()
	s, err := outbox.New(db)
	if err != nil {
		t.Fatal(err)
	}
	at := time.Date(2026, 4, 2, 19, 0, 0, 0, time.UTC)
	for name, k := range map[string]interface {
		alert.Journal
		outbox.Keeper
		Last(ctx context.Context, about, sender string) (outbox.Mark, bool, error)
	}{"store": s, "memory": outbox.NewMemory()} {
		for n := range 80 {
			m := alert.Message{ID: fmt.Sprintf("x/%d", n+1), At: at, Sender: "mail"}
			if err := k.Commit(t.Context(), nil, []alert.Message{m}); err != nil {
				t.Fatal(err)
			}
			o := alert.Outcome{Sender: "mail", Result: alert.Delivered, At: at.Add(time.Duration(n/2) * time.Minute)}
			if n == 3 {
				o.Result = alert.Dropped
			}
			if err := k.Done(t.Context(), m.ID, o); err != nil {
				t.Fatal(err)
			}
		}
		sent, err := k.Sent(t.Context(), "mail")
		if err != nil || len(sent) != 40 || !sent[0].Equal(at) || !sent[39].Equal(at.Add(39*time.Minute)) {
			t.Errorf("%s: %d times, %v (%v): two of each minute went together", name, len(sent), sent, err)
		}
		last, has, err := k.Last(t.Context(), "x", "mail")
		if err != nil || !has || last.Sequence != 80 || !last.At.Equal(at) || !last.Delivered.Equal(at.Add(39*time.Minute)) {
			t.Errorf("%s: the last about x is %+v, %v (%v)", name, last, has, err)
		}
		if last, has, err := k.Last(t.Context(), "y", "mail"); err != nil || has {
			t.Errorf("%s: the last about y is %+v, %v (%v)", name, last, has, err)
		}
		if other, err := k.Sent(t.Context(), "hook"); err != nil || len(other) != 0 {
			t.Errorf("%s: another sender has %v (%v)", name, other, err)
		}
	}
}

// A message that a version without threads stored still waits, and is delivered.
func TestMessageOfAnEarlierVersionWaits(t *testing.T) {
	s, db := openStore(t)
	const old = `{"id":"x/1","alarm":"x","at":"2026-04-02T19:00:00Z","priority":"warning","subject":"s","body":"b","over":false,` +
		`"sender":"mail","attempts":1,"next":"2026-04-02T19:00:15Z","refused":false,"last_error":"busy"}`
	if err := db.Update(func(tx *bbolt.Tx) error {
		return tx.Bucket([]byte("outbox")).Bucket([]byte("waiting")).Put([]byte("x/1\x00mail"), []byte(old))
	}); err != nil {
		t.Fatal(err)
	}
	waiting, err := s.Waiting(t.Context())
	if err != nil || len(waiting) != 1 || waiting[0].ID != "x/1" || waiting[0].Episode() != "" || waiting[0].LastErr != "busy" {
		t.Errorf("waiting %+v (%v)", waiting, err)
	}
	if err := s.Done(t.Context(), "x/1", alert.Outcome{Sender: "mail", Result: alert.Delivered, At: waiting[0].At}); err != nil {
		t.Error(err)
	}
}

func TestThreadsWaitWithTheirMessage(t *testing.T) {
	s, _ := openStore(t)
	k := alert.Key{Kind: alert.DriftDown, Priority: alert.Warning, Zone: "room"}
	at := time.Date(2026, 4, 2, 19, 0, 0, 0, time.UTC)
	m := alert.Message{ID: "x/1", At: at, Sender: "mail", Threads: []alert.Thread{alert.NewThread(k, "room", at)}}
	if err := s.Commit(t.Context(), nil, []alert.Message{m}); err != nil {
		t.Fatal(err)
	}
	waiting, err := s.Waiting(t.Context())
	if err != nil || len(waiting) != 1 || !slices.Equal(waiting[0].Threads, m.Threads) {
		t.Errorf("waiting %+v (%v)", waiting, err)
	}
}

// The station asks at every reading what waits. Messages for a sender that fails for weeks must
// not be read from the file each time.
func TestWaitingIsReadOnceForEachChange(t *testing.T) {
	s, _ := openStore(t)
	var messages []alert.Message
	for i := range 200 {
		messages = append(messages, alert.Message{ID: fmt.Sprintf("x/%d", i+1), At: time.Date(2026, 4, 2, 19, 0, i, 0, time.UTC), Sender: "mail"})
	}
	if err := s.Commit(t.Context(), nil, messages); err != nil {
		t.Fatal(err)
	}
	waiting := func() []alert.Message {
		ms, err := s.Waiting(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		return ms
	}
	if got := len(waiting()); got != len(messages) {
		t.Fatalf("%d wait, want %d", got, len(messages))
	}
	if n := testing.AllocsPerRun(10, func() { waiting() }); n > float64(len(messages))/4 {
		t.Errorf("%.0f allocations without a change: the %d messages are read again", n, len(messages))
	}
	waiting()[0].Sender = "changed by the caller"
	if got := waiting()[0].Sender; got != "mail" {
		t.Errorf("the sender of what waits is %q", got)
	}
	if err := s.Done(t.Context(), messages[0].ID, alert.Outcome{Sender: "mail", Result: alert.Delivered, At: messages[0].At}); err != nil {
		t.Fatal(err)
	}
	if got := waiting(); len(got) != len(messages)-1 || got[0].ID != messages[1].ID {
		t.Errorf("after a delivery %d wait, the first is %s", len(got), got[0].ID)
	}
}
