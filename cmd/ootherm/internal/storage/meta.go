package storage

import (
	"encoding/binary"
	"errors"
	"hash/fnv"
	"os"
)

// The store keeps two meta pages, at the start of its first two pages, and writes them in
// turn. The one with the higher transaction is the present state. The other one is the
// state before it, and the store does not reuse that state's pages until the next commit.
//
// Layout: a page header of 16 bytes (number 8, flags 2, count 2, overflow 4), then magic,
// version, page size and flags (4 bytes each), the root bucket (16), the free list's page,
// the first unused page, the transaction (8 each) and their FNV-1a sum (8), in the byte
// order of the machine (go.etcd.io/bbolt v1.5.0, internal/common/page.go and meta.go).
const (
	metaStart       = 16
	metaPageSize    = metaStart + 8
	metaEndPage     = metaStart + 40 // the first unused page
	metaTransaction = metaStart + 48
	metaSum         = metaStart + 56
	metaEnd         = metaSum + 8
	metaMagic       = 0xED0CDAED
	metaFlag        = 0x04 // of the page header
)

var errNoGoodState = errors.New("there is no good state to go back to")

// rollBack sets a file back to its other state. Of two sound meta pages it spoils the sum
// of the newer one, which undoes one commit. If only one is sound, it spoils the other. It
// rewrites the headers of both pages, because they have no sum.
func rollBack(path string) (err error) {
	file, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	first, firstSound := readMeta(file, 0)
	size := pageSize(file)
	if size == 0 {
		return errNoGoodState
	}
	second, secondSound := readMeta(file, size)
	spoil := int64(0) // offset of the page to spoil
	if firstSound && (!secondSound || transaction(second) > transaction(first)) {
		spoil = size
	}
	for number := range int64(2) {
		header := make([]byte, metaStart)
		binary.NativeEndian.PutUint64(header, uint64(number))
		binary.NativeEndian.PutUint16(header[8:], metaFlag)
		if _, err := file.WriteAt(header, number*size); err != nil {
			return err
		}
	}
	if _, err := file.WriteAt(make([]byte, metaEnd-metaSum), spoil+metaSum); err != nil {
		return err
	}
	return nil
}

// pageSize returns the page size of a file in bytes, or 0 if it has no sound meta page.
func pageSize(file *os.File) int64 {
	if b, ok := readMeta(file, 0); ok {
		return int64(binary.NativeEndian.Uint32(b[metaPageSize:]))
	}
	// The second meta page begins at one page size, so its own value must match its place.
	for at := int64(1 << 10); at <= 1<<16; at <<= 1 {
		if b, ok := readMeta(file, at); ok && int64(binary.NativeEndian.Uint32(b[metaPageSize:])) == at {
			return at
		}
	}
	return 0
}

// maxTail is the longest tail, in bytes, that is added to a file. A damaged meta page can
// claim any number of pages (our choice: the default limit of the larger file).
const maxTail = 256 << 20

// missingTail returns how many bytes a file is shorter than its pages. The free pages of a
// store can lie at its end.
func missingTail(path string) (int64, error) {
	file, err := os.Open(path)
	if err != nil {
		return 0, err
	}
	defer file.Close()
	info, err := file.Stat()
	if err != nil {
		return 0, err
	}
	size, end := pageSize(file), int64(0)
	for _, at := range []int64{0, size} {
		if b, ok := readMeta(file, at); ok {
			end = max(end, int64(min(binary.NativeEndian.Uint64(b[metaEndPage:]), maxTail))*size)
		}
	}
	return min(max(0, end-info.Size()), maxTail), nil
}

// addTail adds the pages that are missing at the end of a file, as zeros. The check of the
// file finds out whether they are free.
func addTail(path string) error {
	missing, err := missingTail(path)
	if err != nil {
		return err
	}
	info, err := os.Stat(path)
	if err != nil {
		return err
	}
	return os.Truncate(path, info.Size()+missing)
}

// transaction returns the number of a meta page's transaction.
func transaction(meta []byte) uint64 { return binary.NativeEndian.Uint64(meta[metaTransaction:]) }

// readMeta reads the meta page at an offset and reports whether it is sound.
func readMeta(file *os.File, at int64) ([]byte, bool) {
	b := make([]byte, metaEnd)
	if _, err := file.ReadAt(b, at); err != nil {
		return nil, false
	}
	sum := fnv.New64a()
	sum.Write(b[metaStart:metaSum])
	return b, binary.NativeEndian.Uint32(b[metaStart:]) == metaMagic && sum.Sum64() == binary.NativeEndian.Uint64(b[metaSum:])
}
