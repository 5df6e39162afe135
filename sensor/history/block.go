package history

import (
	"cmp"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"slices"
	"time"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/history/column"
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

// key names a block of one probe: the boot, and which span of its uptime.
type key struct{ boot, index uint32 }

const spanMillis = int64(blockSpan / time.Millisecond)

func keyOf(boot uint32, up int64) key { return key{boot, uint32(up / spanMillis)} }

func (k key) compare(o key) int {
	return cmp.Or(cmp.Compare(k.boot, o.boot), cmp.Compare(k.index, o.index))
}

// bytes sorts as the key does.
func (k key) bytes() []byte {
	b := binary.BigEndian.AppendUint32(nil, k.boot)
	return binary.BigEndian.AppendUint32(b, k.index)
}

func readKey(b []byte) (key, bool) {
	if len(b) != 8 {
		return key{}, false
	}
	return key{binary.BigEndian.Uint32(b), binary.BigEndian.Uint32(b[4:])}, true
}

const (
	blockVersion = 1
	maxRows      = 1 << 20 // a reading every 20 ms; a larger count is damage
)

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// encode writes rows, sorted by uptime and not empty: a version, how many,
// uptimes, temperatures, humidities, causes, and a sum over it all. The store's
// own pages carry no sum, so a torn one would pass for readings.
func encode(b []byte, rows []row) []byte {
	start := len(b)
	b = append(b, blockVersion)
	b = binary.AppendUvarint(b, uint64(len(rows)))
	ints := make([]int64, len(rows))
	for i, r := range rows {
		ints[i] = r.up
	}
	b = column.AppendInts(b, ints)
	floats := make([]float64, len(rows))
	for i, r := range rows {
		floats[i] = r.celsius
	}
	b = column.AppendFloats(b, floats)
	for i, r := range rows {
		floats[i] = r.humidity
	}
	b = column.AppendFloats(b, floats)
	causes := make([]sensor.Cause, len(rows))
	for i, r := range rows {
		causes[i] = r.cause
	}
	b = column.AppendNames(b, causes)
	return seal(b, start)
}

// columns are the readings of a block, by what was measured. Decoding another block into the
// same columns uses their memory again.
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

// decode reads what encode wrote.
func (c *columns) decode(b []byte) error {
	body, err := unseal(b)
	if err != nil {
		return err
	}
	r := column.Reader{B: body}
	if v := r.Byte(); r.Err == nil && v != blockVersion {
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
	if c.causes, err = column.ReadNames[sensor.Cause](&r, int(n)); err != nil {
		return err
	}
	if len(r.B) != 0 {
		return errors.New("a block goes on past its end")
	}
	return nil
}

// decode reads what encode wrote. Uptimes come back sorted, each once.
func decode(b []byte) ([]row, error) {
	var c columns
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

// seal appends the sum of b from start on; unseal checks and removes it.
func seal(b []byte, start int) []byte {
	return binary.LittleEndian.AppendUint32(b, crc32.Checksum(b[start:], castagnoli))
}

func unseal(b []byte) ([]byte, error) {
	if len(b) < 4 {
		return nil, errors.New("too short to hold its sum")
	}
	body := b[:len(b)-4]
	if crc32.Checksum(body, castagnoli) != binary.LittleEndian.Uint32(b[len(b)-4:]) {
		return nil, errors.New("the sum does not fit: the bytes were damaged on the card")
	}
	return body, nil
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
