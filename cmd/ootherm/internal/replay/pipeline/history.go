// Package pipeline spreads a replay over two processors: rows are read ahead of the station, and
// readings are kept behind it, each in a goroutine of its own. The station sees what it would
// see without. It must not know what a station does with a reading, nor where rows come from.
package pipeline

import (
	"iter"
	"sync"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/station"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/sensor/history/aggregate"
	"example.com/ootherm/thermal"
)

// batchSize is how many readings are handed over together (our choice): a megabyte, and some
// milliseconds of work. Smaller batches wake the goroutine more often: with 2,048 readings a
// replay of a week took longer.
const batchSize = 16384

// History keeps readings in a goroutine. Every other method first waits until all are kept. One
// goroutine calls the methods. Close ends it.
type History struct {
	to      station.History
	batch   []sensor.Reading // not handed over yet
	batches chan []sensor.Reading
	spare   chan []sensor.Reading
	pending sync.WaitGroup // batches that are not kept yet
	failed  chan error     // the first error
}

var _ station.History = (*History)(nil)

// NewHistory starts the goroutine, which appends to a history.
func NewHistory(to station.History) *History {
	h := &History{to: to, batches: make(chan []sensor.Reading, 1), spare: make(chan []sensor.Reading, 2), failed: make(chan error, 1)}
	go func() {
		for batch := range h.batches {
			if err := to.Append(batch); err != nil {
				select {
				case h.failed <- err:
				default: // the first is enough
				}
			}
			h.spare <- batch[:0]
			h.pending.Done()
		}
	}()
	h.spare <- make([]sensor.Reading, 0, batchSize)
	h.spare <- make([]sensor.Reading, 0, batchSize)
	return h
}

// Append takes readings. An error may be that of readings before them.
func (h *History) Append(readings []sensor.Reading) error {
	h.batch = append(h.batch, readings...)
	if len(h.batch) >= batchSize {
		h.handOver()
	}
	return h.err()
}

func (h *History) handOver() {
	if len(h.batch) == 0 {
		return
	}
	h.pending.Add(1)
	h.batches <- h.batch
	h.batch = <-h.spare
}

// err gives an error of readings that were handed over, once.
func (h *History) err() error {
	select {
	case err := <-h.failed:
		return err
	default:
		return nil
	}
}

// settle waits until all readings are kept.
func (h *History) settle() *History {
	h.handOver()
	h.pending.Wait()
	return h
}

// Close keeps all readings, ends the goroutine, and gives an error that was not given yet.
func (h *History) Close() error {
	h.settle()
	close(h.batches)
	return h.err()
}

// Flush makes all readings durable.
func (h *History) Flush() error {
	h.settle()
	if err := h.err(); err != nil {
		return err
	}
	return h.to.Flush()
}

// Range gives the readings of a probe in a span.
func (h *History) Range(probe string, from, to time.Time) iter.Seq2[history.Point, error] {
	return h.settle().to.Range(probe, from, to)
}

// Exposure gives the exposure of a span.
func (h *History) Exposure(probe string, from, to time.Time, correct history.Correction) (thermal.Exposure, thermal.Sample, thermal.Sample, error) {
	return h.settle().to.Exposure(probe, from, to, correct)
}

// Boots are the boots.
func (h *History) Boots() []history.Boot { return h.settle().to.Boots() }

// Summaries gives the summaries of a span.
func (h *History) Summaries(probe string, from, to time.Time) iter.Seq2[history.Summary, error] {
	return h.settle().to.Summaries(probe, from, to)
}

// Hourly gives the hours of a span.
func (h *History) Hourly(probe string, from, to time.Time) iter.Seq2[aggregate.Span, error] {
	return h.settle().to.Hourly(probe, from, to)
}

// Date dates a boot.
func (h *History) Date(boot uint32, start time.Time, bound time.Duration, synchronised bool) error {
	return h.settle().to.Date(boot, start, bound, synchronised)
}

// Bytes is the size of what is kept.
func (h *History) Bytes() (int64, error) { return h.settle().to.Bytes() }
