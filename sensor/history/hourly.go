package history

import (
	"errors"
	"iter"
	"math"
	"time"

	"example.com/ootherm/sensor/history/aggregate"
	"example.com/ootherm/sensor/history/stored"
	"go.etcd.io/bbolt"
)

// Hourly yields what a probe measured in each hour that reaches into a span, in order of time;
// hours without a reading are left out. Hours are counted from the start of each boot, and the
// last hour of a boot ends where the next boot begins. Where the hours of a block are stored,
// its readings are not read. Readings that were trimmed before their hours were stored come as
// one aggregate of a block, without humidity. A damaged block yields one error in its place, a
// [*Damage].
func (s *Store) Hourly(probe string, from, to time.Time) iter.Seq2[aggregate.Span, error] {
	return func(yield func(aggregate.Span, error) bool) {
		x := hourJoiner{from: from, to: to, limit: s.limit, yield: yield}
		// The hours before and after the span may be joined to those at its ends.
		margin := s.limit + time.Hour
		r := probeReader{s, probe}
		for at, err := range r.blocks(from.Add(-margin), to.Add(margin)) {
			if err != nil {
				x.fail(err)
				return
			}
			hours, err := r.datedHours(at)
			if err != nil && !x.fail(err) || !x.take(hours) {
				return
			}
		}
		x.release()
	}
}

// hourJoiner yields the hours of a span, each once the next is known: an hour may be joined to
// the one after it. Its methods report whether more are asked for.
type hourJoiner struct {
	from, to time.Time
	limit    time.Duration // a longer gap between two hours is left open
	yield    func(aggregate.Span, error) bool
	before   *aggregate.Dated // the last hour that was taken; nil: it was released
}

func (x *hourJoiner) within(from, to time.Time) bool { return from.Before(x.to) && to.After(x.from) }

// release yields the last hour.
func (x *hourJoiner) release() bool {
	a := x.before
	x.before = nil
	return a == nil || !x.within(a.From, a.To) || x.yield(a.Span, nil)
}

// take takes the next hours.
func (x *hourJoiner) take(hours []aggregate.Dated) bool {
	for _, h := range hours {
		if x.before != nil {
			x.before.Join(&h, x.limit)
		}
		if !x.release() {
			return false
		}
		x.before = &h
	}
	return true
}

// fail yields an error, unless it is of damage outside the span.
func (x *hourJoiner) fail(err error) bool {
	var d *Damage
	if errors.As(err, &d) && !x.within(d.From, d.To) {
		return true
	}
	return x.release() && x.yield(aggregate.Span{}, err)
}

// datedHours gives the hours of a block. The error is a [*Damage] where they cannot be decoded
// and cannot be computed.
func (r probeReader) datedHours(at placed) ([]aggregate.Dated, error) {
	hours, block, err := r.hours(at)
	if err != nil {
		return nil, at.damage(r.name, err)
	}
	end := r.endOf(at.Boot)
	if block != nil {
		d := aggregate.Dated{First: at.time(block.first.up), Last: at.time(block.last.up)}
		x := block.exposure(at.start)
		d.From = at.time(int64(at.Index) * spanMillis)
		d.To, d.Measured = d.From.Add(blockSpan), x.Measured()
		d.Celsius = aggregate.Statistic{Count: int(block.held), Mean: x.Mean(), Least: block.least, Most: block.most}
		if math.IsNaN(d.Celsius.Mean) { // no two readings within the gap limit
			d.Celsius.Mean = block.first.celsius
		}
		d.Humidity = aggregate.None()
		d.EndBy(end)
		return []aggregate.Dated{d}, nil
	}
	dated := make([]aggregate.Dated, len(hours))
	for i, h := range hours {
		dated[i] = h.Date(at.start, end)
	}
	return dated, nil
}

// endOf is when the boot after a boot began; zero for the last.
func (r probeReader) endOf(boot uint32) time.Time {
	r.mu.RLock()
	defer r.mu.RUnlock()
	if i, ok := r.boots.find(boot); ok && i+1 < len(r.boots.dated) {
		return r.boots.dated[i+1].Start
	}
	return time.Time{}
}

// hours gives the hours of a block: as they are stored, or else of its readings. Where there is
// neither, because the readings were trimmed, it gives the summary of the block.
func (r probeReader) hours(at placed) (hours aggregate.Hours, block *sum, err error) {
	k := at.key
	c, open := r.inMemory(k)
	stored, err := r.summary(at)
	if err == nil && len(open) == 0 {
		if c != nil && r.db == nil {
			_, hours, err = readHours(c.hours)
			return hours, nil, undecodable(err)
		}
		if c == nil && stored != nil {
			if hours, ok := r.storedHours(k, stored.readings); ok {
				return hours, nil, nil
			}
		}
	}
	rows, failed := r.rows(k)
	switch {
	case failed != nil:
		return nil, nil, failed
	case len(rows) > 0:
		return hoursOf(rows, r.limit), nil, nil
	case err != nil:
		return nil, nil, err
	case stored == nil || stored.held == 0:
		return nil, nil, nil
	}
	return nil, stored, nil
}

// storedHours gives the hours that are stored of a block with so many readings. It is false
// where there are none, where they are damaged, or where the block has got other readings
// since: a version of the program that does not know them adds readings alone.
func (r probeReader) storedHours(k key, readings uint64) (hours aggregate.Hours, ok bool) {
	err := r.view(bucketHours, func(b *bbolt.Bucket) error {
		v := b.Get(k.Bytes())
		if v == nil {
			return nil
		}
		n, all, err := readHours(v)
		hours, ok = all, err == nil && n == readings
		return nil
	})
	return hours, ok && err == nil
}

// hoursOf computes the hours of rows that are sorted: of those that are believed and have a
// temperature.
func hoursOf(rows []row, limit time.Duration) (all aggregate.Hours) {
	for _, r := range rows {
		if r.believed() {
			all = all.Take(r.up, r.celsius, r.humidity, limit)
		}
	}
	return all
}

// followHours joins the hours of readings that were trimmed with those of later readings of
// the block. Where the earlier ones are not known, the result counts the later readings alone
// and so does not fit the block.
func followHours(earlier, later []byte, before, joined *sum, limit time.Duration) []byte {
	n, a, err := readHours(earlier)
	if err != nil || n != before.readings {
		return later
	}
	_, b, err := readHours(later)
	if err != nil {
		return later
	}
	return writeHours(joined.readings, aggregate.Join(a, b, limit))
}

func writeHours(readings uint64, hours aggregate.Hours) []byte {
	return stored.Seal(aggregate.Encode(readings, hours), 0)
}

func readHours(b []byte) (readings uint64, hours aggregate.Hours, err error) {
	body, err := stored.Unseal(b)
	if err != nil {
		return 0, nil, err
	}
	return aggregate.Decode(body)
}
