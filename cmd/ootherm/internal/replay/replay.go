// Package replay runs recordings through a station at full speed: a forecast from past
// readings, the backtest of the drift alarm, and degree-days of daily extremes. It reads
// files and keeps everything in memory. It must not know the page, the senders or the
// stores on the card.
package replay

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	"example.com/ootherm/alert/ratelimit"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/replay/pipeline"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/station"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/sensor/recording"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/ledger"
)

// Rows gives a recording row by row. After a *recording.RowError, which reports one bad
// row, reading goes on.
type Rows interface{ Next() (recording.Row, error) }

// Replay is a recording and the station to run it through.
type Replay struct {
	Plan      plan.Plan
	Rows      Rows
	File      string    // of the rows, for errors
	Start     time.Time // of the recording
	Book      Book
	Until     time.Time // zero: until the last reading or entry
	KeepGoing bool      // count bad rows instead of stopping at the first one
	Version   string
	Progress  func(rows int)  // called now and then; may be nil
	RateLimit ratelimit.Limit // of the one recipient
}

// Result is the state of the station at the end of a replay, and what happened until then.
type Result struct {
	Now      *snapshot.Snapshot `json:"now"`
	Events   []snapshot.Event   `json:"events"`
	Messages []Message          `json:"messages"` // that one recipient received
	Readings Counts             `json:"readings"`
	After    string             `json:"-"` // says which entries lie after the last reading; empty: none
}

// Counts are the numbers of readings that were believed, and of those rejected, by cause.
type Counts struct {
	Accepted int            `json:"accepted"`
	Rejected map[string]int `json:"rejected"`
}

// Run replays the recording. It stops at the first bad row unless KeepGoing is set.
func (r Replay) Run(ctx context.Context) (result Result, err error) {
	result = Result{Events: []snapshot.Event{}, Messages: []Message{}, Readings: Counts{Rejected: map[string]int{}}}
	start := r.Start
	entries := slices.Clone(r.Book.Entries)
	slices.SortStableFunc(entries, func(a, b book.Entry) int { return a.At.Compare(b.At) })
	if len(entries) > 0 && entries[0].At.Before(start) {
		start = entries[0].At
	}
	boot := history.Boot{Number: 1, ID: "replay", Start: start, Synchronised: true}
	past := history.Memory(history.Options{GapLimit: r.Plan.GapLimit()})
	if _, err := past.Begin(boot.ID, boot.Start, 0, true); err != nil {
		return result, err
	}
	kept := pipeline.NewHistory(past)
	defer func() {
		if failed := kept.Close(); err == nil {
			err = failed
		}
	}()
	rows := pipeline.NewRows(r.Rows.Next)
	defer rows.Close()
	r.Rows = rows
	to := newRecipient(r.RateLimit)
	s, err := station.New(ctx, station.Options{
		Plan: only(r.Plan), Boot: boot, Version: r.Version,
		Stores:        station.Stores{History: kept, Ledger: ledger.Memory(), Journal: to.store},
		OnEvent:       func(e snapshot.Event) { result.Events = append(result.Events, e) },
		ForecastEvery: 24 * time.Hour, PublishEvery: 365 * 24 * time.Hour,
	}, start)
	if err != nil {
		return result, err
	}
	p := player{Replay: r, s: s, boot: boot, entries: entries, result: &result, to: to}
	if err := p.play(ctx); err != nil {
		return result, err
	}
	s.Refresh()
	result.Messages = to.received
	result.Now = s.Now()
	for cause, n := range s.Refused() {
		result.Readings.Rejected[cause] += n
		result.Readings.Accepted -= n
	}
	return result, nil
}

// player drives a station through a recording.
type player struct {
	Replay
	s       *station.Station
	boot    history.Boot
	entries []book.Entry // not noted yet
	batch   []sensor.Reading
	at      time.Time // of the batch
	result  *Result
	to      *recipient
	rows    int
}

