package ledger_test

import (
	"encoding/binary"
	"errors"
	"fmt"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/ledger"
	bolt "go.etcd.io/bbolt"
)

// store is what the station needs of a ledger.
type store interface {
	Append([]book.Entry, time.Time) ([]book.Entry, error)
	Load() ([]book.Entry, error)
}

var (
	_ store = (*ledger.Ledger)(nil)
	_ store = (*ledger.InMemory)(nil)
)

var recorded = time.Date(2026, 4, 3, 12, 0, 0, 0, time.FixedZone("", 7200))

func openDB(t testing.TB, path string) *bolt.DB {
	t.Helper()
	db, err := bolt.Open(path, 0o600, &bolt.Options{Timeout: 10 * time.Second})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	})
	return db
}

func open(t testing.TB, db *bolt.DB) *ledger.Ledger {
	t.Helper()
	l, err := ledger.Open(db)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func note(key, text string) book.Entry {
	return book.Entry{Key: key, At: time.Date(2026, 4, 2, 0, 0, 0, 0, time.UTC), Kind: book.KindNote, Text: text}
}

func keysOf(es []book.Entry) string {
	var s []string
	for _, e := range es {
		s = append(s, fmt.Sprintf("%s/%d", e.Key, e.Seq))
	}
	return strings.Join(s, " ")
}

// Both ledgers do the same.
func TestContract(t *testing.T) {
	for name, begin := range map[string]func(*testing.T) store{
		"file":   func(t *testing.T) store { return open(t, openDB(t, filepath.Join(t.TempDir(), "records.db"))) },
		"memory": func(*testing.T) store { return ledger.Memory() },
	} {
		t.Run(name, func(t *testing.T) {
			l := begin(t)
			if es, err := l.Load(); err != nil || len(es) != 0 {
				t.Fatalf("a new ledger holds %v, error %v", es, err)
			}
			add := func(want string, es ...book.Entry) []book.Entry {
				t.Helper()
				got, err := l.Append(es, recorded)
				if err != nil || keysOf(got) != want {
					t.Fatalf("stored %s, want %s, error %v", keysOf(got), want, err)
				}
				return got
			}
			first := add("a/1 b/2", note("a", "one"), note("b", "two"))
			if !first[0].Recorded.Equal(recorded) || first[0].Text != "one" {
				t.Errorf("stored %+v", first[0])
			}
			// A seq that the entry brings along is not believed.
			moved := note("c", "three")
			moved.Seq, moved.Recorded = 70, recorded.AddDate(1, 0, 0)
			add("c/3", moved)
			again, err := l.Append([]book.Entry{note("d", "four"), note("a", "one"), note("d", "four")}, recorded.Add(time.Hour))
			if err != nil || keysOf(again) != "d/4 a/1 d/4" {
				t.Fatalf("stored %s, error %v", keysOf(again), err)
			}
			if !again[1].Recorded.Equal(recorded) {
				t.Errorf("entry a sent again was recorded %v", again[1].Recorded)
			}
			for _, bad := range [][]book.Entry{
				{note("e", "five"), note("b", "other")},
				{note("e", "five"), note("e", "other")},
				{note("e", "five"), {Key: "f", At: recorded, Kind: book.KindDam}},
			} {
				got, err := l.Append(bad, recorded)
				if err == nil || got != nil {
					t.Fatalf("%s taken as %s", keysOf(bad), keysOf(got))
				}
				if !strings.HasPrefix(err.Error(), "append: ") {
					t.Errorf("error %q does not say where", err)
				}
			}
			var c *ledger.ConflictError
			if _, err := l.Append([]book.Entry{note("b", "other")}, recorded); !errors.As(err, &c) || c.Key != "b" || c.Seq != 2 {
				t.Errorf("a key with other content: error %v", err)
			}
			if _, err := l.Append([]book.Entry{note("g", "no time")}, time.Time{}); err == nil {
				t.Error("an entry recorded at no time was taken")
			}
			add("h/5", note("h", "six")) // nothing refused took a seq
			es, err := l.Load()
			if err != nil || keysOf(es) != "a/1 b/2 c/3 d/4 h/5" {
				t.Fatalf("loaded %s, error %v", keysOf(es), err)
			}
			if !reflect.DeepEqual(es[0], first[0]) {
				t.Errorf("loaded %+v, appended %+v", es[0], first[0])
			}
			if _, err := book.Fold(es); err != nil {
				t.Errorf("what was loaded does not fold: %v", err)
			}
		})
	}
}

func TestOpenAgain(t *testing.T) {
	db := openDB(t, filepath.Join(t.TempDir(), "records.db"))
	if _, err := open(t, db).Append([]book.Entry{note("a", "one")}, recorded); err != nil {
		t.Fatal(err)
	}
	got, err := open(t, db).Append([]book.Entry{note("a", "one"), note("b", "two")}, recorded)
	if err != nil || keysOf(got) != "a/1 b/2" {
		t.Errorf("stored %s, error %v", keysOf(got), err)
	}
}

func TestOpenRefuses(t *testing.T) {
	for _, c := range []struct {
		fault  string
		schema []byte
		words  string
	}{
		{"a newer schema", binary.BigEndian.AppendUint32(nil, 2), "schema 2 and this program knows schemas up to 1"},
		{"half a schema", []byte{0, 0}, "no readable schema"},
		{"no schema", nil, "no readable schema"},
	} {
		t.Run(c.fault, func(t *testing.T) {
			db := openDB(t, filepath.Join(t.TempDir(), "records.db"))
			open(t, db)
			edit(t, db, func(b *bolt.Bucket) error {
				if c.schema == nil {
					return b.Delete([]byte("schema"))
				}
				return b.Put([]byte("schema"), c.schema)
			})
			l, err := ledger.Open(db)
			if err == nil || l != nil || !strings.Contains(err.Error(), c.words) {
				t.Fatalf("error is %v", err)
			}
			var n *ledger.NewerError
			if errors.As(err, &n) != strings.Contains(c.fault, "newer") {
				t.Errorf("error %v is told apart wrongly", err)
			}
		})
	}
}

func edit(t *testing.T, db *bolt.DB, do func(*bolt.Bucket) error) {
	t.Helper()
	if err := db.Update(func(tx *bolt.Tx) error { return do(tx.Bucket([]byte("ledger"))) }); err != nil {
		t.Fatal(err)
	}
}

func TestDamagedRecord(t *testing.T) {
	two := []byte{0, 0, 0, 0, 0, 0, 0, 2}
	put := func(line string) func(*bolt.Bucket) error {
		return func(b *bolt.Bucket) error { return b.Bucket([]byte("entries")).Put(two, []byte(line)) }
	}
	for _, c := range []struct {
		fault string
		do    func(*bolt.Bucket) error
		words string
	}{
		{"garbled", put("\x00\x01garbled"), "record 2 (key b) is damaged"},
		{"cut short", put(`{"key":"b","at":"2026-04-02T00`), "record 2 (key b) is damaged"},
		{"another's seq", put(`{"key":"b","at":"2026-04-02T00:00:00Z","entry":"note","text":"two","seq":9,"recorded":"2026-04-03T10:00:00Z"}`), "it says seq 9"},
		{"another's key", put(`{"key":"z","at":"2026-04-02T00:00:00Z","entry":"note","text":"two","seq":2,"recorded":"2026-04-03T10:00:00Z"}`), "record 2 (key z) is damaged: its key leads elsewhere"},
		{"never recorded", put(`{"key":"b","at":"2026-04-02T00:00:00Z","entry":"note","text":"two","seq":2}`), "record 2 (key b) is damaged"},
		{"gone", func(b *bolt.Bucket) error { return b.Bucket([]byte("entries")).Delete(two) }, "record 2 (key b) is damaged: it is missing"},
		{"a seq too short", func(b *bolt.Bucket) error { return b.Bucket([]byte("entries")).Put([]byte{9}, []byte("{}")) }, "its seq is 1 bytes"},
	} {
		t.Run(c.fault, func(t *testing.T) {
			db := openDB(t, filepath.Join(t.TempDir(), "records.db"))
			l := open(t, db)
			if _, err := l.Append([]book.Entry{note("a", "one"), note("b", "two"), note("c", "three")}, recorded); err != nil {
				t.Fatal(err)
			}
			edit(t, db, c.do)
			es, err := l.Load()
			var d *ledger.DamagedError
			if !errors.As(err, &d) || es != nil || !strings.Contains(err.Error(), c.words) {
				t.Errorf("loaded %s, error %v", keysOf(es), err)
			}
		})
	}
}

func BenchmarkLoad(b *testing.B) {
	db := openDB(b, filepath.Join(b.TempDir(), "records.db"))
	l := open(b, db)
	var es []book.Entry
	for i := range 100_000 {
		es = append(es, note(fmt.Sprint(i), "text"))
	}
	if _, err := l.Append(es, recorded); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := l.Load(); err != nil {
			b.Fatal(err)
		}
	}
}
