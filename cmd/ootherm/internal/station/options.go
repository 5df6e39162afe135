package station

import (
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/notice"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/station/journal"
	"example.com/ootherm/cmd/ootherm/internal/station/pastreadings"
	"example.com/ootherm/cmd/ootherm/internal/station/windows"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/thermal/book"
)

// History keeps the readings.
type History interface {
	sensor.Sink
	pastreadings.History
	Date(boot uint32, start time.Time, bound time.Duration, synchronised bool) error
	Bytes() (int64, error)
}

// Ledger keeps the book's entries. Append is durable when it returns.
type Ledger interface {
	Append(entries []book.Entry, recorded time.Time) ([]book.Entry, error)
	Load() ([]book.Entry, error)
}

// Stores keep what a station must not forget.
type Stores struct {
	History  History
	Derived  pastreadings.Derived // nil: what is computed of the readings is not kept
	Ledger   Ledger
	Journal  journal.Store
	Shown    windows.Log      // nil: the windows are not kept
	AlarmLog journal.AlarmLog // nil: what alarms there were is not kept
}

// Deliveries say what gets out of the station.
type Deliveries struct {
	// Troubles are what the last attempt of each sender came to, by name, of those that
	// were tried since the start; nil: nothing is sent.
	Troubles func() map[string]notice.Failure
	// Heartbeat is what its last attempt came to; false: it was not tried since the start.
	// Nil: there is none.
	Heartbeat func() (last notice.Failure, tried bool)
}

// Options are what a station is made of.
type Options struct {
	Plan plan.Plan
	Stores
	Boot    history.Boot // the boot that this station runs in
	Version string
	// Worker runs a job beside the station and hands back what the station
	// then applies; nil runs it at once.
	Worker func(job func() (apply func()))
	// Urgent takes messages that the journal could not, once each, with the
	// alarms they tell of, to deliver them from memory; it may be nil. The journal
	// is still tried for them until it takes them.
	Urgent func([]alert.Alarm, []alert.Message)
	// Visit opens a station over the files for one command, while none runs. It
	// watches no alarm and sends no message. Of the alarms it writes only what a
	// person asked.
	Visit bool
	// Log takes what could not be read of the history; it may be nil. The station goes
	// on without it.
	Log func(error)
	// OnEvent is told of every transition of an alarm; it may be nil.
	OnEvent func(snapshot.Event)
	// Free is how many bytes the card has left; nil: nobody asks.
	Free func() (uint64, error)
	Deliveries
	// Size is how large the station's files are; nil: as large as the history.
	Size func() (int64, error)
	// Copies are the ways the book leaves the card; nil: it does not.
	Copies func() []snapshot.Copy
	// ForecastEvery is how old a window may be before it is computed again.
	ForecastEvery time.Duration
	// PublishEvery is how old a published Now may be; zero publishes after
	// each step.
	PublishEvery time.Duration
}

// withDefaults sets what is computed at once, and of the history, unless the options say otherwise.
func (o Options) withDefaults() Options {
	if o.Worker == nil {
		o.Worker = func(job func() func()) { job()() }
	}
	if o.Size == nil {
		o.Size = o.History.Bytes
	}
	return o
}

// copies are the ways the book leaves the card.
func (o Options) copies() []snapshot.Copy {
	if o.Copies == nil {
		return []snapshot.Copy{}
	}
	return o.Copies()
}

// failures are what the last attempts of the senders came to.
func (o Options) failures() map[string]notice.Failure {
	if o.Troubles == nil {
		return nil
	}
	return o.Troubles()
}

// heartbeat is what the last attempt of the heartbeat came to.
func (o Options) heartbeat() (last notice.Failure, tried bool) {
	if o.Heartbeat == nil {
		return notice.Failure{}, false
	}
	return o.Heartbeat()
}

// copyTrouble is why the book does not leave the card; empty where it does.
func (o Options) copyTrouble() string {
	for _, c := range o.copies() {
		if c.Err != nil {
			return *c.Err
		}
	}
	return ""
}

// storageBytes is what the files take; 0 when that is not known.
func (o Options) storageBytes() int64 {
	n, err := o.Size()
	if err != nil {
		return 0
	}
	return n
}
