package storage

import (
	"bytes"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"testing"
	"time"
	"unsafe"

	"go.etcd.io/bbolt"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/history"
)

// write is one write that the store asked the kernel for.
type write struct {
	at   int64
	data []byte
	size int64 // of the file then
	last bool  // of its commit: it is the meta page
}

// writeLog is a file as it was, and all writes to it since. The store syncs before and after
// the last write of each commit, unless it was told not to.
type writeLog struct {
	before []byte
	writes []write
	states []func(*testing.T, *Files) bool // whether a file holds what it held after a number of commits
}

// logWrites logs the writes of an open file. The store offers no way to do that.
func logWrites(t *testing.T, db *bbolt.DB) *writeLog {
	t.Helper()
	b, err := os.ReadFile(db.Path())
	if err != nil {
		t.Fatal(err)
	}
	log := &writeLog{before: b}
	field := reflect.ValueOf(db).Elem().FieldByName("ops").FieldByName("writeAt")
	writeAt := (*func([]byte, int64) (int, error))(unsafe.Pointer(field.UnsafeAddr()))
	ask := *writeAt
	*writeAt = func(b []byte, at int64) (int, error) {
		info, err := os.Stat(db.Path())
		if err != nil {
			return 0, err
		}
		log.writes = append(log.writes, write{at, bytes.Clone(b), info.Size(), at < 2*page})
		return ask(b, at)
	}
	return log
}

// put writes the sectors of a write for which keeps is true.
func (w write) put(image []byte, keeps func(sector int) bool) []byte {
	if grow := w.size - int64(len(image)); grow > 0 {
		image = append(image, make([]byte, grow)...)
	}
	for i := 0; i < len(w.data); i += sector {
		if keeps(i / sector) {
			copy(image[w.at+int64(i):], w.data[i:min(i+sector, len(w.data))])
		}
	}
	return image
}

// interruptions are the ways in which what was written since the last sync can reach a card when
// the power is cut.
var interruptions = []struct {
	name  string
	keeps func(rng *rand.Rand, pending int) func(write, sector int) bool
}{
	{"in order, the last write torn", func(rng *rand.Rand, pending int) func(int, int) bool {
		cut := rng.IntN(8)
		return func(w, s int) bool { return w < pending-1 || s < cut }
	}},
	{"whole writes in any order", func(rng *rand.Rand, pending int) func(int, int) bool {
		kept := map[int]bool{}
		for w := range pending {
			kept[w] = rng.IntN(2) == 0
		}
		return func(w, _ int) bool { return kept[w] }
	}},
	{"any sectors", func(rng *rand.Rand, _ int) func(int, int) bool {
		share := rng.Float64()
		return func(int, int) bool { return rng.Float64() < share }
	}},
}

// cut gives the file after a power cut at a random write, and how many commits the caller was
// told of. Without is how many of the syncs before it were left out.
func (l *writeLog) cut(rng *rand.Rand, kind, without int) (image []byte, told int) {
	at := 1 + rng.IntN(len(l.writes)-1)
	from := at // the first write that the card may not have
	for ; from > 0; from-- {
		synced := l.writes[from-1].last || l.writes[from].last
		if synced && without == 0 {
			break
		}
		if synced {
			without--
		}
	}
	image = bytes.Clone(l.before)
	for _, w := range l.writes[:from] {
		image = w.put(image, func(int) bool { return true })
	}
	keeps := interruptions[kind].keeps(rng, at-from+1)
	for i, w := range l.writes[from : at+1] {
		image = w.put(image, func(s int) bool { return keeps(i, s) })
	}
	for _, w := range l.writes[:at] {
		if w.last {
			told++
		}
	}
	return image, told
}

