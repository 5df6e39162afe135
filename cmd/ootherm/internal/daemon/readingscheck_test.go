package daemon

import (
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

// A start that lasts is extended before the service manager ends it: at first by the unit's
// limit, then by what was asked for last. It is not extended after its end, nor for ever.
func TestStartIsExtendedWhileItLasts(t *testing.T) {
	unit, err := os.ReadFile(filepath.Join("..", "..", "..", "..", "deploy", "ootherm.service"))
	if err != nil {
		t.Fatal(err)
	}
	found := regexp.MustCompile(`(?m)^TimeoutStartSec=(\S+)$`).FindSubmatch(unit)
	if found == nil {
		t.Fatal("the unit has no limit of the start")
	}
	first, err := time.ParseDuration(string(found[1]))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name    string
		lasts   time.Duration
		allowed bool
	}{{"short", 19 * time.Second, true}, {"minutes", 7 * time.Minute, true}, {"hangs", 2 * time.Hour, false}} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				began := time.Now()
				deadline := began.Add(first)
				asked := 0
				var last time.Time
				ended, returned := make(chan struct{}), make(chan struct{})
				go func() {
					defer close(returned)
					extendStart(ended, func(state string) {
						asked++
						last = time.Now()
						if last.After(deadline) {
							return // the service manager has ended the start
						}
						micros, err := strconv.ParseInt(strings.TrimPrefix(state, "EXTEND_TIMEOUT_USEC="), 10, 64)
						if err != nil {
							t.Error(err)
						}
						deadline = last.Add(time.Duration(micros) * time.Microsecond)
					})
				}()
				<-time.After(c.lasts)
				synctest.Wait()
				if got := !deadline.Before(began.Add(c.lasts)); got != c.allowed {
					t.Errorf("a start of %s is allowed: %t, want %t; asked %d times, the last after %s", c.lasts, got, c.allowed, asked, last.Sub(began))
				}
				if last.Sub(began) > maxStart {
					t.Errorf("it is still extended after %s", last.Sub(began))
				}
				close(ended)
				<-returned
			})
		})
	}
}
