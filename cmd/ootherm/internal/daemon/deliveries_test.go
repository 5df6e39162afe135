package daemon

import (
	"errors"
	"testing"
	"time"
)

// The heartbeat's trouble lasts from its first failure in a row, with the last error; a beat
// that got out ends it.
func TestHeartbeatsAreRecorded(t *testing.T) {
	var d deliveries
	if last, tried := d.lastHeartbeat(); tried || last.Err != "" {
		t.Fatalf("before the first: %+v, %v", last, tried)
	}
	at := time.Date(2026, 4, 2, 19, 0, 0, 0, time.UTC)
	for i, c := range []struct {
		err   error
		since int // minute
		want  string
	}{{nil, -1, ""}, {errors.New("no route"), 1, "no route"}, {errors.New("404"), 1, "404"}, {nil, -1, ""}, {errors.New("404"), 4, "404"}} {
		d.recordHeartbeat(c.err, at.Add(time.Duration(i)*time.Minute))
		last, tried := d.lastHeartbeat()
		since := time.Time{}
		if c.since >= 0 {
			since = at.Add(time.Duration(c.since) * time.Minute)
		}
		if !tried || last.Err != c.want || !last.Since.Equal(since) {
			t.Errorf("beat %d: %+v, %v", i, last, tried)
		}
	}
}
