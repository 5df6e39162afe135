// Package messages makes the messages that a step of a station leads to: it gathers the
// facts that they give, addresses them to the senders that take them, and makes the daily
// report. The texts come from package notice. It must not know how a message is stored or
// delivered.
//
// # Decisions
//
//   - The message of an excursion's end gives the figure of the incident of its span: what
//     was developed in it. The change of the windows also has the climate to come in it.
//   - The daily report counts its messages with an alarm that is never true, so that a
//     restart cannot send a day twice.
package messages

import (
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/episode"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/alert/rules"
	"example.com/ootherm/cmd/ootherm/internal/notice"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/station/conditions"
	"example.com/ootherm/cmd/ootherm/internal/station/exposures"
	"example.com/ootherm/cmd/ootherm/internal/station/pastreadings"
	"example.com/ootherm/cmd/ootherm/internal/station/rulesview"
	"example.com/ootherm/cmd/ootherm/internal/station/waterloss"
	"example.com/ootherm/cmd/ootherm/internal/station/windows"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// Options are what Messages are made from.
type Options struct {
	Plan       plan.Plan
	Past       *pastreadings.Past
	Conditions *conditions.Conditions
	Exposures  *exposures.Exposures
	Windows    *windows.Windows
	Care       *waterloss.Losses
	Rules      *rulesview.Rules
	Panel      *panel.Panel
	// Now is the time of the step.
	Now func() time.Time
	// CopyTrouble is why the book does not leave the card; empty where it does.
	CopyTrouble func() string
	// Failures are what the last attempts of the senders came to, of those that were tried.
	Failures func() map[string]notice.Failure
	// Heartbeat is what its last attempt came to; false: it was not tried.
	Heartbeat func() (last notice.Failure, tried bool)
}

// Messages makes the messages of a station. One goroutine calls the methods.
type Messages struct {
	o       Options
	sharing sharing
}

// New makes the messages of a station that starts.
func New(o Options) *Messages {
	return &Messages{o: o}
}

// reader has messages say figures and times as the plan asks.
func (m *Messages) reader() words.Reader {
	return words.Reader{Units: m.o.Plan.Units, Place: m.o.Plan.Location, Today: m.o.Now}
}

// Compose makes the messages of a step, one for each cause and each sender that takes it.
func (m *Messages) Compose(told []episode.Told) (all []alert.Message) {
	keys, again := map[string]alert.Key{}, map[string]bool{}
	for _, t := range told {
		keys[t.Key.String()], again[t.Key.String()] = t.Key, t.Stage == episode.Again
	}
	for _, x := range notice.Compose(told, m.facts(told), m.reader()) {
		k := keys[x.Alarm]
		x.ID = m.o.Panel.NextMessage(k)
		x.Next = m.sharing.next(x, again[x.Alarm])
		for _, to := range m.o.Plan.Senders {
			if to.Takes(x) && k != rules.SenderFailing(to.Name) {
				x.Sender = to.Name
				all = append(all, x)
			}
		}
	}
	return all
}

// Standing are all alarms as they stand, but for what eggs felt in all once somebody has
// seen it: that is never undone.
func Standing(p *panel.Panel) (all []alert.Alarm) {
	for _, k := range p.Keys() {
		if x, _ := p.Alarm(k); x.State != alert.Acknowledged || k.Kind != alert.Cumulative {
			all = append(all, x)
		}
	}
	return all
}