// play feeds all readings and entries to the station, and then lets time pass to the end.
func (p *player) play(ctx context.Context) error {
	for {
		row, err := p.Rows.Next()
		if errors.Is(err, io.EOF) || err == nil && !p.Until.IsZero() && row.At.After(p.Until) {
			break
		}
		cause, err := p.check(row, err)
		if err != nil && (cause == "" || !p.KeepGoing) {
			return err
		}
		if err != nil {
			p.result.Readings.Rejected[cause]++
			continue
		}
		if err := p.add(ctx, row); err != nil {
			return err
		}
	}
	return p.finish(ctx)
}

// check gives the error of a row, and the cause by which a replay that keeps going counts
// it. An error without a cause ends the replay.
func (p *player) check(row recording.Row, err error) (cause string, _ error) {
	switch {
	case err != nil:
		return causeOf(err), err
	case !p.s.Watches(row.Probe):
		return "unknown-probe", fmt.Errorf("%s:%d: the configuration has no probe %q; name it there or map the column with --column", p.File, row.Line, row.Probe)
	case row.At.Before(p.at):
		return "out-of-order", fmt.Errorf("%s:%d: %s is earlier than the row before it (%s); sort the recording by time", p.File, row.Line, row.At.Format(time.RFC3339), p.at.Format(time.RFC3339))
	}
	return "", nil
}

// causeOf is the cause of an error of a row; empty for another error.
func causeOf(err error) string {
	var bad *recording.RowError
	if errors.As(err, &bad) {
		return string(bad.Cause())
	}
	return ""
}

// add puts a row into the batch of its instant. A later row first sends the batch before
// it and moves the time.
func (p *player) add(ctx context.Context, row recording.Row) error {
	if row.At.After(p.at) {
		if err := p.flush(ctx); err != nil {
			return err
		}
		if err := p.advance(ctx, row.At); err != nil {
			return err
		}
		p.at = row.At
	}
	p.batch = append(p.batch, sensor.Reading{
		Probe: row.Probe, Measurement: row.Measurement,
		Stamp: sensor.Stamp{Boot: p.boot.Number, Uptime: row.At.Sub(p.boot.Start)},
	})
	p.result.Readings.Accepted++
	if p.rows++; p.Progress != nil && p.rows%4096 == 0 {
		p.Progress(p.rows)
	}
	return nil
}

// finish sends the last batch, and moves the time to Until or to the last entry.
func (p *player) finish(ctx context.Context) error {
	if err := p.flush(ctx); err != nil {
		return err
	}
	end := p.Until
	if end.IsZero() && len(p.entries) > 0 {
		end = p.entries[len(p.entries)-1].At
	}
	if !end.After(p.s.Time()) {
		return nil
	}
	if err := p.advance(ctx, end); err != nil {
		return err
	}
	return p.tick(ctx, end)
}

// flush gives the station the readings of one instant.
func (p *player) flush(ctx context.Context) error {
	if len(p.batch) == 0 {
		return nil
	}
	err := p.s.Observe(ctx, p.batch)
	p.batch = p.batch[:0]
	if err != nil {
		return err
	}
	return p.deliver(ctx)
}

// advance moves the station's time. On the way it notes entries at their times, and ticks
// as a running station does without readings.
func (p *player) advance(ctx context.Context, to time.Time) error {
	step := max(p.Plan.Every, time.Minute)
	for {
		next := p.s.Time().Add(step)
		if next.After(to) {
			next = to
		}
		if len(p.entries) > 0 && !p.entries[0].At.After(next) {
			if err := p.note(ctx); err != nil {
				return err
			}
			continue
		}
		if !next.Before(to) {
			return nil
		}
		if err := p.tick(ctx, next); err != nil {
			return err
		}
	}
}

// note notes all entries of the next instant.
func (p *player) note(ctx context.Context) error {
	n := 1
	for n < len(p.entries) && p.entries[n].At.Equal(p.entries[0].At) {
		n++
	}
	p.s.Advance(p.entries[0].At)
	_, err := p.s.Note(ctx, book.NewDraft(p.entries[:n]...))
	p.entries = p.entries[n:]
	return p.Book.located(err)
}
