package replay_test

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/replay"
)

// oneRoom is the configuration of a room with one probe.
const oneRoom = `
[[probe]]
name = "air"
[[zone]]
name = "room"
kind = "room"
probes = ["air"]
wanted = { low = "22C", high = "25C" }
safe = { low = "20C", high = "27C" }
`

// nightFailure is a recording of a room that is well for two days and whose heater dies at
// 23:00.
func nightFailure() string {
	var b strings.Builder
	b.WriteString("time,probe,temperature_c\n")
	start := time.Date(2026, 4, 1, 0, 0, 0, 0, time.UTC)
	for at := start; at.Before(start.Add(60 * time.Hour)); at = at.Add(time.Minute) {
		c := 23.5
		if since := at.Sub(start.Add(47 * time.Hour)); since > 0 {
			c -= 10 * (1 - math.Exp(-since.Hours()/6))
		}
		fmt.Fprintf(&b, "%s,air,%.2f\n", at.Format(time.RFC3339), c)
	}
	return b.String()
}

// A replay gives the messages that one recipient would receive: at the pace and in the quiet
// hours of the configuration's sender, in the order in which they are sent.
func TestReplayGivesMessages(t *testing.T) {
	const sender = `[[sender]]
name = "hook"
kind = "webhook"
url = "https://hooks.example.org/x"
quiet = { from = "22:00", to = "07:00" }
`
	readings := write(t, "night.csv", nightFailure())
	for name, c := range map[string]struct{ config, early string }{
		"no sender: the defaults": {oneRoom, "warning"},
		"quiet hours":             {oneRoom + sender, "critical"},
	} {
		r := replayed(t, replay.Options{Config: write(t, "c.toml", c.config), Readings: readings})
		if len(r.Messages) < 3 || len(r.Messages) > 20 {
			t.Errorf("%s: %d messages", name, len(r.Messages))
			continue
		}
		first := r.Messages[0]
		if first.Priority != c.early || first.Zone == nil || *first.Zone != "room" || !strings.HasPrefix(first.Body, first.Subject) {
			t.Errorf("%s: the first message is %+v", name, first)
		}
		for i, m := range r.Messages[1:] {
			if m.At.Before(r.Messages[i].At) {
				t.Errorf("%s: message %d goes before the one before it", name, i+1)
			}
			if night := m.At.Hour() >= 22 || m.At.Hour() < 7; night && name == "quiet hours" && m.Priority != "critical" {
				t.Errorf("%s: %s, %s at %s", name, m.Priority, m.Subject, m.At)
			}
		}
		var shown struct{ Messages []map[string]any }
		if out, err := json.Marshal(r); err != nil {
			t.Error(err)
		} else if err := json.Unmarshal(out, &shown); err != nil || len(shown.Messages) != len(r.Messages) {
			t.Errorf("%s: as JSON %d messages, %v", name, len(shown.Messages), err)
		}
		for _, field := range []string{"at", "zone", "priority", "subject", "body"} {
			if shown.Messages[0][field] == nil {
				t.Errorf("%s: a message has no %s", name, field)
			}
		}
	}
}

// coldNights is a recording of a room that is 0.2 K below its band in every night, and whose
// heater dies in the last, at half past three.
func coldNights(days int) (recording string, dies time.Time) {
	var b strings.Builder
	b.WriteString("time,probe,temperature_c\n")
	rng := rand.New(rand.NewPCG(3, 3))
	start := time.Date(2026, 4, 1, 0, 0, 0, 0, time.UTC)
	dies = start.AddDate(0, 0, days-1).Add(3*time.Hour + 30*time.Minute)
	for at := start; at.Before(dies.Add(90 * time.Minute)); at = at.Add(time.Minute) {
		c := 22.95 - 1.15*math.Cos(2*math.Pi*(at.Sub(start).Hours()-5)/24) + 0.02*rng.NormFloat64()
		if since := at.Sub(dies); since > 0 {
			c -= 12 * (1 - math.Exp(-since.Hours()/8))
		}
		fmt.Fprintf(&b, "%s,air,%.2f\n", at.Format(time.RFC3339), c)
	}
	return b.String(), dies
}

// openWindow is a recording of a room whose window is open for 20 minutes every morning about
// eight, and whose heater dies in the last morning, four minutes after it was opened.
func openWindow(days int) (recording string, dies time.Time) {
	var b strings.Builder
	b.WriteString("time,probe,temperature_c\n")
	rng := rand.New(rand.NewPCG(4, 4))
	start := time.Date(2026, 4, 1, 0, 0, 0, 0, time.UTC)
	var below float64
	for day := range days {
		midnight := start.AddDate(0, 0, day)
		opened := midnight.Add(8*time.Hour + time.Duration(rng.IntN(20)-10)*time.Minute)
		dies = opened.Add(4 * time.Minute)
		for at := midnight; at.Before(midnight.Add(24 * time.Hour)); at = at.Add(time.Minute) {
			if since := at.Sub(opened); since >= 0 && since < 20*time.Minute {
				below += (2.5 - below) * 0.12
			} else {
				below *= 0.96
			}
			c := 23.4 - below + 0.15*math.Sin(2*math.Pi*at.Sub(start).Minutes()/35) + 0.02*rng.NormFloat64()
			if since := at.Sub(dies); since > 0 && day == days-1 {
				if since > 2*time.Hour {
					break
				}
				c -= 12 * (1 - math.Exp(-since.Hours()/4))
			}
			fmt.Fprintf(&b, "%s,air,%.2f\n", at.Format(time.RFC3339), c)
		}
	}
	return b.String(), dies
}

// A room that is a little too cold every night, or aired every morning, is not told of each
// time. A heater that dies just then is told of as critical within 50 minutes, and before the
// safe limit is passed.
func TestEveryDayIsNotTold(t *testing.T) {
	c := write(t, "c.toml", oneRoom)
	for name, made := range map[string]func(days int) (string, time.Time){"cold nights": coldNights, "airing every day": openWindow} {
		recording, dies := made(15)
		r := replayed(t, replay.Options{Config: c, Readings: write(t, "r.csv", recording)})
		before, after := 0, -1
		for i, m := range r.Messages {
			t.Log(m.At.Format("01-02 15:04 "), m.Priority, m.Subject)
			switch {
			case m.At.Day() < 15:
				before++
			case after < 0 && m.Priority == "critical":
				after = i
			}
		}
		if before != 8 { // three days and, a week later, one more: each began and was over
			t.Errorf("%s: %d messages in 14 days, want 8", name, before)
		}
		if after < 0 || r.Messages[after].At.Sub(dies) > 50*time.Minute || !strings.Contains(r.Messages[after].Subject, "too cold in ") {
			t.Errorf("%s: of the heater that died at %v there is no critical message in time", name, dies)
		} else {
			t.Logf("%s: critical after %v", name, r.Messages[after].At.Sub(dies))
		}
	}
}
