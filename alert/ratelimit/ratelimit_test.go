package ratelimit_test

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/digest"
	"example.com/ootherm/alert/ratelimit"
)

var start = time.Date(2026, 4, 2, 19, 0, 0, 0, time.UTC)

func sec(s int) time.Time { return start.Add(time.Duration(s) * time.Second) }

func news(p alert.Priority, ids ...int) (all []alert.Message) {
	for _, n := range ids {
		all = append(all, alert.Message{ID: fmt.Sprintf("x/%d", n), At: sec(n), Priority: p,
			Subject: fmt.Sprintf("subject %d", n), Body: fmt.Sprintf("body %d\n", n)})
	}
	return all
}

func ended(all []alert.Message) []alert.Message {
	for i := range all {
		all[i].Over = true
	}
	return all
}

func ago(minutes ...int) (all []time.Time) {
	for _, m := range minutes {
		all = append(all, start.Add(-time.Duration(m)*time.Minute))
	}
	return all
}

func TestPace(t *testing.T) {
	night := ratelimit.Hours{From: 22 * time.Hour, To: 7 * time.Hour}
	for _, c := range []struct {
		name string
		pace ratelimit.Limit
		at   time.Duration // after 19:00
		due  []alert.Message
		sent []time.Time
		want string
		wait time.Duration
	}{
		{"nothing waits", ratelimit.Limit{}, 0, nil, nil, "", 0},
		{"one", ratelimit.Limit{}, 0, news(alert.Warning, 1), nil, "1", 0},
		{"two go one by one", ratelimit.Limit{}, 0, news(alert.Warning, 1, 2), nil, "1", 0},
		{"eight at once are one", ratelimit.Limit{}, 0, news(alert.Warning, 1, 2, 3, 4, 5, 6, 7, 8), nil, "1 2 3 4 5 6 7 8", 0},
		{"the fifth of an hour", ratelimit.Limit{}, 0, news(alert.Warning, 1), ago(1, 2, 3, 4), "1", 0},
		{"the sixth place is kept for what is critical", ratelimit.Limit{}, 0, news(alert.Warning, 1, 2), ago(50, 40, 3, 4, 5), "", 10 * time.Minute},
		{"and given to it", ratelimit.Limit{}, 0, news(alert.Critical, 1), ago(50, 40, 3, 4, 5), "1", 0},
		{"with all that waits", ratelimit.Limit{}, 0, append(news(alert.Warning, 1, 2), news(alert.Critical, 3)...), ago(50, 40, 3, 4, 5), "3 1 2", 0},
		{"a seventh that is critical goes ten minutes after the sixth", ratelimit.Limit{}, 0, news(alert.Critical, 1), ago(50, 40, 3, 4, 5, 6), "", 7 * time.Minute},
		{"and takes along what waits", ratelimit.Limit{}, 0, append(news(alert.Warning, 1, 2), news(alert.Critical, 3)...), ago(50, 40, 10, 11, 12, 13), "3 1 2", 0},
		{"or when the hour has a place, if that is sooner", ratelimit.Limit{}, 0, news(alert.Critical, 1), ago(58, 40, 3, 4, 5, 6), "", 2 * time.Minute},
		{"an eighth when one of them is an hour ago", ratelimit.Limit{}, 0, news(alert.Critical, 1), ago(50, 40, 2, 14, 15, 16, 17), "", 10 * time.Minute},
		{"and ten minutes after the last", ratelimit.Limit{}, 0, news(alert.Critical, 1), ago(58, 40, 2, 14, 15, 16, 17), "", 8 * time.Minute},
		{"the end of a critical one has time", ratelimit.Limit{}, 0, ended(news(alert.Critical, 1)), ago(50, 40, 13, 14, 15, 16), "", 20 * time.Minute},
		{"a warning waits for the second place", ratelimit.Limit{}, 0, news(alert.Warning, 1), ago(50, 40, 3, 4, 5, 6), "", 20 * time.Minute},
		{"an hour is over when it is over", ratelimit.Limit{}, 0, news(alert.Critical, 1), ago(60, 40, 3, 4, 5, 6), "1", 0},
		{"critical first", ratelimit.Limit{}, 0, append(news(alert.Notice, 1, 2), news(alert.Critical, 3)...), nil, "3", 0},
		{"one an hour", ratelimit.Limit{PerHour: 1}, 0, news(alert.Warning, 1, 2), nil, "1 2", 0},
		{"one an hour, and it is spent", ratelimit.Limit{PerHour: 1}, 0, news(alert.Warning, 1, 2), ago(15), "", 45 * time.Minute},
		{"one an hour, spent by a notice, and a critical one", ratelimit.Limit{PerHour: 1}, 0, news(alert.Critical, 1), ago(0), "1", 0},
		{"one an hour, and a second critical one", ratelimit.Limit{PerHour: 1}, 0, news(alert.Critical, 1), ago(20, 4), "", 40 * time.Minute},
		{"one an hour, spent by a critical one", ratelimit.Limit{PerHour: 1}, 0, news(alert.Notice, 1), ago(20), "", 40 * time.Minute},
		{"in the evening", ratelimit.Limit{Quiet: night}, 2 * time.Hour, news(alert.Warning, 1), nil, "1", 0},
		{"in the quiet hours", ratelimit.Limit{Quiet: night}, 3 * time.Hour, news(alert.Warning, 1), nil, "", 9 * time.Hour},
		{"after midnight", ratelimit.Limit{Quiet: night}, 11 * time.Hour, news(alert.Warning, 1), nil, "", time.Hour},
		{"in the morning", ratelimit.Limit{Quiet: night}, 12 * time.Hour, news(alert.Warning, 1), nil, "1", 0},
		{"critical in the quiet hours, alone", ratelimit.Limit{Quiet: night}, 4 * time.Hour, append(news(alert.Warning, 1), news(alert.Critical, 2)...), nil, "2", 0},
		{"quiet hours elsewhere", ratelimit.Limit{Quiet: night, Where: time.FixedZone("", 3*3600)}, 0, news(alert.Warning, 1), nil, "", 9 * time.Hour},
		{"quiet at noon", ratelimit.Limit{Quiet: ratelimit.Hours{From: 18 * time.Hour, To: 20 * time.Hour}}, 0, news(alert.Warning, 1), nil, "", time.Hour},
		{"a clock that was set back holds nothing up", ratelimit.Limit{}, 0, news(alert.Critical, 1), ago(-50, -40, -3, -4, -5, -6), "1", 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, wait := c.pace.Next(start.Add(c.at), c.due, c.sent)
			var ids []string
			for _, m := range got {
				ids = append(ids, strings.TrimPrefix(m.ID, "x/"))
			}
			if s := strings.Join(ids, " "); s != c.want || wait != c.wait {
				t.Errorf("sends %q, waits %v; want %q, %v", s, wait, c.want, c.wait)
			}
		})
	}
}

