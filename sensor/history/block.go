package history

import (
	"cmp"
	"encoding/binary"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/history/column"
	"example.com/ootherm/sensor/history/stored"
)

// blockSpan is how much uptime a block covers. Six hours scanned fastest and
// smallest of the layouts measured for a season of twelve probes.
const blockSpan = 6 * time.Hour

// row is one reading of a known probe and boot.
type row struct {
	up       int64 // milliseconds
	celsius  float64
	humidity float64
	cause    sensor.Cause
}

type key = stored.Key

const spanMillis = int64(blockSpan / time.Millisecond)

func keyOf(boot uint32, up int64) key { return key{Boot: boot, Index: uint32(up / spanMillis)} }

const (
	blockVersion = 2       // 1 knew fewer ways of writing a column
	maxRows      = 1 << 20 // a reading every 20 ms; a larger count is damage
)

// encode writes rows, sorted by uptime and not empty: a version, how many,
// uptimes, temperatures, humidities, causes, and a sum over it all. The store's
// own pages carry no sum, so a torn one would pass for readings.
func encode(b []byte, rows []row) []byte {
	start := len(b)
	b = append(b, blockVersion)
	b = binary.AppendUvarint(b, uint64(len(rows)))
	c := spare.Get().(*columns)
	defer spare.Put(c)
	c.fill(rows)
	b = column.AppendInts(b, c.ups)
	b = column.AppendFloats(b, c.celsius)
	b = column.AppendFloats(b, c.humidity)
	b = column.AppendNames(b, c.causes)
	return stored.Seal(b, start)
}

// columns are the readings of a block, by what was measured. Reading or writing another block
// with the same columns uses their memory again.
type columns struct {
	ups               []int64 // milliseconds; sorted, each once
	celsius, humidity []float64
	causes            []sensor.Cause // nil where all are believed
	scratch           []int64
}

// resize makes room for n readings.
func (c *columns) resize(n int) {
	c.ups, c.scratch = slices.Grow(c.ups[:0], n)[:n], slices.Grow(c.scratch[:0], n)[:n]
	c.celsius, c.humidity = slices.Grow(c.celsius[:0], n)[:n], slices.Grow(c.humidity[:0], n)[:n]
}

// fill takes the readings of rows.
func (c *columns) fill(rows []row) {
	c.resize(len(rows))
	c.causes = slices.Grow(c.causes[:0], len(rows))[:len(rows)]
	for i, r := range rows {
		c.ups[i], c.celsius[i], c.humidity[i], c.causes[i] = r.up, r.celsius, r.humidity, r.cause
	}
}

// decode reads what encode wrote.
func (c *columns) decode(b []byte) error {
	body, err := stored.Unseal(b)
	if err != nil {
		return err
	}
	r := column.Reader{B: body}
	if v := r.Byte(); r.Err == nil && (v == 0 || v > blockVersion) {
		return fmt.Errorf("block version %d is unknown", v)
	}
	n := r.Uvarint()
	if r.Err != nil || n == 0 || n > maxRows {
		return errors.New("the count of readings makes no sense")
	}
	c.resize(int(n))
	if r.B, err = column.ReadInts(r.B, c.ups); err != nil {
		return err
	}
	for i, up := range c.ups {
		if up < 0 || i > 0 && up <= c.ups[i-1] {
			return errors.New("uptimes are out of order")
		}
	}
	if r.B, err = column.ReadFloats(r.B, c.celsius, c.scratch); err != nil {
		return err
	}
	if r.B, err = column.ReadFloats(r.B, c.humidity, c.scratch); err != nil {
		return err
	}
	if c.causes, err = column.ReadNames(&r, c.causes, int(n)); err != nil {
		return err
	}
	if len(r.B) != 0 {
		return errors.New("a block goes on past its end")
	}
	return nil
}

// spare are columns that encode and decode use again.
var spare = sync.Pool{New: func() any { return new(columns) }}

// decode reads what encode wrote. Uptimes come back sorted, each once.
func decode(b []byte) ([]row, error) {
	c := spare.Get().(*columns)
	defer spare.Put(c)
	if err := c.decode(b); err != nil {
		return nil, err
	}
	rows := make([]row, len(c.ups))
	for i := range rows {
		rows[i] = row{up: c.ups[i], celsius: c.celsius[i], humidity: c.humidity[i]}
		if c.causes != nil {
			rows[i].cause = c.causes[i]
		}
	}
	return rows, nil
}

// union joins two runs of rows sorted by uptime; of two with the same uptime
// the first is kept.
func union(a, b []row) []row {
	if len(a) == 0 {
		return b
	}
	if len(b) == 0 {
		return a
	}
	if a[len(a)-1].up < b[0].up {
		return append(slices.Clip(a), b...)
	}
	out := make([]row, 0, len(a)+len(b))
	for len(a) > 0 && len(b) > 0 {
		switch c := cmp.Compare(a[0].up, b[0].up); {
		case c < 0:
			out, a = append(out, a[0]), a[1:]
		case c > 0:
			out, b = append(out, b[0]), b[1:]
		default:
			out, a, b = append(out, a[0]), a[1:], b[1:]
		}
	}
	return append(append(out, a...), b...)
}
