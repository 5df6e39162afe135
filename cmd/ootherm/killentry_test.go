package main

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"net/http"
	"os"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
)

// A whole station killed while entries come in through the page has every one it
// acknowledged when it starts again, once; those whose answer never came may be
// there or not, and are stored once when they are sent again.
func TestKilledWhileNoting(t *testing.T) {
	rounds := 3
	if os.Getenv("OOTHERM_FULL") != "" {
		rounds = 100
	}
	config, data, listen := small(t)
	r := &eggRoom{t: t, config: config, data: data, listen: listen}
	r.start()
	next, unanswered := 0, 0 // next is the first key not acknowledged
	post := func(n int) bool {
		line := fmt.Sprintf(`{"key":"k%d","at":"2026-04-02T19:00:00Z","entry":"note","text":"note %[1]d"}`, n)
		resp, err := http.Post("http://"+listen+"/api/v1/book", "application/x-ndjson", strings.NewReader(line))
		if err != nil {
			return false
		}
		defer resp.Body.Close()
		return resp.StatusCode/100 == 2
	}
	for round := range rounds {
		var sent atomic.Int64
		done := make(chan int)
		go func() {
			n := next
			for post(n) { // one whose answer did not come is sent again in the next round
				n++
				sent.Add(1)
			}
			done <- n
		}()
		after := int64(1 + rand.N(40))
		eventually(t, "entries are taken", func() bool { return sent.Load() >= after })
		r.end(syscall.SIGKILL)
		next = <-done
		r.start()
		seen := map[string]int{}
		for line := range strings.Lines(string(r.get("/api/v1/book"))) {
			var e struct{ Key string }
			if err := json.Unmarshal([]byte(line), &e); err != nil {
				t.Fatalf("round %d: %v: %s", round, err, line)
			}
			seen[e.Key]++
		}
		for n := range next {
			if seen[fmt.Sprintf("k%d", n)] != 1 {
				t.Fatalf("round %d: entry k%d, of %d acknowledged, is there %d times", round, n, next, seen[fmt.Sprintf("k%d", n)])
			}
		}
		if len(seen) > next+1 {
			t.Fatalf("round %d: %d entries are there, %d were acknowledged and one was on its way", round, len(seen), next)
		}
		unanswered += len(seen) - next
	}
	t.Logf("%d rounds, %d entries acknowledged, %d stored without an answer", rounds, next, unanswered)
}
