package main

import (
	"encoding/json"
	"strings"
	"testing"
)

// Without a past a rehearsal says that there are no readings, the same while a station runs and
// while none does.
func TestRehearse(t *testing.T) {
	config, data, listen := small(t)
	still := do(t, "", "rehearse", "--config", config)
	if still.code != 0 || !strings.Contains(still.out, "room. There are no readings yet ") {
		t.Fatalf("%d: %s%s", still.code, still.out, still.errout)
	}
	r := &eggRoom{t: t, config: config, data: data, listen: listen}
	r.start()
	var x struct {
		Zones []struct {
			Zone   string
			Limits []any
		}
	}
	got := do(t, "", "rehearse", "room", "--config", config, "--json")
	if got.code != 0 || json.Unmarshal([]byte(got.out), &x) != nil || len(x.Zones) != 1 || x.Zones[0].Zone != "room" || x.Zones[0].Limits == nil {
		t.Errorf("%d: %s%s", got.code, got.out, got.errout)
	}
	if got := do(t, "", "rehearse", "attic", "--config", config); got.code != 1 || got.out != "" || !strings.Contains(got.errout, `no zone "attic"`) {
		t.Errorf("%d: %s%s", got.code, got.out, got.errout)
	}
}
