package main

import (
	"strings"
	"testing"
)

func TestBookMedium(t *testing.T) {
	if got := do(t, "", "book", "medium", "--dry", "40", "--ratio", "0.8"); got.code != 0 || got.out != "32 g of water (the same in ml)\n" {
		t.Errorf("a fresh medium: %d: %s%s", got.code, got.out, got.errout)
	}
	if got := do(t, "", "book", "medium", "--dry", "40"); got.code != 2 || !strings.Contains(got.errout, "go together") {
		t.Errorf("half of a ratio: %d: %s", got.code, got.errout)
	}
	config, _, _ := small(t)
	const entries = `{"key":"b1","at":"2026-04-02T19:00:00Z","entry":"box","box":"B1","zone":"room","dry_g":40,"water_g":40,"total_g":112}
{"key":"b2","at":"2026-04-02T19:00:00Z","entry":"box","box":"B2","zone":"room"}
{"key":"c1","at":"2026-04-02T19:00:00Z","entry":"clutch","clutch":"S1","eggs":1,"laid_after":"2026-04-01T19:00:00Z","laid_by":"2026-04-02T19:00:00Z"}
{"key":"c2","at":"2026-04-02T19:00:00Z","entry":"placed","egg":"S1-1","box":"B1","slot":"a"}
{"key":"w1","at":"2026-04-09T19:00:00Z","entry":"weighed","box":"B1","total_g":108}
`
	if got := do(t, entries, "book", "add", "--config", config); got.code != 0 {
		t.Fatalf("%d: %s", got.code, got.errout)
	}
	got := do(t, "", "book", "medium", "--config", config)
	lines := strings.Split(got.out, "\n")
	if got.code != 0 || len(lines) != 3 || !strings.HasPrefix(lines[0], "B1  weigh it, due since 16 April  add 3-5 g") || !strings.HasSuffix(lines[0], "now 0.88-0.93 : 1; loses 0.57 g a day") ||
		!strings.Contains(lines[1], "its mass in all when set up is not known") {
		t.Errorf("%d: %s%s", got.code, got.out, got.errout)
	}
	if got := do(t, "", "book", "medium", "--config", config, "--box", "B1", "--json"); got.code != 0 || !strings.Contains(got.out, `"add_low_g": 3`) || strings.Contains(got.out, "B2") {
		t.Errorf("%d: %s%s", got.code, got.out, got.errout)
	}
	if got := do(t, "", "book", "medium", "--config", config, "--box", "B9"); got.code != 1 || !strings.Contains(got.errout, `no box "B9" is in use; in use: B1, B2`) {
		t.Errorf("%d: %s", got.code, got.errout)
	}
}
