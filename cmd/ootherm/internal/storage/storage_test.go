package storage

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"go.etcd.io/bbolt"

	"example.com/ootherm/sensor/history"
)

const (
	restoreVariable = "OOTHERM_STORAGE_RESTORE" // the process kills itself at a step of a restore into this directory
	stepVariable    = "OOTHERM_STORAGE_STEP"    // the process kills itself at a step of Open in this directory
	holdVariable    = "OOTHERM_STORAGE_HOLD"    // the process opens this directory and waits
)

func TestMain(m *testing.M) {
	CheckMain(map[string][]Verify{
		RecordsName: {refuseForbidden}, ReadingsName: {history.Verify},
		"hangs": {func(*bbolt.Tx) error {
			for {
				runtime.Gosched()
			}
		}},
		"panics":   {func(*bbolt.Tx) error { panic("at this page") }},
		"crashes":  {func(*bbolt.Tx) error { go func() { panic("where nobody recovers") }(); select {} }},
		"faults":   {func(*bbolt.Tx) error { return endBy(syscall.SIGBUS) }},
		"is ended": {func(*bbolt.Tx) error { return endBy(syscall.SIGKILL) }},
	})
	if dir := os.Getenv(stepVariable); dir != "" {
		dieAtStep(dir)
	}
	if dir := os.Getenv(restoreVariable); dir != "" {
		dieInRestore(dir)
	}
	if dir := os.Getenv(holdVariable); dir != "" {
		hold(dir)
	}
	// Under the race detector each child would sleep a second before it ends, and a lack of
	// memory would not look like a crash.
	fatal(os.Setenv("GORACE", "atexit_sleep_ms=0 exitcode=2 "+os.Getenv("GORACE")))
	os.Exit(m.Run())
}

// endBy sends a signal to this process and waits for it. Any thread of the process may
// receive the signal, some time after the call.
func endBy(signal syscall.Signal) error {
	if err := syscall.Kill(os.Getpid(), signal); err != nil {
		return err
	}
	<-time.After(time.Minute)
	return fmt.Errorf("signal %s did not arrive", signal)
}

// fatal ends a child process on an error.
func fatal(err error) {
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(3)
	}
}

// dieInRestore restores a backup in both files of a directory, and kills the process at the
// step that the first argument numbers. The second argument is the backup.
func dieInRestore(dir string) {
	left, err := strconv.Atoi(os.Args[1])
	fatal(err)
	backup, err := os.ReadFile(os.Args[2])
	fatal(err)
	_, err = Restore(context.Background(), dir, []Replacement{{RecordsName, bytes.NewReader(backup)}, {ReadingsName, bytes.NewReader(backup)}}, Options{step: func(string) {
		if left--; left < 0 {
			_ = syscall.Kill(os.Getpid(), syscall.SIGKILL)
			select {}
		}
	}})
	fatal(err)
	os.Exit(0)
}

// dieAtStep opens a directory and kills the process at the step that the first argument
// numbers.
func dieAtStep(dir string) {
	left, err := strconv.Atoi(os.Args[1])
	fatal(err)
	f, err := Open(context.Background(), dir, Options{step: func(string) {
		if left--; left < 0 {
			_ = syscall.Kill(os.Getpid(), syscall.SIGKILL)
			select {}
		}
	}})
	fatal(err)
	_, err = f.Readings(context.Background())
	fatal(err)
	fatal(f.Close())
	os.Exit(0)
}

// hold opens a directory and keeps it open until its input ends.
func hold(dir string) {
	f, err := Open(context.Background(), dir, Options{})
	fatal(err)
	_, err = f.Readings(context.Background())
	fatal(err)
	fmt.Println("held")
	var one [1]byte
	_, _ = os.Stdin.Read(one[:]) // until the parent lets go
	os.Exit(0)
}

// refuseForbidden fails for a file with a bucket named forbidden.
func refuseForbidden(tx *bbolt.Tx) error {
	if tx.Bucket([]byte("forbidden")) != nil {
		return errors.New("a forbidden bucket")
	}
	return nil
}

var bucketEntries = []byte("entries")

