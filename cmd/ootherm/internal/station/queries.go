package station

import (
	"iter"
	"sync/atomic"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/station/journal"
	"example.com/ootherm/cmd/ootherm/internal/station/messages"
	"example.com/ootherm/cmd/ootherm/internal/station/pastreadings"
	"example.com/ootherm/cmd/ootherm/internal/station/windows"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/sensor/history/aggregate"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/review"
)

// Queries answer what any goroutine may ask of a station.
type Queries struct {
	past    *pastreadings.Past
	windows *windows.Windows
	journal *journal.Journal

	snapshot atomic.Pointer[snapshot.Snapshot]
	book     atomic.Pointer[book.Book]
}

// Queries answer what any goroutine may ask. Any goroutine may call it.
func (s *Station) Queries() *Queries { return s.queries }

// publish takes the state and the book after a step.
func (q *Queries) publish(n *snapshot.Snapshot, b book.Book) {
	q.book.Store(&b)
	q.snapshot.Store(n)
}

// Now is the station's state as it was last published.
func (s *Station) Now() *snapshot.Snapshot { return s.queries.snapshot.Load() }

// Book is the book as it stood then.
func (s *Station) Book() *book.Book { return s.queries.book.Load() }

// Readings gives the readings of a probe in a span, corrected.
func (q *Queries) Readings(probe string, from, to time.Time) iter.Seq2[history.Point, error] {
	return q.past.Readings(probe, from, to)
}

// RawReadings gives the readings of a probe in a span as the probe gave them.
func (q *Queries) RawReadings(probe string, from, to time.Time) iter.Seq2[history.Point, error] {
	return q.past.Raw(probe, from, to)
}

// Hourly gives what a probe measured in each hour of a span, corrected. It reads no raw
// readings where the hours are stored. [aggregate.Daily] makes days of them.
func (q *Queries) Hourly(probe string, from, to time.Time) iter.Seq2[aggregate.Span, error] {
	return q.past.Hourly(probe, from, to)
}

// ShownWindows gives the windows that were shown of a clutch, or of all clutches for an
// empty name.
func (q *Queries) ShownWindows(clutch string) ([]snapshot.Shown, error) {
	return q.windows.Logged(clutch)
}

// PastAlarms gives the alarms that lasted at some time of a span.
func (q *Queries) PastAlarms(from, to time.Time) ([]snapshot.PastAlarm, error) {
	return q.journal.PastAlarms(nil, from, to)
}

// Durations gives how long the clutches that are over took, by clutch.
func (q *Queries) Durations() map[string]review.Duration { return q.windows.Durations() }

// Score compares the windows that were shown with the hatches in the book.
func (q *Queries) Score() (snapshot.Score, error) { return q.windows.Score(*q.book.Load()) }

// Watches reports whether the station has a probe of that name.
func (s *Station) Watches(probe string) bool { return s.conditions.Probes[probe] != nil }

// Refused is how many readings each cause took, over all probes.
func (s *Station) Refused() map[string]int { return s.conditions.Refused() }

// Standing are all alarms as they stand, but for what eggs felt in all once somebody has
// seen it: that is never undone.
func (s *Station) Standing() []alert.Alarm { return messages.Standing(s.panel) }

// Unacknowledged gives the keys of the alarms that wait for somebody to see them.
func (s *Station) Unacknowledged() (keys []alert.Key) {
	for _, k := range s.panel.Keys() {
		if x, _ := s.panel.Alarm(k); x.State == alert.Active || x.State == alert.Returned {
			keys = append(keys, k)
		}
	}
	return keys
}