// The end of a critical alarm took the place that is kept for the next one to begin.
func TestTheLastPlaceIsForWhatBegins(t *testing.T) {
	over := news(alert.Critical, 1)
	over[0].Over = true
	sent := ago(50, 40, 3, 4, 5)
	if batch, _ := (ratelimit.Limit{}).Next(start, over, sent); len(batch) != 0 {
		t.Errorf("sent %v in the last place", batch)
	}
	batch, _ := ratelimit.Limit{}.Next(start, append(over, news(alert.Critical, 2)...), ago(3, 4))
	if len(batch) == 0 || batch[0].ID != "x/2" {
		t.Errorf("sent %v, want what begins before what ended", batch)
	}
}

// Quiet hours end by the clock on the wall, in the nights it is changed too.
func TestQuietHoursWhenTheClockChanges(t *testing.T) {
	where, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	p := ratelimit.Limit{Quiet: ratelimit.Hours{From: 22 * time.Hour, To: 7 * time.Hour}, Where: where}
	for _, day := range []time.Time{time.Date(2026, 3, 8, 0, 0, 0, 0, where), time.Date(2026, 11, 1, 0, 0, 0, 0, where)} {
		morning := time.Date(day.Year(), day.Month(), day.Day(), 7, 0, 0, 0, where)
		for _, at := range []time.Time{day.Add(-2 * time.Hour), day, morning.Add(-time.Second)} {
			batch, wait := p.Next(at, news(alert.Warning, 1), nil)
			if len(batch) != 0 || !at.Add(wait).Equal(morning) {
				t.Errorf("at %v: sent %d, and waits until %v", at, len(batch), at.Add(wait))
			}
		}
		if batch, _ := p.Next(morning, news(alert.Warning, 1), nil); len(batch) != 1 {
			t.Errorf("at %v it is still quiet", morning)
		}
	}
}

