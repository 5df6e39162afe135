package stored

import (
	"encoding/binary"
	"errors"
	"fmt"

	"example.com/ootherm/sensor/history/column"
	"go.etcd.io/bbolt"
)

// The store keeps at most two large values on a run of pages, and wastes half a page of each run
// on average. So the blocks of a day of uptime become one value once the next day begins: the
// runs are then four times as long. Each block in it keeps its own sum.
const (
	dayBlocks  = 4
	dayVersion = 0x81 // the versions of blocks are lower, which tells them apart
	dayBit     = 0x80
)

// Day is the blocks of one day of uptime; nil where there is none.
type Day [dayBlocks][]byte

// Day is the key of the day in which a block lies: that of the first block that it can hold.
func (k Key) Day() Key { return Key{k.Boot, k.Index - k.Index%dayBlocks} }

// IsDay reports whether a value of the bucket is a day.
func IsDay(v []byte) bool { return len(v) > 0 && v[0]&dayBit != 0 }

// Encode writes a version, the blocks' lengths and a sum over both, and the blocks.
func (d *Day) Encode() []byte {
	b, size := []byte{dayVersion}, 0
	for _, block := range d {
		b = binary.AppendUvarint(b, uint64(len(block)))
		size += len(block)
	}
	b = append(make([]byte, 0, len(b)+4+size), Seal(b, 0)...)
	for _, block := range d {
		b = append(b, block...)
	}
	return b
}

// ReadDay reads what Encode wrote. The blocks are parts of v.
func ReadDay(v []byte) (d Day, err error) {
	r := column.Reader{B: v}
	version := r.Byte()
	var lengths [dayBlocks]uint64
	for i := range lengths {
		lengths[i] = r.Uvarint()
	}
	head := len(v) - len(r.B) + 4
	if r.Err != nil || head > len(v) {
		return Day{}, errors.New("the head of a day ends early")
	}
	if _, err := Unseal(v[:head]); err != nil {
		return Day{}, fmt.Errorf("the head of a day: %w", err)
	}
	if version != dayVersion {
		return Day{}, fmt.Errorf("version %#x of a day is unknown", version)
	}
	r.B = v[head:]
	for i, n := range lengths {
		if n > 0 {
			d[i] = r.Bytes(n)
		}
	}
	if r.Err != nil || len(r.B) > 0 {
		return Day{}, errors.New("the blocks of a day do not fit its head")
	}
	return d, nil
}

// Blocks are the blocks of one probe in a file: key -> block, or the key of a day -> day.
type Blocks struct{ bucket *bbolt.Bucket }

// Of gives the blocks in a bucket.
func Of(b *bbolt.Bucket) Blocks { return Blocks{b} }

// Get gives a block, nil if there is none.
func (b Blocks) Get(k Key) ([]byte, error) {
	v := b.bucket.Get(k.Bytes())
	if v == nil {
		if v = b.bucket.Get(k.Day().Bytes()); !IsDay(v) {
			return nil, nil
		}
	}
	if !IsDay(v) {
		return v, nil
	}
	d, err := ReadDay(v)
	if err != nil {
		return nil, err
	}
	return d[k.Index%dayBlocks], nil
}

// Put stores a block, and makes one value of the day before it.
func (b Blocks) Put(k Key, block []byte) error {
	if err := b.joinBefore(k.Day()); err != nil {
		return err
	}
	if v := b.bucket.Get(k.Day().Bytes()); IsDay(v) {
		if d, err := ReadDay(v); err == nil {
			d[k.Index%dayBlocks] = block
			return b.bucket.Put(k.Day().Bytes(), d.Encode())
		}
	}
	return b.bucket.Put(k.Bytes(), block)
}

// joinBefore makes one value of the last day before a key, if it is not one yet.
func (b Blocks) joinBefore(k Key) error {
	c := b.bucket.Cursor()
	before := c.Prev
	if at, _ := c.Seek(k.Bytes()); at == nil {
		before = c.Last
	}
	at, v := before()
	last, ok := ReadKey(at)
	if !ok || IsDay(v) {
		return nil
	}
	var d Day
	var keys []Key
	for at, v = c.Seek(last.Day().Bytes()); at != nil; at, v = c.Next() {
		here, ok := ReadKey(at)
		if !ok || IsDay(v) {
			return nil // damage
		}
		if here.Day() != last.Day() {
			break
		}
		d[here.Index%dayBlocks] = v
		keys = append(keys, here)
	}
	if len(keys) < 2 {
		return nil
	}
	value := d.Encode()
	for _, old := range keys {
		if err := b.bucket.Delete(old.Bytes()); err != nil {
			return err
		}
	}
	return b.bucket.Put(last.Day().Bytes(), value)
}

// Listed is a block of a file, or one that a damaged day may have held.
type Listed struct {
	Key
	Value int // the number of the value that holds it
	Block []byte
	Err   error
}

// List gives the blocks in their order, and how many values hold them.
func (b Blocks) List() (all []Listed, values int, err error) {
	err = b.bucket.ForEach(func(k, v []byte) error {
		at, ok := ReadKey(k)
		if !ok {
			return fmt.Errorf("a key of %d bytes among the blocks", len(k))
		}
		if !IsDay(v) {
			all = append(all, Listed{at, values, v, nil})
			values++
			return nil
		}
		d, damage := ReadDay(v)
		for i, block := range d {
			if block != nil || damage != nil {
				all = append(all, Listed{Key{at.Boot, at.Day().Index + uint32(i)}, values, block, damage})
			}
		}
		values++
		return nil
	})
	return all, values, err
}