// commit adds one sealed entry. Every third commit removes the oldest.
func commit(tx *bbolt.Tx, n uint64) error {
	entries, err := tx.CreateBucketIfNotExists(bucketEntries)
	if err != nil {
		return err
	}
	v := bytes.Repeat([]byte{byte(n)}, int(50+n*37%900))
	if err := entries.Put(binary.BigEndian.AppendUint64(nil, n), v); err != nil {
		return err
	}
	if n%3 == 2 {
		if k, _ := entries.Cursor().First(); k != nil {
			if err := entries.Delete(k); err != nil {
				return err
			}
		}
	}
	return Seal(tx)
}

func mustOpen(t testing.TB, dir string, o Options) *Files {
	t.Helper()
	f, err := Open(t.Context(), dir, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	return f
}

func mustClose(t testing.TB, f *Files) {
	t.Helper()
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
}

func readings(t testing.TB, f *Files) *bbolt.DB {
	t.Helper()
	db, err := f.Readings(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return db
}

func TestFirstStartMakesBothFiles(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "data")
	for range 2 {
		f := mustOpen(t, dir, Options{})
		readings(t, f)
		if d := f.Damages(); len(d) != 0 {
			t.Errorf("damages %v", d)
		}
		if n, err := f.Free(); err != nil || n == 0 {
			t.Errorf("the disk takes %d more bytes, %v", n, err)
		}
		if got := f.Records().MaxSize; got != 64<<20 {
			t.Errorf("the records may grow to %d bytes", got)
		}
		if got := [2]int{f.Records().Info().PageSize, readings(t, f).Info().PageSize}; got != [2]int{4096, 4096} {
			t.Errorf("their pages have %d bytes", got)
		}
		if got := readings(t, f).MaxSize; got != 256<<20 {
			t.Errorf("the readings may grow to %d bytes", got)
		}
		mustClose(t, f)
		mustClose(t, f)
	}
	wantFiles(t, dir, lockName, cleanName, ReadingsName, RecordsName)
}

func wantFiles(t testing.TB, dir string, want ...string) {
	t.Helper()
	all, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, e := range all {
		name, _, _ := strings.Cut(e.Name(), badSuffix)
		if name != e.Name() {
			name += badSuffix
		}
		got = append(got, name)
	}
	if strings.Join(got, " ") != strings.Join(want, " ") {
		t.Errorf("the directory holds %q, want %q", got, want)
	}
}

// child returns a command that runs this test binary.
func child(t testing.TB, env string, args ...string) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(self, args...)
	cmd.Env = append(os.Environ(), env)
	cmd.Stderr = os.Stderr
	return cmd
}

func TestStartAfterKillAtEveryStep(t *testing.T) {
	for name, before := range map[string]func(testing.TB, string){
		"first start":        func(testing.TB, string) {},
		"damaged, repaired":  func(t testing.TB, dir string) { damageRecords(t, dir, newPages, true) },
		"damaged, set aside": func(t testing.TB, dir string) { damageRecords(t, dir, newPages, false) },
	} {
		t.Run(name, func(t *testing.T) {
			kills := 0
			for step := 0; ; step++ {
				dir := t.TempDir()
				before(t, dir)
				err := child(t, stepVariable+"="+dir, strconv.Itoa(step)).Run()
				f := mustOpen(t, dir, Options{})
				readings(t, f)
				if name == "damaged, repaired" {
					if got := commits(t, f.Records()); got != damagedCommits-1 {
						t.Errorf("killed at step %d: the content shows %d commits", step, got)
					}
				}
				mustClose(t, f)
				if err == nil {
					break
				}
				if exit := new(exec.ExitError); !errors.As(err, &exit) || exit.ExitCode() != -1 {
					t.Fatal(err)
				}
				kills++
			}
			if kills < 5 {
				t.Errorf("there were only %d steps to be killed at", kills)
			}
			t.Logf("killed at each of %d steps, every next start succeeded", kills)
		})
	}
}

const damagedCommits = 20

