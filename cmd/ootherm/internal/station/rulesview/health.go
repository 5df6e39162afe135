package rulesview

import (
	"time"

	"example.com/ootherm/cmd/ootherm/internal/notice"
)

// askSpaceEvery is how often the room on the card is asked for.
const askSpaceEvery = time.Minute

// Health is how the station itself is, as far as rules cannot ask for it.
type Health struct {
	StorageFailing bool // readings or alarms could not be written
	StorageKnown   bool // they were tried
	Synchronised   bool // the clock is right
	CopyFailing    bool // the book does not leave the card
	// Senders are what the last attempts of the senders came to, of those that were tried.
	Senders map[string]notice.Failure

	HeartbeatTried   bool // since the start
	HeartbeatFailing bool // its last attempt failed
}

// RefreshHealth brings the view's health up to a step.
func (r *Rules) RefreshHealth(x Health, now time.Time) {
	h := &r.View.Health
	h.StorageFailing, h.StorageKnown = x.StorageFailing, x.StorageKnown
	h.Synchronised, h.CopyFailing = x.Synchronised, x.CopyFailing
	if h.WatchesSpace && now.Sub(r.spaceAsked).Abs() >= askSpaceEvery {
		r.spaceAsked = now
		free, err := r.o.Free()
		h.Free, h.FreeKnown = free, err == nil
	}
	h.HistoryDamaged = r.o.Past.Unreadable()
	h.HistoryKnown = !r.o.Past.Rebuilds.Busy()
	h.HeartbeatTried, h.HeartbeatFailing = x.HeartbeatTried, x.HeartbeatFailing
	for i := range h.Senders {
		last, tried := x.Senders[h.Senders[i].Name]
		h.Senders[i].Tried, h.Senders[i].Failing = tried, last.Err != ""
	}
}
