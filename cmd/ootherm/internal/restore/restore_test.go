package restore

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/benchtest"
	"example.com/ootherm/cmd/ootherm/internal/client"
	"example.com/ootherm/cmd/ootherm/internal/daemon"
	"example.com/ootherm/cmd/ootherm/internal/passphrase"
	"example.com/ootherm/cmd/ootherm/internal/storage"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/thermal/book"
	"golang.org/x/sys/unix"
)

// The station's files are checked in a child of this program.
func TestMain(m *testing.M) {
	daemon.RunFileCheck()
	os.Exit(m.Run())
}

const entries = `{"key":"a1","at":"2026-06-01T08:00:00Z","entry":"dam","dam":"Sorrel","profile":"crested gecko"}
{"key":"a2","at":"2026-06-01T08:00:00Z","entry":"box","box":"B1","zone":"room"}
{"key":"a3","at":"2026-06-02T08:00:00Z","entry":"clutch","clutch":"S1","dam":"Sorrel","eggs":2,"laid_after":"2026-06-01T08:00:00Z","laid_by":"2026-06-02T08:00:00Z"}
{"key":"a4","at":"2026-06-02T08:00:00Z","entry":"placed","egg":"S1-1","box":"B1","slot":"a"}
`

// lostStation is a station with a book, a backup, a copy of the book, and a data folder.
type lostStation struct {
	data, backup, copy string
	book               book.Book
	readings           int
}

func newLostStation(t *testing.T) lostStation {
	t.Helper()
	config, data, _ := benchtest.Room(t)
	dir := t.TempDir()
	l := lostStation{data: data, backup: filepath.Join(dir, "records.db"), copy: filepath.Join(dir, "book.jsonl"), readings: 50}
	ask(t, config, func(ctx context.Context, c *client.Client) error {
		var backup, lines bytes.Buffer
		err := errors.Join(c.Note(ctx, []byte(entries)), c.Backup(ctx, &backup), c.WriteBook(ctx, &lines))
		return errors.Join(err, os.WriteFile(l.backup, backup.Bytes(), 0o600), os.WriteFile(l.copy, lines.Bytes(), 0o600))
	})
	l.book = bookOf(t, config)
	withHistory(t, data, func(h *history.Store) {
		boot, err := h.Begin("a boot", benchtest.Noon(), 0, true)
		if err != nil {
			t.Fatal(err)
		}
		var all []sensor.Reading
		for i := range l.readings {
			all = append(all, sensor.Reading{
				Probe: "shelf", Stamp: sensor.Stamp{Boot: boot.Number, Uptime: time.Duration(i) * time.Second}, Measurement: sensor.Measurement{Celsius: 23, Humidity: 0.5},
			})
		}
		if err := errors.Join(h.Append(all), h.Flush()); err != nil {
			t.Fatal(err)
		}
	})
	return l
}

func ask(t *testing.T, config string, do func(context.Context, *client.Client) error) {
	t.Helper()
	c, err := client.Dial(t.Context(), config, daemon.Build{})
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(do(t.Context(), c), c.Close()); err != nil {
		t.Fatal(err)
	}
}

