package alert

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"
)

// Message is what one sender is to deliver to a person. The same message to
// several senders has one ID; the outbox keeps it once for each.
type Message struct {
	ID       string    `json:"id"`    // "key/sequence"; a second delivery has the same
	Alarm    string    `json:"alarm"` // the alarm's key; empty for a digest or a test message
	At       time.Time `json:"at"`    // when it happened
	Priority Priority  `json:"priority"`
	Subject  string    `json:"subject"`        // the key fact within 40 characters
	Body     string    `json:"body"`           // plain text
	Over     bool      `json:"over"`           // it tells of the alarm's end
	Until    time.Time `json:"until,omitzero"` // not sent after this; zero: it waits for as long as it must

	// Threads are the episodes that it tells of, the message's own first. Empty: of none, as
	// a test message, or stored before there were threads.
	Threads []Thread `json:"threads,omitempty"`

	// Parts are the identities of the messages that a digest is made of; empty: it is none.
	Parts []string `json:"-"`

	// Attach is the name of the file that goes with it, where the way carries files.
	// What is in the file is asked for when the message is sent, and not kept here.
	Attach string `json:"attach,omitempty"`

	Sender   string    `json:"sender"`     // the configured name of who delivers it
	Attempts int       `json:"attempts"`   // failed so far
	Next     time.Time `json:"next"`       // not to be sent before
	Refused  bool      `json:"refused"`    // the sender will never take it: a person retries or drops it
	LastErr  string    `json:"last_error"` // of the last attempt, for a person to read
}

// Outcome is what became of an attempt to deliver a message. An empty Sender
// means the message at every sender, as when a person drops it.
type Outcome struct {
	Sender string
	Result Result
	At     time.Time
	Next   time.Time // of Retry: not before
	Err    string    // of Retry and Refused: why, for a person to read
}

// Result is the kind of an outcome.
type Result string

// Results. Delivered and Dropped end a message; Refused keeps it until a person
// retries or drops it.
const (
	Delivered Result = "delivered"
	Retry     Result = "retry"
	Refused   Result = "refused"
	Dropped   Result = "dropped"
)

// Journal keeps alarms and undelivered messages over restarts. Commit stores both
// in one step: what it took is durable when it returns nil, and a message whose
// ID and sender it already has, or had, is not taken twice.
// Forget takes alarms away by their keys, and with them what was counted of their
// messages; those that wait are still delivered.
type Journal interface {
	Load(context.Context) ([]Alarm, []Message, error)
	Commit(context.Context, []Alarm, []Message) error
	Forget(ctx context.Context, alarms []string) error
	Done(ctx context.Context, id string, o Outcome) error
}

// Sender delivers a message. An error that is [ErrPermanent] says that trying
// again is no use.
type Sender interface {
	Send(context.Context, Message) error
}

// ErrPermanent is for errors.Is: the receiver understood the message and will
// never take it.
var ErrPermanent = errors.New("it will not be taken, however often it is sent")

// Permanent marks an error as [ErrPermanent].
func Permanent(err error) error { return permanent{err} }

type permanent struct{ error }

func (p permanent) Unwrap() []error { return []error{p.error, ErrPermanent} }

// NotBefore marks an error of a receiver that asked not to be tried again for a
// while; [Asked] tells for how long.
func NotBefore(err error, wait time.Duration) error { return notBefore{err, wait} }

type notBefore struct {
	error
	wait time.Duration
}

func (n notBefore) Unwrap() error { return n.error }

// Asked is how long the receiver asked to be left alone, at most [MaxRetryWait]; 0 where
// it did not.
func Asked(err error) time.Duration {
	var n notBefore
	if !errors.As(err, &n) {
		return 0
	}
	return min(max(n.wait, 0), MaxRetryWait)
}

// MaxRetryWait is the longest between two attempts, whatever the receiver asks: an alarm
// that is told an hour late is of some use, one told a day late of none (our choice).
const MaxRetryWait = time.Hour

// Wait is how long to wait after a number of failed attempts: 15 s, twice that
// each time, at most an hour. There is no end to it: a message is kept until it
// is delivered or a person drops it.
func Wait(failed int) time.Duration {
	wait := 15 * time.Second
	for ; failed > 1 && wait < MaxRetryWait; failed-- {
		wait *= 2
	}
	return min(wait, MaxRetryWait)
}

// Payload is the message for a program to read, as JSON: {id, alarm, at, priority,
// over, subject, body, station, episode, episodes, messages}. Alarm is the key's text, empty
// for a digest. Episode is the identity of the first of Threads, empty where there is none;
// episodes are all of them. Messages are the identities of what it tells: of a digest its
// parts, of another message its own.
func (m Message) Payload(station string) ([]byte, error) {
	threads := m.Threads
	if threads == nil {
		threads = []Thread{}
	}
	parts := m.Parts
	if parts == nil {
		parts = []string{m.ID}
	}
	b, err := json.Marshal(struct {
		ID       string    `json:"id"`
		Alarm    string    `json:"alarm"`
		At       time.Time `json:"at"`
		Priority Priority  `json:"priority"`
		Over     bool      `json:"over"`
		Subject  string    `json:"subject"`
		Body     string    `json:"body"`
		Station  string    `json:"station"`
		Episode  string    `json:"episode"`
		Episodes []Thread  `json:"episodes"`
		Messages []string  `json:"messages"`
	}{m.ID, m.Alarm, m.At, m.Priority, m.Over, m.Subject, m.Body, station, m.Episode(), threads, parts})
	if err != nil {
		return nil, fmt.Errorf("message %s as JSON: %w", m.ID, err)
	}
	return b, nil
}

// Stuck reports whether a message was tried and is late: an outage holds it up.
func (m Message) Stuck(now time.Time) bool { return m.Attempts > 0 && now.Sub(m.At) > LateBy }

// LateBy is how old a message may be before it has to say so itself.
const LateBy = time.Hour

// Dated is the message as it is sent at a time: one over an hour late says so in
// its first line.
func (m Message) Dated(now time.Time) Message {
	late := now.Sub(m.At)
	if late <= LateBy {
		return m
	}
	m.Body = fmt.Sprintf("Delivered %s late: this was at %s.\n%s",
		roughly(late), m.At.Format("2006-01-02 15:04 MST"), m.Body)
	return m
}

// roughly is a span over an hour as people say it.
func roughly(d time.Duration) string {
	d = d.Round(time.Minute)
	if d >= 48*time.Hour {
		return fmt.Sprintf("%d days", int(d/(24*time.Hour)))
	}
	return fmt.Sprintf("%d h %d min", int(d/time.Hour), int(d%time.Hour/time.Minute))
}

// OfZone reports whether a message tells of an episode on a side of a zone's bands.
func (m Message) OfZone() bool { return len(m.Threads) > 0 && m.Threads[0].Side != "" }

// IsUrgent reports whether a message has to get out now: the end of a critical alarm
// has time.
func (m Message) IsUrgent() bool { return m.Priority == Critical && !m.Over }

// CompareUrgency orders by priority, within one by whether it has to get out now.
func CompareUrgency(a, b Message) int {
	if a.IsUrgent() != b.IsUrgent() && a.Priority == b.Priority {
		if a.IsUrgent() {
			return -1
		}
		return 1
	}
	return cmp.Compare(a.Priority.rank(), b.Priority.rank())
}