// logRecords logs commits of records.
func logRecords(t *testing.T, commits int) *writeLog {
	t.Helper()
	db, err := bbolt.Open(filepath.Join(t.TempDir(), "logged"), 0o600, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	log := logWrites(t, db)
	keep := func() {
		want := contentOf(t, db)
		log.states = append(log.states, func(t *testing.T, f *Files) bool { return maps.Equal(contentOf(t, f.Records()), want) })
	}
	keep()
	for n := range uint64(commits) {
		if err := db.Update(func(tx *bbolt.Tx) error { return commit(tx, n) }); err != nil {
			t.Fatal(err)
		}
		keep()
	}
	return log
}

// logReadings logs flushes of readings, with full blocks on the way.
func logReadings(t *testing.T, flushes int) *writeLog {
	t.Helper()
	db, err := bbolt.Open(filepath.Join(t.TempDir(), "logged"), 0o600, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	s, err := history.Open(db, history.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Begin("a", began, 0, true); err != nil {
		t.Fatal(err)
	}
	if err := s.Flush(); err != nil {
		t.Fatal(err)
	}
	log, n := logWrites(t, db), 0
	keep := func() {
		want := n
		log.states = append(log.states, func(t *testing.T, f *Files) bool { return countReadings(t, f) == want })
	}
	keep()
	for range flushes {
		for range 40 {
			if err := s.Append([]sensor.Reading{reading(n)}); err != nil {
				t.Fatal(err)
			}
			n++
		}
		if err := s.Flush(); err != nil {
			t.Fatal(err)
		}
		keep()
	}
	return log
}

// countReadings is how many of the test's readings a file holds, from the first on; -1 if one of
// them is another or cannot be read.
func countReadings(t *testing.T, f *Files) (n int) {
	t.Helper()
	s, err := history.Open(readings(t, f), history.Options{})
	if err != nil {
		return -1
	}
	for p, err := range s.Range("p", began, began.Add(100*24*time.Hour)) {
		if want := reading(n); err != nil || p.Uptime != want.Uptime || p.Celsius != want.Celsius {
			return -1
		}
		n++
	}
	return n
}

// After a power cut at any write, in whatever order the card took those since the last sync, the
// file holds what was durable, and of the commit that was under way all or nothing. Where the
// store does not sync, the same test finds losses.
func TestPowerCutAtAnyWrite(t *testing.T) {
	for _, c := range []struct {
		file string
		log  *writeLog
	}{{RecordsName, logRecords(t, 60)}, {ReadingsName, logReadings(t, 60)}} {
		rng := rand.New(rand.NewPCG(41, 41))
		// loses tries power cuts and gives how many lost what the caller was told of.
		loses := func(images, without int, limit time.Duration) (lost int) {
			for i := range images {
				kind := i % len(interruptions)
				image, told := c.log.cut(rng, kind, without)
				withImage(t, c.file, image, limit, func(f *Files, what string) {
					if c.log.states[told](t, f) || told+1 < len(c.log.states) && c.log.states[told+1](t, f) {
						return
					}
					lost++
					if without == 0 {
						t.Errorf("%s, image %d, %s, after commit %d: %s, and it holds neither that nor the next", c.file, i, interruptions[kind].name, told, what)
					}
				})
			}
			return lost
		}
		images, unsynced := imageCount(18, 5000), imageCount(6, 500)
		loses(images, 0, checkLimit)
		// Without syncs, pages can lead in a circle, and the check of those has no other end.
		lost := loses(unsynced, 6, time.Second)
		t.Logf("%s: %d power cuts, none lost what was durable; %d without syncs, %d of them lost it", c.file, images, unsynced, lost)
		if lost == 0 {
			t.Errorf("%s: without syncs nothing was lost: the test finds nothing", c.file)
		}
	}
}

// A power cut while a file is made leaves a part of it under another name. The next start makes
// it again, and takes nothing for damaged.
func TestPowerCutWhileAFileIsMade(t *testing.T) {
	made := t.TempDir()
	mustClose(t, mustOpen(t, made, Options{}))
	for _, sectors := range []int{0, 1, 3, 8, 9, 17, 31} {
		dir := t.TempDir()
		for _, name := range []string{RecordsName, ReadingsName} {
			b, err := os.ReadFile(filepath.Join(made, name))
			if err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(filepath.Join(dir, name+newSuffix), b[:min(sectors*sector, len(b))], 0o600); err != nil {
				t.Fatal(err)
			}
		}
		f := mustOpen(t, dir, Options{})
		readings(t, f)
		if d := f.Damages(); len(d) > 0 {
			t.Errorf("%d sectors: damages %v", sectors, d)
		}
		if err := f.Records().Update(func(tx *bbolt.Tx) error { return commit(tx, 1) }); err != nil {
			t.Errorf("%d sectors: %v", sectors, err)
		}
		mustClose(t, f)
	}
}
