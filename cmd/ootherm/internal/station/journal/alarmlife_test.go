package journal_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/synctest"

	"example.com/ootherm/alert/outbox"
	"go.etcd.io/bbolt"
)

// turn is one thing that happens to a station. What the number means is said with its kind.
type turn struct {
	kind string
	n    int
}

func (t turn) String() string { return fmt.Sprintf("%s %d", t.kind, t.n) }

// turnKinds are what can happen, with a weight and the largest number.
var turnKinds = []struct {
	kind         string
	weight, most int
}{
	{"cold", 6, 40}, {"cool", 4, 40}, {"fine", 8, 40}, {"missing", 2, 30}, // for so many minutes
	{"kill", 2, 0}, {"kill at call", 4, 12}, // of the card or of a sender, from now on
	{"restart", 2, 0}, {"restart with an old clock", 1, 30}, // hours
	{"clock forward", 1, 240}, {"clock back", 1, 240}, // minutes
	{"card full", 2, 0}, {"card has room", 3, 0},
	{"mail down", 2, 0}, {"mail loses answers", 1, 0}, {"mail refuses", 1, 0}, {"mail up", 3, 0},
	{"acknowledge", 2, 1}, {"shelve", 1, 1}, {"unshelve", 1, 1}, {"take out", 1, 1}, {"put back", 1, 1}, // which alarm
	{"limits gone", 1, 0}, {"limits back", 1, 0},
}

// madeTurns are the turns of a seed.
func madeTurns(seed uint64, n int) (turns []turn) {
	rng, sum := rand.New(rand.NewPCG(seed, 23)), 0
	for _, k := range turnKinds {
		sum += k.weight
	}
	for range n {
		at := rng.IntN(sum)
		for _, k := range turnKinds {
			if at -= k.weight; at < 0 {
				turns = append(turns, turn{k.kind, rng.IntN(k.most + 1)})
				break
			}
		}
	}
	return turns
}

// lifeOf runs turns through a station in simulated time and gives what was wrong; empty: nothing.
func lifeOf(t *testing.T, dir string, seed uint64, turns []turn) (wrong string, met counts) {
	synctest.Test(t, func(t *testing.T) {
		var disk keeper = outbox.NewMemory()
		if seed%8 == 0 { // the real store, which is slower
			path := filepath.Join(dir, "records.db")
			_ = os.Remove(path) // of the seed before
			db, err := bbolt.Open(path, 0o600, &bbolt.Options{NoSync: true, NoFreelistSync: true})
			if err != nil {
				t.Fatal(err)
			}
			defer db.Close()
			if disk, err = outbox.New(db); err != nil {
				t.Fatal(err)
			}
		}
		h := newLife(t, disk, seed%2 == 1)
		for _, x := range turns {
			if h.turn(x); h.wrong != "" {
				break
			}
		}
		if h.wrong == "" {
			h.mend()
			h.end(seed%4 < 2)
		}
		wrong, met = h.wrong, h.counts
	})
	return wrong, met
}

// shrunk leaves turns away for as long as something stays wrong.
func shrunk(turns []turn, fails func([]turn) bool) []turn {
	for size := len(turns) / 2; size > 0; {
		removed := false
		for at := 0; at+size <= len(turns); {
			if fewer := slices.Concat(turns[:at], turns[at+size:]); fails(fewer) {
				turns, removed = fewer, true
			} else {
				at += size
			}
		}
		if !removed || size > len(turns) {
			size /= 2
		}
	}
	return turns
}

// Whatever happens in whatever order, no message that the card took is lost, a person believes
// what is so, and what a person asked stays. A small reference beside the station says what that
// is. What fails is shrunk to the turns that it takes. OOTHERM_FULL tries many orders.
func TestAlarmLife(t *testing.T) {
	seeds := uint64(150)
	if os.Getenv("OOTHERM_FULL") != "" {
		seeds = 10_000
	}
	dir := t.TempDir()
	var sum counts
	failed := 0
	for seed := uint64(0); seed < seeds && failed < 6; seed++ {
		turns := madeTurns(seed, 8+int(seed%50))
		wrong, met := lifeOf(t, dir, seed, turns)
		sum.add(met)
		if wrong == "" {
			continue
		}
		least := shrunk(turns, func(fewer []turn) bool { wrong, _ := lifeOf(t, dir, seed, fewer); return wrong != "" })
		wrong, _ = lifeOf(t, dir, seed, least)
		var lines strings.Builder
		for _, x := range least {
			fmt.Fprintf(&lines, "\n  %v", x)
		}
		failed++
		t.Errorf("seed %d: %s; after%s", seed, wrong, lines.String())
	}
	t.Logf("%d orders: %d messages stored, %d delivered, %d of them again; %d kills, %d restarts, %d commits on a full card: none lost",
		seeds, sum.stored, sum.delivered, sum.again, sum.kills, sum.restarts, sum.full)
	if failed == 0 && (sum.stored < int(seeds) || sum.kills == 0 || sum.full == 0 || sum.again == 0) {
		t.Errorf("%+v: too little happened", sum)
	}
}
