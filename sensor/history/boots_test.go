package history

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"example.com/ootherm/sensor"
)

func TestBootsAreDatedApart(t *testing.T) {
	contract(t, Options{}, func(t *testing.T, s store) {
		a, err := s.Begin("a", t0, time.Hour, false)
		if err != nil {
			t.Fatal(err)
		}
		put(t, s.Store, reading("p", a.Number, time.Minute, 20))
		flush(t, s.Store)
		if again, err := s.Begin("a", t0.Add(time.Hour), 0, true); err != nil || again != a {
			t.Errorf("the same boot came back as %+v, %v", again, err)
		}
		if err := s.Date(a.Number, t0.Add(48*time.Hour), time.Second, true); err != nil {
			t.Fatal(err)
		}
		check := func(s *Store) {
			t.Helper()
			if got := all(t, s, "p"); len(got) != 1 || !got[0].At.Equal(t0.Add(48*time.Hour+time.Minute)) {
				t.Errorf("after dating: %+v", got)
			}
			want := []Boot{{a.Number, "a", t0.Add(48 * time.Hour), time.Second, true}}
			if got := s.Boots(); !slices.Equal(got, want) {
				t.Errorf("boots are %+v", got)
			}
			if at, err := s.Time(sensor.Stamp{Boot: a.Number, Uptime: time.Second}); err != nil || !at.Equal(t0.Add(48*time.Hour+time.Second)) {
				t.Errorf("a stamp is at %s, %v", at, err)
			}
		}
		check(s.Store)
		flush(t, s.Store)
		check(s.again(t))
	})
}

func TestBootsThatMakeNoSense(t *testing.T) {
	s := Memory(Options{})
	if _, err := s.Begin("", t0, 0, true); err == nil {
		t.Error("a boot without id began")
	}
	if _, err := s.Begin("a", time.Time{}, 0, true); err == nil {
		t.Error("a boot began in the year 1")
	}
	if _, err := s.Begin("a", t0, -1, true); err == nil {
		t.Error("a boot has a negative bound")
	}
	if err := s.Date(3, t0, 0, true); err == nil {
		t.Error("an unknown boot was dated")
	}
	if _, err := s.Time(sensor.Stamp{Boot: 3}); err == nil {
		t.Error("a stamp of an unknown boot has a time")
	}
}

func TestNoBootBeginsBeforeTheLastEnded(t *testing.T) {
	const h = time.Hour
	type one struct {
		start  time.Duration
		length time.Duration
		sync   bool
		want   time.Duration
	}
	for name, boots := range map[string][]one{
		"in order":                        {{0, h, true, 0}, {2 * h, h, true, 2 * h}},
		"the second thought it was early": {{0, 3 * h, true, 0}, {h, h, false, 3 * h}},
		"the first was a year ahead":      {{9000 * h, 3 * h, false, 2 * h}, {5 * h, h, true, 5 * h}},
		"two ahead":                       {{900 * h, 3 * h, false, 1 * h}, {9000 * h, h, false, 4 * h}, {5 * h, h, true, 5 * h}},
		"between two that know":           {{0, h, true, 0}, {70 * h, h, false, 4 * h}, {5 * h, h, true, 5 * h}},
		"both claim to know":              {{0, 4 * h, true, 0}, {h, h, true, 4 * h}},
		"none knows":                      {{8 * h, h, false, 8 * h}, {0, h, false, 9 * h}},
	} {
		t.Run(name, func(t *testing.T) {
			s := Memory(Options{})
			for i, b := range boots {
				got, err := s.Begin(fmt.Sprint(i), t0.Add(b.start), 0, b.sync)
				if err != nil {
					t.Fatal(err)
				}
				put(t, s, reading("p", got.Number, 0, 20), reading("p", got.Number, b.length, 20))
			}
			var last time.Time
			for _, p := range all(t, s, "p") {
				if p.At.Before(last) {
					t.Errorf("time went back to %s", p.At)
				}
				last = p.At
			}
			var ended time.Time
			for i, b := range s.Boots() {
				if got := b.Start.Sub(t0); got != boots[i].want {
					t.Errorf("boot %d began at %s, want %s", i, got, boots[i].want)
				}
				if got := s.EndBefore(b.Number); !got.Equal(ended) {
					t.Errorf("before boot %d it ended at %s, want %s", i, got, ended)
				}
				ended = b.Start.Add(boots[i].length)
			}
		})
	}
}
