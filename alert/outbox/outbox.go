// Package outbox keeps alarms and undelivered messages over restarts, and has
// the messages delivered: at least once each, always under the same identity.
//
// [Store] keeps them in records.db, [Memory] nowhere. A [Courier] hands what
// waits to its senders.
//
// # Decisions
//
//   - After an outage the courier sends what was tried and is over an hour late as one
//     digest, as soon as anything gets through. Before that each message goes alone, so
//     that a second delivery has the first one's identity. A digest that is refused is
//     sent again by halves, down to the part that is to blame.
//   - The age of a message and its next try go by a monotonic clock.
//   - Whether a sender with a delay is still to be called is asked of the station as it
//     is, not of the card, which may be full.
//   - The first message of an occurrence tells one occurrence from the next, because
//     times move when a boot gets another date.
//   - A message is never sent to the sender whose failure it tells of.
package outbox

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.com/ootherm/alert"
)

// ErrNotWaiting is for errors.Is: no message of that identity waits, be it that
// it was delivered or dropped meanwhile or that it never was.
var ErrNotWaiting = errors.New("no such message is waiting")

// ReuseError says that an identity was given to a second, later message. It would
// be taken for the first and lost, so nothing of its commit was stored.
type ReuseError struct {
	ID, Sender string
	Highest    uint64 // sequence already taken for this alarm and sender
}

func (e *ReuseError) Error() string {
	return fmt.Sprintf("message %s for %s: sequence %d is already taken: count on from the stored alarm",
		e.ID, e.Sender, e.Highest)
}

// split parts a message's identity into what it is about and its sequence.
func split(id string) (thing string, sequence uint64, err error) {
	i := strings.LastIndexByte(id, '/')
	if i > 0 {
		thing = id[:i]
		sequence, err = strconv.ParseUint(id[i+1:], 10, 64)
	}
	if i <= 0 || err != nil || strings.ContainsRune(id, 0) {
		return "", 0, fmt.Errorf("%q is no message identity: it must be key/sequence", id)
	}
	return thing, sequence, nil
}

// about is what a message of a valid identity is about.
func about(id string) string { return id[:strings.LastIndexByte(id, '/')] }

// Mark is the last message that was ever taken about one thing for one sender.
type Mark struct {
	Sequence  uint64    `json:"sequence"`
	At        time.Time `json:"at"`                 // the message's own time
	Delivered time.Time `json:"delivered,omitzero"` // when the last one about it got through; zero: none yet
}

// fresh reports whether a message is to be taken, given the mark of its alarm and
// sender. The same message a second time is not, nor is it an error: its first
// commit may have been stored without the caller learning of it.
func fresh(m alert.Message, sequence uint64, last Mark) (bool, error) {
	switch {
	case sequence > last.Sequence:
		return true, nil
	case m.At.After(last.At):
		return false, &ReuseError{ID: m.ID, Sender: m.Sender, Highest: last.Sequence}
	}
	return false, nil
}

// after is a waiting message after an outcome, and whether it still waits.
func after(m alert.Message, o alert.Outcome) (alert.Message, bool, error) {
	switch o.Result {
	case alert.Delivered, alert.Dropped:
		return alert.Message{}, false, nil
	case alert.Retry:
		m.Refused, m.Next = false, o.Next
		if o.Err == "" { // a person's wish
			m.Attempts = 0
			return m, true, nil
		}
		m.Attempts++
		m.LastErr = o.Err
		return m, true, nil
	case alert.Refused:
		m.Refused, m.LastErr = true, o.Err
		m.Attempts++
		return m, true, nil
	}
	return alert.Message{}, false, fmt.Errorf("message %s: %q is no outcome", m.ID, o.Result)
}

// inOrder sorts messages as they are to be sent.
func inOrder(ms []alert.Message) {
	slices.SortStableFunc(ms, func(a, b alert.Message) int {
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(rank(a.Priority), rank(b.Priority)),
			strings.Compare(a.ID, b.ID), strings.Compare(a.Sender, b.Sender))
	})
}

func rank(p alert.Priority) int {
	return slices.Index([]alert.Priority{alert.Critical, alert.Warning, alert.Notice}, p)
}

// sentKept is how many delivery times are kept of a sender; no pace is faster.
const sentKept = 64

// delivery notes the time of one, of the last hour's. Messages that went together
// have the same.
func delivery(sent []time.Time, at time.Time) []time.Time {
	sent = slices.DeleteFunc(sent, func(t time.Time) bool { return at.Sub(t) >= time.Hour || t.Equal(at) })
	sent = append(sent, at)
	return sent[max(0, len(sent)-sentKept):]
}

// Keeper is what a [Courier] needs of a store.
type Keeper interface {
	Waiting(context.Context) ([]alert.Message, error)
	Alarm(ctx context.Context, key string) (alert.Alarm, bool, error)
	Sent(ctx context.Context, sender string) ([]time.Time, error)
	Done(ctx context.Context, id string, o alert.Outcome) error
}

var (
	_ alert.Journal = (*Store)(nil)
	_ alert.Journal = (*Memory)(nil)
	_ Keeper        = (*Store)(nil)
	_ Keeper        = (*Memory)(nil)
)
