package alert

import (
	"testing"
	"time"
)

// What is forgotten: a fall past the limit of more than an hour, a jump of more than three, a
// rise of more than 1.5 K to the other side; and what lasts four days is no failure.
func TestWhatIsForgotten(t *testing.T) {
	for _, c := range []struct {
		name  string
		lasts time.Duration
		step  bool
		depth float64 // K, towards the limit, which is 1.5 K away
		want  bool
	}{
		{"a fall of half an hour", 30 * time.Minute, false, 2, false},
		{"a fall of an hour and a half", 90 * time.Minute, false, 2, true},
		{"a jump of an hour and a half", 90 * time.Minute, true, 2, false},
		{"a jump of two hours and a half", 150 * time.Minute, true, 2, false},
		{"a jump of four hours", 4 * time.Hour, true, 2, true},
		{"a fall inside the limit", 4 * time.Hour, false, 1.3, false},
		{"a small rise to the other side", 4 * time.Hour, false, -1.3, false},
		{"a rise to the other side", 4 * time.Hour, false, -1.9, true},
		{"two days and a half", 60 * time.Hour, false, 2, true},
		{"three days and a half", 84 * time.Hour, false, 2, false},
	} {
		d := NewDrift(time.UTC, Limit{At: 22.5})
		zero, begins := time.Unix(0, 0).Add(20000*24*time.Hour), 8*24*time.Hour
		slope := 30 * time.Minute
		if c.step {
			slope = 5 * time.Minute
		}
		ends, was := begins+slope+c.lasts, false
		for at := time.Duration(0); at < ends+2*time.Hour; at += 5 * time.Minute {
			v := 24.0
			if at > begins {
				v -= c.depth * max(0, min(1, float64(at-begins)/float64(slope), float64(ends-at)/float64(slope)))
			}
			before := d.failure.side
			d.Observe(zero.Add(at), v, true)
			was = was || before != 0 && d.failure.side == 0 && d.course[1] == d.failure.before.course[1]
		}
		if was != c.want {
			t.Errorf("%s: forgotten %t, want %t", c.name, was, c.want)
		}
	}
}