func bookOf(t *testing.T, config string) book.Book {
	t.Helper()
	b, err := client.BookOf(t.Context(), config, daemon.Build{})
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// withHistory opens the readings of a data folder.
func withHistory(t *testing.T, data string, do func(*history.Store)) {
	t.Helper()
	files, err := storage.Open(t.Context(), data, storage.Options{})
	if err != nil {
		t.Fatal(err)
	}
	db, err := files.Readings(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	h, err := history.Open(db, history.Options{})
	if err != nil {
		t.Fatal(err)
	}
	do(h)
	if err := files.Close(); err != nil {
		t.Fatal(err)
	}
}

// readingsOf counts the readings in a data folder.
func readingsOf(t *testing.T, data string) (n int) {
	t.Helper()
	withHistory(t, data, func(h *history.Store) {
		for _, err := range h.Range("shelf", benchtest.Noon().Add(-time.Hour), benchtest.Noon().Add(time.Hour)) {
			if err != nil {
				t.Fatal(err)
			}
			n++
		}
	})
	return n
}

// restored restores a source for a configuration. It returns what the command said.
func restored(t *testing.T, config, source string) (string, error) {
	t.Helper()
	var said strings.Builder
	err := Run(t.Context(), Options{Config: config, Source: source, Out: &said})
	return said.String(), err
}

// Each source brings back what it holds, and a station opens what comes of it.
func TestSources(t *testing.T) {
	l := newLostStation(t)
	if err := passphrase.FileIn(l.data).Set("four warm brown eggs"); err != nil {
		t.Fatal(err)
	}
	card := filepath.Join(t.TempDir(), "card")
	if err := os.CopyFS(filepath.Join(card, "var/lib/ootherm"), os.DirFS(l.data)); err != nil {
		t.Fatal(err)
	}
	for name, x := range map[string]struct {
		source   string
		readings int
		hash     bool
		says     string
	}{
		"backup":             {l.backup, 0, false, "Found a backup of the records."},
		"copy of the book":   {l.copy, 0, false, "Found a copy of the book. Noted: 4 new entries."},
		"old card":           {card, l.readings, true, "Found a data folder: " + filepath.Join(card, "var/lib/ootherm") + "."},
		"folder of the card": {filepath.Join(card, "var/lib/ootherm"), l.readings, true, "The passphrase is back."},
	} {
		t.Run(name, func(t *testing.T) {
			config, data, _ := benchtest.Room(t)
			said, err := restored(t, config, x.source)
			if err != nil {
				t.Fatal(err)
			}
			for _, want := range []string{x.says, "The book: 1 clutch with 2 eggs, 1 dam, 1 box in use."} {
				if !strings.Contains(said, want) {
					t.Errorf("%q is not in:\n%s", want, said)
				}
			}
			if got := bookOf(t, config); got.Len() != l.book.Len() || len(got.Clutches()) != 1 {
				t.Errorf("the book has %d entries, want %d", got.Len(), l.book.Len())
			}
			if n := readingsOf(t, data); n != x.readings {
				t.Errorf("%d readings, want %d", n, x.readings)
			}
			if _, err := os.Stat(filepath.Join(data, "passphrase")); (err == nil) != x.hash {
				t.Errorf("the passphrase: %v", err)
			}
		})
	}
}

// What was there before is kept. A source that cannot be used changes nothing.
func TestSourcesThatAreRefused(t *testing.T) {
	l := newLostStation(t)
	config, data, _ := benchtest.Room(t)
	if _, err := restored(t, config, l.copy); err != nil {
		t.Fatal(err)
	}
	before := bookOf(t, config).Len()
	dir := t.TempDir()
	benchtest.Lay(t, dir, map[string]string{
		"empty": "", "words": strings.Repeat("this is no backup\n", 900), "folder/other": "x",
		"bad-book.jsonl": `{"key":"b1","at":"2026-06-01T08:00:00Z","entry":"clutch","clutch":"X","dam":"Nobody","eggs":2,"laid_after":"2026-06-01T08:00:00Z","laid_by":"2026-06-02T08:00:00Z"}` + "\n",
	})
	for source, want := range map[string]string{
		filepath.Join(dir, "none"):                  "no such file",
		filepath.Join(dir, "empty"):                 "is empty",
		filepath.Join(dir, "words"):                 "nothing was changed",
		filepath.Join(dir, "folder"):                "name a backup, a copy of the book, or the data folder",
		filepath.Join(dir, "bad-book.jsonl"):        "nothing was noted",
		filepath.Join(l.data, storage.ReadingsName): "it holds readings, not records",
		data: "is the station's own data folder",
	} {
		said, err := restored(t, config, source)
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q\n%s", source, err, want, said)
		}
	}
	if after := bookOf(t, config).Len(); after != before {
		t.Errorf("the book has %d entries, had %d", after, before)
	}
	if aside, err := filepath.Glob(filepath.Join(data, "*.b*-*")); err != nil || len(aside) != 0 {
		t.Errorf("set aside: %q, %v", aside, err)
	}
	said, err := restored(t, config, l.backup)
	if err != nil {
		t.Fatal(err)
	}
	kept, err := filepath.Glob(filepath.Join(data, "records.db.before-*"))
	if err != nil || len(kept) != 1 || !strings.Contains(said, "What was there is kept as "+kept[0]) {
		t.Errorf("kept: %q, %v\n%s", kept, err, said)
	}
}

// The readings of a card are damaged: the book comes back without them.
func TestCardWithDamagedReadings(t *testing.T) {
	l := newLostStation(t)
	if err := os.WriteFile(filepath.Join(l.data, storage.ReadingsName), []byte("no store"), 0o600); err != nil {
		t.Fatal(err)
	}
	config, _, _ := benchtest.Room(t)
	said, err := restored(t, config, l.data)
	if err != nil || !strings.Contains(said, "Its readings are left out") {
		t.Errorf("%v\n%s", err, said)
	}
	if got := bookOf(t, config); got.Len() != l.book.Len() {
		t.Errorf("the book has %d entries, want %d", got.Len(), l.book.Len())
	}
}

// The configuration has other names than the book.
func TestNamesThatTheConfigurationLacks(t *testing.T) {
	l := newLostStation(t)
	config := benchtest.Edited(t, `name = "egg room"`, `name = "egg room"`+"\ndata = "+`"`+t.TempDir()+`"`)
	text, err := os.ReadFile(config)
	if err != nil {
		t.Fatal(err)
	}
	text = bytes.ReplaceAll(text, []byte(`"room"`), []byte(`"shelf"`))
	if err := os.WriteFile(config, text, 0o600); err != nil {
		t.Fatal(err)
	}
	said, err := restored(t, config, l.backup)
	if err != nil || !strings.Contains(said, `no such zone or probe: box B1 stands in zone "room"`) {
		t.Errorf("%v\n%s", err, said)
	}
}

// A station that runs keeps its files; a copy of the book can be added.
func TestSourcesBesideARunningStation(t *testing.T) {
	l := newLostStation(t)
	config, data, _ := benchtest.Room(t)
	files, err := storage.Open(t.Context(), data, storage.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer files.Close()
	if _, err := restored(t, config, l.backup); !errors.Is(err, storage.ErrBusy) || !strings.Contains(err.Error(), "systemctl stop ootherm") {
		t.Errorf("over files in use: %v", err)
	}
	other, _, _ := benchtest.Room(t)
	if _, err := restored(t, other, data); !errors.Is(err, storage.ErrBusy) || !strings.Contains(err.Error(), "stop it first") {
		t.Errorf("from files in use: %v", err)
	}
}

// A link of an old card leads to a file of this machine. A pipe would never end.
func TestOtherKindsOfFilesAreRefused(t *testing.T) {
	l := newLostStation(t)
	hash := filepath.Join(l.data, "passphrase")
	pipe := filepath.Join(t.TempDir(), "pipe")
	if err := errors.Join(os.Symlink(l.copy, hash), unix.Mkfifo(pipe, 0o600)); err != nil {
		t.Fatal(err)
	}
	config, data, _ := benchtest.Room(t)
	for source, want := range map[string]string{l.data: hash + " is not a file of the old card", pipe: "neither a file nor a folder"} {
		if _, err := restored(t, config, source); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", source, err, want)
		}
	}
	if _, err := os.Stat(data); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the data folder: %v", err)
	}
}

// Whose page is open needs a passphrase before the station starts.
func TestNextAfterARestore(t *testing.T) {
	l := newLostStation(t)
	for listen, want := range map[string]string{
		"127.0.0.1:0": "Next: ootherm run --config ", "0.0.0.0:0": "Next: ootherm passphrase --config ",
	} {
		config, _, _ := benchtest.Room(t)
		text, err := os.ReadFile(config)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(config, bytes.Replace(text, []byte("127.0.0.1:0"), []byte(listen), 1), 0o600); err != nil {
			t.Fatal(err)
		}
		said, err := restored(t, config, l.backup)
		if err != nil || !strings.Contains(said, want) {
			t.Errorf("%s: %v, want %q\n%s", listen, err, want, said)
		}
	}
}
