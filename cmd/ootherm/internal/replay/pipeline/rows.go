package pipeline

import (
	"errors"

	"example.com/ootherm/sensor/recording"
)

// chunkSize is how many rows are read ahead together, and chunks how many of those wait at most
// (our choice).
const (
	chunkSize = 4096
	chunks    = 2
)

// Rows reads rows ahead in a goroutine. One goroutine calls the methods. Close ends it.
type Rows struct {
	chunk  []readRow // of which Next gives rows
	at     int       // the next row of the chunk
	chunks chan []readRow
	spare  chan []readRow
	stop   chan struct{}
	done   chan struct{}
	last   error // the error that ended the rows; nil: there are more
}

type readRow struct {
	row recording.Row
	err error
}

// NewRows starts the goroutine. It calls next for each row. After a *recording.RowError, which
// reports one bad row, it goes on; after another error it does not.
func NewRows(next func() (recording.Row, error)) *Rows {
	r := &Rows{chunks: make(chan []readRow, chunks), spare: make(chan []readRow, chunks+2), stop: make(chan struct{}), done: make(chan struct{})}
	for range cap(r.spare) {
		r.spare <- make([]readRow, 0, chunkSize)
	}
	go func() {
		defer close(r.done)
		for more := true; more; {
			chunk := (<-r.spare)[:0]
			for more && len(chunk) < chunkSize {
				row, err := next()
				chunk = append(chunk, readRow{row, err})
				more = err == nil || isOfRow(err)
			}
			select {
			case r.chunks <- chunk:
			case <-r.stop:
				return
			}
		}
	}()
	return r
}

// isOfRow reports whether an error is about one row, after which others follow.
func isOfRow(err error) bool {
	var bad *recording.RowError
	return errors.As(err, &bad)
}

// Next gives the next row, or the error that stands in its place.
func (r *Rows) Next() (recording.Row, error) {
	if r.last != nil {
		return recording.Row{}, r.last
	}
	if r.at == len(r.chunk) {
		if r.chunk != nil {
			r.spare <- r.chunk
		}
		r.chunk, r.at = <-r.chunks, 0
	}
	x := r.chunk[r.at]
	r.at++
	if x.err != nil && !isOfRow(x.err) {
		r.last = x.err
	}
	return x.row, x.err
}

// Close ends the goroutine. After it no row is read.
func (r *Rows) Close() {
	close(r.stop)
	<-r.done
}
