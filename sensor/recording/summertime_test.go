package recording

import (
	"errors"
	"io"
	"strings"
	"testing"
	"time"
)

// A clock without a zone shows one hour twice in autumn and leaves one out in
// spring.
func TestSummerTimeEndsAndBegins(t *testing.T) {
	place, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	read := func(lines string) (times []time.Time, bad error) {
		t.Helper()
		r, err := Open(strings.NewReader("time,probe,temperature_c\n"+lines), "x.csv", Options{Location: place})
		if err != nil {
			t.Fatal(err)
		}
		for {
			row, err := r.Next()
			if errors.Is(err, io.EOF) {
				return times, bad
			}
			if err != nil {
				bad = err
				continue
			}
			times = append(times, row.At.UTC())
		}
	}
	autumn := ""
	for _, clock := range []string{"00:30", "01:00", "01:30", "01:00", "01:30", "02:00"} {
		autumn += "2026-11-01 " + clock + ":00,a,23\n2026-11-01 " + clock + ":00,b,23\n"
	}
	times, bad := read(autumn)
	if bad != nil || len(times) != 12 {
		t.Fatalf("%d readings of 12 in autumn: %v", len(times), bad)
	}
	for i := 2; i < len(times); i++ {
		if d := times[i].Sub(times[i-2]); d != 30*time.Minute {
			t.Errorf("reading %d is %v after the one before, want 30 min", i, d)
		}
	}
	times, bad = read("2026-03-08 01:30:00,a,23\n2026-03-08 02:30:00,a,23\n2026-03-08 03:00:00,a,23\n")
	var row *RowError
	if !errors.As(bad, &row) || row.Line != 3 || !strings.Contains(row.Why, "summer time") || len(times) != 2 {
		t.Errorf("the hour left out in spring: %v, %d readings", bad, len(times))
	}
	if _, bad = read("2026-06-01 02:00:00,a,23\n2026-06-01 01:00:00,a,23\n"); bad == nil {
		t.Error("a file that runs backwards in summer is taken")
	}
}

// Percent where a ratio is meant is told, not dropped.
func TestPercentThatIsNotSaid(t *testing.T) {
	r, err := Open(strings.NewReader("time,probe,temperature_c,relative_humidity\n2026-06-01T00:00:00Z,a,23,55\n"), "x.csv", Options{})
	if err != nil {
		t.Fatal(err)
	}
	_, err = r.Next()
	var row *RowError
	if !errors.As(err, &row) || row.Cause() != BadNumber || !strings.Contains(row.Why, "--percent") {
		t.Errorf("a humidity of 55: %v", err)
	}
}
