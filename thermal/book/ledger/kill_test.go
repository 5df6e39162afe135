package ledger_test

import (
	"bufio"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/ledger"
	bolt "go.etcd.io/bbolt"
)

// In a child of the kill test this names the file to append to.
const childFile, childFrom = "OOTHERM_LEDGER_FILE", "OOTHERM_LEDGER_FROM"

func TestMain(m *testing.M) {
	if path := os.Getenv(childFile); path != "" {
		fmt.Fprintln(os.Stderr, appendForEver(path, os.Getenv(childFrom)))
		os.Exit(1)
	}
	os.Exit(m.Run())
}

// appendForEver appends entries k0, k1 ... in batches of one to three, and
// prints each key once it is acknowledged. It ends only with an error.
func appendForEver(path, from string) error {
	i, err := strconv.Atoi(from)
	if err != nil {
		return err
	}
	db, err := bolt.Open(path, 0o600, &bolt.Options{Timeout: 10 * time.Second})
	if err != nil {
		return err
	}
	l, err := ledger.Open(db)
	if err != nil {
		return err
	}
	for {
		var batch []book.Entry
		for range 1 + i%3 {
			batch = append(batch, note(fmt.Sprintf("k%d", i), strings.Repeat("text ", i%50)+"."))
			i++
		}
		stored, err := l.Append(batch, recorded)
		if err != nil {
			return err
		}
		for _, e := range stored {
			fmt.Println(e.Key)
		}
	}
}

// A process killed at any point loses nothing it acknowledged; what it had not
// yet acknowledged, sent again, is stored once.
func TestKilled(t *testing.T) {
	rounds := 20
	if os.Getenv("OOTHERM_FULL") != "" {
		rounds = 1000
	}
	path := filepath.Join(t.TempDir(), "records.db")
	acknowledged, unacknowledged := 0, 0
	for round := range rounds {
		acknowledged = killOnce(t, path, acknowledged)
		db, err := bolt.Open(path, 0o600, &bolt.Options{Timeout: 10 * time.Second})
		if err != nil {
			t.Fatalf("round %d: %v", round, err)
		}
		l, err := ledger.Open(db)
		if err != nil {
			t.Fatalf("round %d: %v", round, err)
		}
		es, err := l.Load()
		if err != nil {
			t.Fatalf("round %d: %v", round, err)
		}
		if len(es) < acknowledged {
			t.Fatalf("round %d: %d entries stored, %d acknowledged", round, len(es), acknowledged)
		}
		if len(es) > acknowledged {
			unacknowledged++
		}
		if len(es)%3 == 2 { // batches end at 1, 3, 4, 6 ...
			t.Fatalf("round %d: half a batch is stored, %d entries in all", round, len(es))
		}
		for i, e := range es { // k0, k1 ..., each once: none lost, none twice
			if e.Key != fmt.Sprintf("k%d", i) || e.Seq != uint64(i+1) {
				t.Fatalf("round %d: entry %d is %s with seq %d", round, i, e.Key, e.Seq)
			}
		}
		if err := db.Close(); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("%d rounds, %d entries acknowledged, %d kills between commit and acknowledgement", rounds, acknowledged, unacknowledged)
	if acknowledged < rounds {
		t.Errorf("only %d entries were acknowledged in %d rounds; the test has seen too little", acknowledged, rounds)
	}
}

// killOnce starts a child that sends from the first entry not acknowledged, or
// from a batch before it, kills it after some acknowledgements and gives how
// many entries are acknowledged now.
func killOnce(t *testing.T, path string, acknowledged int) int {
	t.Helper()
	from := acknowledged - acknowledged%6 // where a batch begins: one, two and three
	child := exec.Command(os.Args[0])
	child.Env = append(os.Environ(), childFile+"="+path, childFrom+"="+strconv.Itoa(from))
	var words strings.Builder
	child.Stderr = &words
	out, err := child.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := child.Start(); err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewReader(out)
	seen := func() bool {
		line, err := lines.ReadString('\n')
		if err != nil { // a key cut short is not acknowledged
			return false
		}
		n, err := strconv.Atoi(strings.TrimSuffix(strings.TrimPrefix(line, "k"), "\n"))
		if err != nil {
			t.Fatalf("the child printed %q", line)
		}
		acknowledged = max(acknowledged, n+1)
		return true
	}
	for range rand.N(20) {
		if !seen() {
			break
		}
	}
	spin := 0
	for range rand.N(2_000_000) { // so that the kill falls anywhere in a commit
		spin++
	}
	if err := child.Process.Kill(); err != nil {
		t.Fatalf("after %d turns: %v: %s", spin, err, words.String())
	}
	for seen() {
	}
	if _, err := io.Copy(io.Discard, lines); err != nil {
		t.Fatal(err)
	}
	if err := child.Wait(); err == nil || words.Len() > 0 {
		t.Fatalf("the child ended by itself: %v: %s", err, words.String())
	}
	return acknowledged
}
