package history

import (
	"bufio"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"go.etcd.io/bbolt"

	"example.com/ootherm/sensor"
)

// A child process appends and flushes until it is killed. After each flush it
// prints how far it had got.

const childVariable = "OOTHERM_HISTORY_CHILD"

func killReading(boot uint32, n int) sensor.Reading {
	return reading([]string{"a", "b", "c"}[n%3], boot, time.Duration(n)*7*time.Minute, float64(n%977)/16)
}

func child() {
	fail := func(err error) {
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(3)
		}
	}
	db, err := bbolt.Open(os.Getenv(childVariable), 0o600, &bbolt.Options{Timeout: 10 * time.Second})
	fail(err)
	s, err := Open(db, Options{})
	fail(err)
	b, err := s.Begin("one", t0, 0, true)
	fail(err)
	// What was durable but not reported is given again from a little before.
	first, err := strconv.Atoi(os.Getenv(childVariable + "_FROM"))
	fail(err)
	rng := rand.New(rand.NewPCG(uint64(first), 9))
	for n := first; ; {
		for range 1 + rng.IntN(40) {
			fail(s.Append([]sensor.Reading{killReading(b.Number, n)}))
			n++
		}
		fail(s.Flush())
		fmt.Println(n)
	}
}

func TestKilledAtRandomLosesNothingFlushed(t *testing.T) {
	rounds := 20
	if os.Getenv("OOTHERM_FULL") != "" {
		rounds = 1000
	}
	path := filepath.Join(t.TempDir(), "readings.db")
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(6, 6))
	flushed, unreported := 0, 0
	for round := range rounds {
		cmd := exec.Command(self)
		cmd.Env = append(os.Environ(), childVariable+"="+path, childVariable+"_FROM="+strconv.Itoa(max(0, flushed-20)))
		cmd.Stderr = os.Stderr
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		lines := bufio.NewScanner(out)
		stop := 1 + rng.IntN(12)
		killed := false
		for i := 0; lines.Scan(); i++ {
			n, err := strconv.Atoi(strings.TrimSpace(lines.Text()))
			if err != nil {
				t.Fatal(err)
			}
			flushed = max(flushed, n)
			if i == stop {
				// From here the child is anywhere: in Append, in the middle of a
				// commit, between the commit and its line.
				for range rng.IntN(1_000_000) {
					_ = rng.Uint64()
				}
				if err := cmd.Process.Kill(); err != nil {
					t.Fatal(err)
				}
				killed = true
			}
		}
		if err := lines.Err(); err != nil {
			t.Fatal(err)
		}
		if err := cmd.Wait(); !killed {
			t.Fatalf("round %d: the child ended by itself: %v", round, err)
		}
		db := openFile(t, path, 0)
		s, err := Open(db, Options{})
		if err != nil {
			t.Fatalf("round %d: %v", round, err)
		}
		if l := s.Losses(); l != (Losses{}) {
			t.Fatalf("round %d: losses %+v", round, l)
		}
		total := 0
		for which, probe := range []string{"a", "b", "c"} {
			for i, p := range all(t, s, probe) {
				if want := killReading(1, 3*i+which); !same(p.Reading, want) {
					t.Fatalf("round %d: probe %s has %+v at place %d, want %+v", round, probe, p.Reading, i, want)
				}
				total++
			}
		}
		if total < flushed {
			t.Fatalf("round %d: %d readings flushed, %d there", round, flushed, total)
		}
		if total > flushed {
			unreported++
		}
		if err := db.Close(); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("killed %d times: %d readings flushed, 0 lost, 0 twice; %d commits were durable and not yet reported", rounds, flushed, unreported)
}
