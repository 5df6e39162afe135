package storage

import (
	"bytes"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"go.etcd.io/bbolt"
)

// state is a file after one commit: its bytes and its content.
type state struct {
	bytes   []byte
	content map[string]string
}

// contentOf returns all keys and values of a file.
func contentOf(t testing.TB, db *bbolt.DB) map[string]string {
	t.Helper()
	all := map[string]string{}
	err := db.View(func(tx *bbolt.Tx) error {
		return tx.ForEach(func(name []byte, b *bbolt.Bucket) error {
			return b.ForEach(func(k, v []byte) error {
				all[string(name)+"\x00"+string(k)] = string(v)
				return nil
			})
		})
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// record makes commits and returns the file's state before each.
func record(t testing.TB, commits int) []state {
	t.Helper()
	path := filepath.Join(t.TempDir(), "recorded")
	db, err := bbolt.Open(path, 0o600, &bbolt.Options{Timeout: time.Second})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	var all []state
	for n := range uint64(commits) {
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, state{b, contentOf(t, db)})
		if err := db.Update(func(tx *bbolt.Tx) error { return commit(tx, n) }); err != nil {
			t.Fatal(err)
		}
	}
	return all
}

const (
	sector = 512
	page   = 4096
)

// changed returns the offsets of the sectors in which two files differ.
func changed(a, b []byte) (at []int) {
	for i := 0; i < len(b); i += sector {
		if i+sector > len(a) || !bytes.Equal(a[i:i+sector], b[i:i+sector]) {
			at = append(at, i)
		}
	}
	return at
}

// damages lists the ways in which a card can damage the file of a commit.
var damages = []struct {
	name string
	do   func(rng *rand.Rand, before, after []byte) []byte
}{
	{"data sectors of the last commit lost", func(rng *rand.Rand, before, after []byte) []byte {
		return lose(rng, before, after, func(at int) bool { return at >= 2*page })
	}},
	{"any sectors of the last commit lost", func(rng *rand.Rand, before, after []byte) []byte {
		return lose(rng, before, after, func(int) bool { return true })
	}},
	{"sectors of the last commit came out as zeros", func(rng *rand.Rand, before, after []byte) []byte {
		out := bytes.Clone(after)
		for _, at := range changed(before, after) {
			if at >= 2*page && rng.IntN(3) == 0 {
				clear(out[at : at+sector])
			}
		}
		return out
	}},
	{"a torn meta page", func(rng *rand.Rand, before, after []byte) []byte {
		out := bytes.Clone(after)
		for _, at := range changed(before[:2*page], after[:2*page]) {
			cut := at + rng.IntN(96)
			copy(out[cut:at+sector], before[cut:at+sector])
		}
		return out
	}},
	{"garbage in a meta page", func(rng *rand.Rand, _, after []byte) []byte {
		out := bytes.Clone(after)
		noise(rng, out, rng.IntN(2)*page, 1+rng.IntN(96))
		return out
	}},
	{"garbage anywhere", func(rng *rand.Rand, _, after []byte) []byte {
		out := bytes.Clone(after)
		for range 1 + rng.IntN(3) {
			noise(rng, out, rng.IntN(len(out)), 1+rng.IntN(2*sector))
		}
		return out
	}},
	{"a sector at rest gone", func(rng *rand.Rand, _, after []byte) []byte {
		out := bytes.Clone(after)
		at := rng.IntN(len(out)/sector) * sector
		clear(out[at : at+sector])
		return out
	}},
	{"cut short", func(rng *rand.Rand, _, after []byte) []byte { return after[:rng.IntN(len(after))] }},
	{"a first creation torn", func(rng *rand.Rand, _, after []byte) []byte {
		out := bytes.Clone(after[:4*page])
		clear(out[rng.IntN(len(out)/sector)*sector:])
		return out
	}},
}

// lose restores a random share of the changed sectors to their earlier content.
func lose(rng *rand.Rand, before, after []byte, which func(int) bool) []byte {
	out := bytes.Clone(after)
	share := rng.Float64()
	for _, at := range changed(before, after) {
		if which(at) && rng.Float64() < share {
			if at+sector <= len(before) {
				copy(out[at:at+sector], before[at:])
			} else {
				clear(out[at : at+sector])
			}
		}
	}
	return out
}

// noise overwrites n bytes with random ones.
func noise(rng *rand.Rand, b []byte, at, n int) {
	for i := at; i < min(at+n, len(b)); i++ {
		b[i] = byte(rng.Uint32())
	}
}

// imageCount returns the number of damaged images that a test tries: many if OOTHERM_FULL
// is set.
func imageCount(few, many int) int {
	if os.Getenv("OOTHERM_FULL") != "" {
		return many
	}
	return few
}

// outcomeCounts counts the outcomes of images.
type outcomeCounts map[string]int

func (c outcomeCounts) report(t *testing.T) {
	t.Helper()
	for _, k := range slices.Sorted(maps.Keys(c)) {
		t.Logf("%6d %s", c[k], k)
	}
	for _, what := range []string{"opened", "repaired", "set aside"} {
		if c[what] == 0 {
			t.Errorf("no image was %s: the damage is not what it claims", what)
		}
	}
}

// checkLimit is the longest check of an image on a machine that does much else.
const checkLimit = 20 * time.Second

// withImage opens a directory in which one file is a damaged image, and checks a file no
// longer than a limit. It returns whether the file was opened, repaired or set aside.
func withImage(t *testing.T, name string, image []byte, limit time.Duration, check func(*Files, string)) (what string) {
	t.Helper()
	dir, err := os.MkdirTemp(t.TempDir(), "image")
	if err != nil {
		t.Fatal(err)
	}
	defer os.RemoveAll(dir)
	if err := os.WriteFile(filepath.Join(dir, name), image, 0o600); err != nil {
		t.Fatal(err)
	}
	f := mustOpen(t, dir, Options{CheckLimit: limit})
	defer mustClose(t, f)
	readings(t, f)
	what = "opened"
	switch d := f.Damages(); {
	case len(d) > 1 || len(d) == 1 && d[0].File != name:
		t.Errorf("damages %v", d)
	case len(d) == 1 && d[0].Repaired:
		what = "repaired"
	case len(d) == 1:
		what = "set aside"
		if kept, err := os.ReadFile(d[0].Aside); err != nil || !bytes.Equal(kept, image) {
			t.Errorf("what was set aside is not the damaged file, %v", err)
		}
	}
	check(f, what)
	return what
}

func TestDamagedRecords(t *testing.T) {
	n := imageCount(63, 10_000)
	recorded := record(t, 120)
	rng := rand.New(rand.NewPCG(11, 11))
	outcomes := outcomeCounts{}
	for i := range n {
		at := 2 + rng.IntN(len(recorded)-2)
		kind := damages[i%len(damages)]
		image := kind.do(rng, recorded[at-1].bytes, recorded[at].bytes)
		what := withImage(t, RecordsName, image, checkLimit, func(f *Files, what string) {
			got := contentOf(t, f.Records())
			fine := maps.Equal(got, recorded[at].content) || maps.Equal(got, recorded[at-1].content)
			if what == "set aside" {
				fine = len(got) == 0
			}
			if !fine {
				t.Errorf("image %d, %s, after commit %d: %s, and its content is of neither the last commit nor the one before", i, kind.name, at, what)
			}
			// The file still takes commits.
			if err := f.Records().Update(func(tx *bbolt.Tx) error { return commit(tx, 1000) }); err != nil {
				t.Errorf("image %d, %s: %v", i, kind.name, err)
			}
		})
		outcomes[what]++
		outcomes[kind.name+": "+what]++
	}
	outcomes.report(t)
	t.Logf("%d damaged images of the records: all opened, were repaired losing at most one commit, or were set aside", n)
}
