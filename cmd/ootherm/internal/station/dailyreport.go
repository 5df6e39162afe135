package station

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/rules"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/track"
)

// watchDay sends the line of the day to each sender that asked for one, when it is
// time. A day on which the station was off, or the sender did not get through, for
// an hour from then on is left out: a line that is hours late says nothing.
func (s *Station) watchDay() {
	for _, x := range s.plan.Senders {
		k := rules.DailyReport(x.Name)
		a, ok := s.panel.Alarm(k)
		if x.AllWell == nil || !ok {
			continue
		}
		local := s.local()
		y, m, d := local.Date()
		due := time.Date(y, m, d, int(x.AllWell.Hours()), int(x.AllWell.Minutes())%60, 0, 0, local.Location())
		if late := s.now.Sub(due); late < 0 || late >= alert.LateBy || !a.Called.Before(due) {
			continue
		}
		s.panel.SetCalled(k, due)
		s.rebuilds.Once(func(upTo time.Time) func() (func(), error) {
			r := s.historyReader()
			return func() (func(), error) {
				day, err := r.lastDay(s.plan, upTo)
				return func() { s.sendDay(x.Name, due, day) }, err
			}
		})
	}
}

// lastDay is the lowest and highest of each zone's probes over the last 24 hours,
// by zone. Zones without a reading, and readings that cannot be read, are left out.
func (r historyReader) lastDay(p plan.Plan, upTo time.Time) (map[string][2]float64, error) {
	all := map[string][2]float64{}
	var failed []error
	for _, z := range p.Zones {
		low, high := math.Inf(1), math.Inf(-1)
		for _, probe := range z.Probes {
			for x, err := range r.samples(sourceID{probe: probe}, upTo.Add(-24*time.Hour), upTo.Add(1)) {
				if err != nil {
					failed = append(failed, err)
					continue
				}
				if !math.IsNaN(x.Celsius) {
					low, high = min(low, x.Celsius), max(high, x.Celsius)
				}
			}
		}
		if low <= high {
			all[z.Name] = [2]float64{low, high}
		}
	}
	return all, errors.Join(failed...)
}

// sendDay makes the message. It goes to its sender whatever priorities that takes.
func (s *Station) sendDay(sender string, due time.Time, day map[string][2]float64) {
	k := rules.DailyReport(sender)
	if _, ok := s.panel.Alarm(k); !ok {
		return
	}
	id := s.panel.NextMessage(k)
	m := alert.Message{ID: id, Alarm: k.String(), At: due, Until: due.Add(alert.LateBy), Priority: alert.Notice, Sender: sender}
	m.Subject, m.Body = s.theDay(day)
	s.out.messages = append(s.out.messages, m)
}

// theDay says how it stands.
func (s *Station) theDay(day map[string][2]float64) (subject, body string) {
	r := s.reader()
	var b strings.Builder
	var standing []string
	for _, x := range s.Standing() {
		k := x.Key
		if x.True && !x.Hidden && k.Priority != alert.Notice {
			standing = append(standing, s.place(k)+" "+words.Alarm(string(k.Kind)).Wrong+" since "+r.When(x.Began, s.now))
		}
	}
	outs := s.panel.AllOutOfService()
	subject = words.Headline(words.Fine, s.plan.Name, "all well")
	if off := offHeadline(outs); off != "" {
		subject = words.Headline(words.Other, s.plan.Name, off)
	}
	if n := len(standing); n > 0 {
		subject = words.Headline(words.Other, s.plan.Name, words.Count(n, "alarm stands", "alarms stand"))
	}
	fmt.Fprintf(&b, "%s\n", subject)
	if len(standing) > 0 {
		fmt.Fprintf(&b, "%s.\n", sentence(strings.Join(standing, "; ")))
	}
	for _, o := range outs {
		b.WriteString(s.offText(o) + "\n")
	}
	var zones []string
	answer := 0
	for _, z := range s.zones {
		span := "nothing measured"
		if d, ok := day[z.plan.Name]; ok {
			if span = r.Temperature(d[0]); span != r.Temperature(d[1]) {
				span = r.Band(&d[0], &d[1])
			}
		}
		zones = append(zones, z.plan.Name+" "+span)
	}
	for _, p := range s.probes {
		if p.Fresh(s.now) {
			answer++
		}
	}
	if len(zones) > 0 {
		fmt.Fprintf(&b, "Last day: %s.\n", strings.Join(zones, "; "))
	}
	fmt.Fprintf(&b, "%d of %s.\n", answer, words.Count(len(s.probes), "probe answers", "probes answer"))
	if next := s.nextWindow(); next != "" {
		fmt.Fprintf(&b, "Next window: %s.\n", next)
	}
	b.WriteString("This comes once a day. If it does not, look at the station")
	if s.plan.URL != "" {
		b.WriteString(": " + s.plan.URL)
	}
	b.WriteString("\n")
	return subject, b.String()
}

// nextWindow is the clutch to hatch first, and when to look; empty when none waits.
func (s *Station) nextWindow() string {
	var first *track.Group
	for _, g := range s.groups() {
		if !g.Waiting || s.shownWindow(g) == nil {
			continue
		}
		if first == nil || s.shownWindow(g).Likely.Before(s.shownWindow(first).Likely) {
			first = g
		}
	}
	if first == nil {
		return ""
	}
	who := first.Clutch
	if len(first.Dams) > 0 {
		who += " (" + strings.Join(first.Dams, " or ") + ")"
	}
	return who + " in " + first.Box + ", " + s.reader().Window(*s.shownWindow(first))
}
