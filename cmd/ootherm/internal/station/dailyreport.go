package station

import (
	"errors"
	"math"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/rules"
	"example.com/ootherm/cmd/ootherm/internal/notice"
	"example.com/ootherm/cmd/ootherm/internal/plan"
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
	m.Subject, m.Body = notice.DailyReport(s.facts(nil), s.Standing(), day, s.reader())
	s.out.messages = append(s.out.messages, m)
}
