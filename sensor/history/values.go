package history

import (
	"fmt"
	"iter"
	"math"
	"slices"
	"time"

	"example.com/ootherm/sensor/history/stored"
	"go.etcd.io/bbolt"
)

// Value is a believed reading that has a temperature.
type Value struct {
	UnixMilli int64
	Celsius   float64
	Humidity  float64 // ratio; NaN where the probe gave none
}

// Values yields what [Store.Range] does, for readers of many readings: the believed readings
// that have a temperature, a block at a time. A slice is valid until the next is yielded.
func (s *Store) Values(probe string, from, to time.Time) iter.Seq2[[]Value, error] {
	return func(yield func([]Value, error) bool) {
		r := probeReader{s, probe}
		var c columns
		var values []Value
		for at, err := range r.blocks(from, to) {
			if err != nil {
				yield(nil, err)
				return
			}
			if err := r.columns(at.key, &c); err != nil {
				if !yield(nil, at.damage(probe, err)) {
					return
				}
				continue
			}
			start := at.start.UnixMilli()
			// A boot's start and an uptime are whole milliseconds; a span's ends may not be.
			least, below := ceilMilli(from)-start, min(ceilMilli(to)-start, at.last+1)
			values = values[:0]
			for i, _ := slices.BinarySearch(c.ups, least); i < len(c.ups) && c.ups[i] < below; i++ {
				if math.IsNaN(c.celsius[i]) || c.causes != nil && c.causes[i] != "" {
					continue
				}
				values = append(values, Value{start + c.ups[i], c.celsius[i], c.humidity[i]})
			}
			if len(values) > 0 && !yield(values, nil) {
				return
			}
		}
	}
}

// ceilMilli is a time in Unix milliseconds, rounded up.
func ceilMilli(t time.Time) int64 {
	ms := t.UnixMilli()
	if t.Nanosecond()%int(time.Millisecond) != 0 {
		ms++
	}
	return ms
}

// columns reads all readings of a block; none if it was trimmed.
func (r probeReader) columns(k key, c *columns) error {
	pending, open := r.inMemory(k)
	if pending != nil || len(open) > 0 {
		rows, err := r.rows(k)
		c.resize(len(rows))
		c.causes = nil
		for i, row := range rows {
			c.ups[i], c.celsius[i], c.humidity[i] = row.up, row.celsius, row.humidity
			if row.cause != "" {
				c.celsius[i] = math.NaN()
			}
		}
		return err
	}
	c.resize(0)
	err := r.view(bucketBlocks, func(b *bbolt.Bucket) error {
		v, err := stored.Of(b).Get(k)
		if v != nil {
			err = c.decode(v)
		}
		return undecodable(err)
	})
	if err != nil {
		return fmt.Errorf("probe %s, boot %d, hours %d to %d: the readings: %w",
			r.name, k.Boot, 6*int64(k.Index), 6*int64(k.Index)+6, err)
	}
	return nil
}