// damageRecords makes a records' file with a damaged last commit. If it is not repairable,
// the file holds nothing good. Pages are the bytes of a page.
func damageRecords(t testing.TB, dir string, pages int, repairable bool) {
	t.Helper()
	path := filepath.Join(dir, RecordsName)
	db, err := bbolt.Open(path, 0o600, &bbolt.Options{Timeout: time.Second, PageSize: pages})
	if err != nil {
		t.Fatal(err)
	}
	var before []byte
	for n := range uint64(damagedCommits) {
		if before, err = os.ReadFile(path); err != nil {
			t.Fatal(err)
		}
		if err := db.Update(func(tx *bbolt.Tx) error { return commit(tx, n) }); err != nil {
			t.Fatal(err)
		}
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if repairable {
		for i := 2 * pages; i < len(b); i++ {
			if i >= len(before) || b[i] != before[i] {
				b[i] = 0xff // every byte that the last commit changed, but not its meta page
			}
		}
	} else {
		b = b[:100]
	}
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
}

// commits returns the number of commits that the content shows.
func commits(t testing.TB, db *bbolt.DB) (n uint64) {
	t.Helper()
	err := db.View(func(tx *bbolt.Tx) error {
		if b := tx.Bucket(bucketEntries); b != nil {
			if k, _ := b.Cursor().Last(); k != nil {
				n = binary.BigEndian.Uint64(k) + 1
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// A file that another kernel's machine made may have pages of 16 kB.
func TestDamagedFileIsRepairedOrSetAside(t *testing.T) {
	now := func() time.Time { return time.Date(2026, 5, 1, 2, 3, 4, 0, time.UTC) }
	for _, c := range []struct {
		pages      int
		repairable bool
	}{{newPages, true}, {newPages, false}, {1 << 14, true}} {
		dir, repairable := t.TempDir(), c.repairable
		damageRecords(t, dir, c.pages, repairable)
		was, err := os.ReadFile(filepath.Join(dir, RecordsName))
		if err != nil {
			t.Fatal(err)
		}
		f := mustOpen(t, dir, Options{Now: now})
		readings(t, f)
		want := uint64(0)
		if repairable {
			want = damagedCommits - 1
		}
		if got := f.Records().Info().PageSize; got != c.pages {
			t.Errorf("a file with pages of %d bytes has pages of %d", c.pages, got)
		}
		if got := commits(t, f.Records()); got != want {
			t.Errorf("repairable %t: the content shows %d commits, want %d", repairable, got, want)
		}
		d := f.Damages()
		if len(d) != 1 || d[0].Repaired != repairable || d[0].File != RecordsName || d[0].Aside != filepath.Join(dir, "records.db.bad-20260501T020304Z") {
			t.Fatalf("damages %+v", d)
		}
		if kept, err := os.ReadFile(d[0].Aside); err != nil || !bytes.Equal(kept, was) {
			t.Errorf("what was set aside is not what was there, %v", err)
		}
		for _, words := range []string{RecordsName, d[0].Aside, map[bool]string{true: "at most the last thing written is lost", false: "restore a backup"}[repairable]} {
			if !strings.Contains(d[0].Error(), words) {
				t.Errorf("its error is %q, without %q", d[0], words)
			}
		}
		mustClose(t, f)
		again := mustOpen(t, dir, Options{Now: now})
		if d := again.Damages(); len(d) != 0 {
			t.Errorf("the next start reports %v", d)
		}
		mustClose(t, again)
	}
}

func TestRecordsDoNotWaitForTheReadings(t *testing.T) {
	const ofRecords = 5 // steps: the directory, create, verify, rename, sync
	steps, reached, release := 0, make(chan struct{}), make(chan struct{})
	f := mustOpen(t, t.TempDir(), Options{step: func(string) {
		if steps++; steps == ofRecords+1 {
			close(reached)
			<-release
		}
	}})
	<-reached
	if err := f.Records().Update(func(tx *bbolt.Tx) error { return commit(tx, 1) }); err != nil {
		t.Errorf("while the readings are not there: %v", err)
	}
	select {
	case <-f.ready:
		t.Error("the readings are ready too early")
	default:
	}
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	if db, err := f.Readings(gone); db != nil || !errors.Is(err, context.Canceled) {
		t.Errorf("an ended context gave %v, %v", db, err)
	}
	close(release)
	readings(t, f)
	<-f.ready
	mustClose(t, f)
}

func TestDamagedReadingsAreReplaced(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, ReadingsName), bytes.Repeat([]byte("?"), 9000), 0o600); err != nil {
		t.Fatal(err)
	}
	f := mustOpen(t, dir, Options{})
	readings(t, f)
	if d := f.Damages(); len(d) != 1 || d[0].File != ReadingsName || d[0].Repaired {
		t.Errorf("damages %v", d)
	}
	mustClose(t, f)
	wantFiles(t, dir, lockName, cleanName, ReadingsName, ReadingsName+badSuffix, RecordsName)
}
