// Package stored keeps the blocks of a probe in a bucket of a file: each under its key, and those
// of a finished day in one value. It owns their keys and sums. It must not know what is in a
// block.
package stored

import (
	"cmp"
	"encoding/binary"
	"errors"
	"hash/crc32"
)

// Key names a block of one probe: the boot, and which span of its uptime.
type Key struct{ Boot, Index uint32 }

// Compare orders keys by boot, then by index.
func (k Key) Compare(o Key) int {
	return cmp.Or(cmp.Compare(k.Boot, o.Boot), cmp.Compare(k.Index, o.Index))
}

// Bytes sorts as the key does.
func (k Key) Bytes() []byte {
	b := binary.BigEndian.AppendUint32(nil, k.Boot)
	return binary.BigEndian.AppendUint32(b, k.Index)
}

// ReadKey reads what Bytes gave.
func ReadKey(b []byte) (Key, bool) {
	if len(b) != 8 {
		return Key{}, false
	}
	return Key{binary.BigEndian.Uint32(b), binary.BigEndian.Uint32(b[4:])}, true
}

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// Seal appends the sum of b from start on; Unseal checks and removes it.
func Seal(b []byte, start int) []byte {
	return binary.LittleEndian.AppendUint32(b, crc32.Checksum(b[start:], castagnoli))
}

func Unseal(b []byte) ([]byte, error) {
	if len(b) < 4 {
		return nil, errors.New("too short to hold its sum")
	}
	body := b[:len(b)-4]
	if crc32.Checksum(body, castagnoli) != binary.LittleEndian.Uint32(b[len(b)-4:]) {
		return nil, errors.New("the sum does not fit: the bytes were damaged on the card")
	}
	return body, nil
}
