package messages

import (
	"errors"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/rules"
	"example.com/ootherm/cmd/ootherm/internal/notice"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/station/pastreadings"
)

// WatchDay makes the daily report for each sender that asked for one, when it is time, and
// hands it to send once the worker has read the last day. A day on which the station was
// off, or the sender did not get through, for an hour from then on is left out: a report
// that is hours late says nothing.
func (m *Messages) WatchDay(send func(alert.Message)) {
	now := m.o.Now()
	for _, x := range m.o.Plan.Senders {
		k := rules.DailyReport(x.Name)
		a, ok := m.o.Panel.Alarm(k)
		if x.AllWell == nil || !ok {
			continue
		}
		local := m.o.Plan.Local(now)
		y, mo, d := local.Date()
		due := time.Date(y, mo, d, int(x.AllWell.Hours()), int(x.AllWell.Minutes())%60, 0, 0, local.Location())
		if late := now.Sub(due); late < 0 || late >= alert.LateBy || !a.Called.Before(due) {
			continue
		}
		m.o.Panel.SetCalled(k, due)
		m.o.Past.Rebuilds.Once(func(upTo time.Time) func() (func(), error) {
			r := m.o.Past.Reader()
			return func() (func(), error) {
				day, err := lastDay(r, m.o.Plan, upTo)
				return func() { m.report(x.Name, due, day, send) }, err
			}
		})
	}
}

// lastDay is the lowest and highest of each zone's probes over the last 24 hours, by zone.
// Zones without a reading, and readings that cannot be read, are left out.
func lastDay(r pastreadings.Reader, p plan.Plan, upTo time.Time) (map[string][2]float64, error) {
	all := map[string][2]float64{}
	var failed []error
	for _, z := range p.Zones {
		low, high, ok, err := r.Extremes(z.Probes, upTo.Add(-24*time.Hour), upTo.Add(1))
		failed = append(failed, err)
		if ok {
			all[z.Name] = [2]float64{low, high}
		}
	}
	return all, errors.Join(failed...)
}

// report makes the message. It goes to its sender whatever priorities that takes.
func (m *Messages) report(sender string, due time.Time, day map[string][2]float64, send func(alert.Message)) {
	k := rules.DailyReport(sender)
	if _, ok := m.o.Panel.Alarm(k); !ok {
		return
	}
	id := m.o.Panel.NextMessage(k)
	x := alert.Message{ID: id, Alarm: k.String(), At: due, Until: due.Add(alert.LateBy), Priority: alert.Notice, Sender: sender}
	x.Subject, x.Body = notice.DailyReport(m.facts(nil), Standing(m.o.Panel), day, m.reader())
	send(x)
}
