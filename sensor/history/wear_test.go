package history

import (
	"bufio"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// written is what this process had the kernel write to block devices, bytes.
func written(t *testing.T) int64 {
	t.Helper()
	f, err := os.Open("/proc/self/io")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for lines := bufio.NewScanner(f); lines.Scan(); {
		if n, ok := strings.CutPrefix(lines.Text(), "write_bytes: "); ok {
			v, err := strconv.ParseInt(n, 10, 64)
			if err != nil {
				t.Fatal(err)
			}
			return v
		}
	}
	t.Fatal("/proc/self/io does not say write_bytes")
	return 0
}

// onDisk is a directory that is not in memory.
func onDisk(t *testing.T) string {
	t.Helper()
	for _, base := range []string{os.TempDir(), "."} {
		var s unix.Statfs_t
		if err := unix.Statfs(base, &s); err != nil {
			t.Fatal(err)
		}
		if kind := uint32(s.Type); kind == unix.TMPFS_MAGIC || kind == unix.RAMFS_MAGIC {
			continue
		}
		dir, err := os.MkdirTemp(base, "_wear")
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { os.RemoveAll(dir) })
		return dir
	}
	t.Fatal("there is no block file system to measure on: point TMPDIR at one")
	return ""
}

// afresh leaves an empty file as a machine that was started again finds it, not in
// memory. Pages written at once stay together there, and a kernel may count all
// of them whenever one is written.
func afresh(t *testing.T, path string) {
	t.Helper()
	if err := openFile(t, path, 0).Close(); err != nil {
		t.Fatal(err)
	}
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := errors.Join(f.Sync(), unix.Fadvise(int(f.Fd()), 0, 0, unix.FADV_DONTNEED)); err != nil {
		t.Fatal(err)
	}
}

// An SD card wears by what is written to it. Twelve probes every 10 s, flushed
// every 5 min, in the middle of a season.
func TestADayWritesLittle(t *testing.T) {
	const probes, most = 12, 16_000_000
	measured := 12 * time.Hour // two full blocks
	if os.Getenv("OOTHERM_FULL") != "" {
		measured = 24 * time.Hour
	}
	path := filepath.Join(onDisk(t), "readings.db")
	afresh(t, path)
	s, err := Open(openFile(t, path, 256<<20), Options{})
	if err != nil {
		t.Fatal(err)
	}
	b := begin(t, s, "a", t0)
	rng := rand.New(rand.NewPCG(31, 31))
	const before = 10 * 24 * time.Hour
	for p := range probes {
		put(t, s, room(rng, fmt.Sprint("probe-", p), b.Number, 0, before, 10*time.Second)...)
	}
	flush(t, s)
	start := written(t)
	n := 0
	for at := before; at < before+measured; at += 5 * time.Minute {
		for p := range probes {
			r := room(rng, fmt.Sprint("probe-", p), b.Number, at, at+5*time.Minute, 10*time.Second)
			put(t, s, r...)
			n += len(r)
		}
		flush(t, s)
	}
	got := written(t) - start
	if got == 0 {
		t.Fatal("nothing was written: this is no block file system")
	}
	day := float64(got) * (24 * time.Hour).Seconds() / measured.Seconds()
	t.Logf("%d readings in %s wrote %.2f MB: %.1f MB a day", n, measured, float64(got)/1e6, day/1e6)
	if day > most {
		t.Errorf("%.1f MB a day, at most %.1f", day/1e6, most/1e6)
	}
}