// Nobody gets a seventh in an hour but one digest with what is critical, never an
// eighth, and nothing is left lying; whatever a recipient's pace is.
func TestAFloodIsSixAnHour(t *testing.T) {
	for most, patience := range map[int]time.Duration{0: 20 * time.Minute, 1: time.Hour, 2: 40 * time.Minute, 6: 20 * time.Minute, 20: 10 * time.Minute} {
		r := rand.New(rand.NewPCG(4, 4))
		type delivery struct {
			at       time.Time
			critical bool
		}
		var sent []time.Time
		var all []delivery
		var waiting []alert.Message
		offered, delivered, longest := 0, 0, time.Duration(0)
		for at := start; at.Before(start.AddDate(0, 0, 7)); at = at.Add(10 * time.Second) {
			if at.Before(start.AddDate(0, 0, 6)) && r.IntN(20) == 0 {
				p := []alert.Priority{alert.Critical, alert.Warning, alert.Notice}[r.IntN(3)]
				offered++
				waiting = append(waiting, alert.Message{ID: fmt.Sprint(offered), At: at, Priority: p})
			}
			for {
				batch, _ := ratelimit.Limit{PerHour: most}.Next(at, waiting, sent)
				if len(batch) == 0 {
					break
				}
				sent = append(sent[max(0, len(sent)-64):], at)
				all = append(all, delivery{at, batch[0].Priority == alert.Critical})
				for _, m := range batch {
					delivered++
					if m.Priority == alert.Critical {
						longest = max(longest, at.Sub(m.At))
					}
					i := slices.IndexFunc(waiting, func(w alert.Message) bool { return w.ID == m.ID })
					waiting = slices.Delete(waiting, i, i+1)
				}
			}
		}
		places := max(cmp.Or(most, ratelimit.MaxMessagesPerHour), 2)
		ceiling := cmp.Or(most, ratelimit.MaxMessagesPerHour) + 1
		beyond := 0
		for i := places; i < len(all); i++ {
			if i >= ceiling && all[i].at.Sub(all[i-ceiling].at) < time.Hour {
				t.Fatalf("at most %d: %d in %v", most, ceiling+1, all[i].at.Sub(all[i-ceiling].at))
			}
			if d := all[i].at.Sub(all[i-places].at); d >= time.Hour {
				continue
			}
			beyond++
			if after := all[i].at.Sub(all[i-1].at); !all[i].critical || after < 10*time.Minute {
				t.Fatalf("at most %d: one more in an hour, critical %t, %v after the last", most, all[i].critical, after)
			}
		}
		if delivered != offered || len(waiting) != 0 {
			t.Errorf("at most %d: %d offered, %d delivered, %d wait", most, offered, delivered, len(waiting))
		}
		if longest > patience {
			t.Errorf("at most %d: a critical one waited %v", most, longest)
		}
		t.Logf("at most %d: %d messages in %d deliveries, %d of them beyond an hour's fill; a critical one waited %v at most", most, offered, len(all), beyond, longest)
	}
}

// A flood of what is not critical alone stays at an hour's fill less the place that is
// kept.
func TestAFloodOfWarningsKeepsTheLastPlace(t *testing.T) {
	for most, want := range map[int]int{0: 5, 1: 1, 2: 1, 6: 5} {
		var sent []time.Time
		for i := range 60 {
			at := start.Add(time.Duration(i) * time.Minute)
			if batch, _ := (ratelimit.Limit{PerHour: most}).Next(at, news(alert.Warning, i), sent); len(batch) > 0 {
				sent = append(sent, at)
			}
		}
		if len(sent) != want {
			t.Errorf("at most %d: %d warnings in an hour, want %d", most, len(sent), want)
		}
		if batch, _ := (ratelimit.Limit{PerHour: most}).Next(start.Add(59*time.Minute), news(alert.Critical, 99), sent); len(batch) != 1 {
			t.Errorf("at most %d: the first critical one waits behind warnings", most)
		}
	}
}

func TestDigestLeavesNothingOut(t *testing.T) {
	parts := append(news(alert.Critical, 30), news(alert.Warning, 10, 20)...)
	parts[1].Over = true
	m := digest.Of(parts)
	if m.ID != "x/30+2" || m.Priority != alert.Critical || !m.At.Equal(sec(10)) || m.Over || m.Subject != "subject 30, and 2 more" {
		t.Errorf("%+v", m)
	}
	for _, n := range []int{10, 20, 30} {
		if !strings.Contains(m.Body, fmt.Sprintf("subject %d\nbody %d\n", n, n)) {
			t.Errorf("message %d is not in %q", n, m.Body)
		}
	}
}
