package storage

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash"
	"hash/crc64"

	"go.etcd.io/bbolt"
)

// The seal is a checksum of the content with the number of its transaction. Its bucket is
// small, so it lies in the page that every commit rewrites.
var (
	bucketSeal = []byte("seal")
	keySeal    = []byte("content")
)

var polynomial = crc64.MakeTable(crc64.ECMA)

// Seal writes a checksum of all records. It is the last step of a transaction that changes
// them. The store's own pages carry no checksum. So a page that the card did not write,
// and that still holds its old content, looks sound. With a seal the next check finds it.
//
// Once one transaction of a file is sealed, all later ones must be: the check takes a
// transaction without a seal for damage and undoes it. Seal reads the whole file, so it is
// meant for the small one.
func Seal(tx *bbolt.Tx) error {
	b, err := tx.CreateBucketIfNotExists(bucketSeal)
	if err != nil {
		return err
	}
	sum, err := contentSum(tx)
	if err != nil {
		return err
	}
	v := binary.BigEndian.AppendUint64(nil, uint64(tx.ID()))
	return b.Put(keySeal, binary.BigEndian.AppendUint64(v, sum))
}

// Sealed is the records' file with a seal on every change. All stores that keep data in it
// write through this type.
type Sealed struct{ *bbolt.DB }

// Update runs a change in one transaction and seals it.
func (s Sealed) Update(change func(*bbolt.Tx) error) error {
	return s.DB.Update(func(tx *bbolt.Tx) error {
		if err := change(tx); err != nil {
			return err
		}
		return Seal(tx)
	})
}

// verifySeal checks that the content is what the last transaction sealed. A file without
// a seal passes.
func verifySeal(tx *bbolt.Tx) error {
	b := tx.Bucket(bucketSeal)
	if b == nil {
		return nil
	}
	v := b.Get(keySeal)
	if len(v) != 16 {
		return errors.New("its seal has a wrong length")
	}
	if n := binary.BigEndian.Uint64(v); n != uint64(tx.ID()) {
		return fmt.Errorf("its seal is of transaction %d, the last was %d", n, tx.ID())
	}
	sum, err := contentSum(tx)
	if err != nil {
		return err
	}
	if binary.BigEndian.Uint64(v[8:]) != sum {
		return errors.New("its content is not what the last transaction wrote")
	}
	return nil
}

// contentSum returns a checksum of all buckets but the seal.
func contentSum(tx *bbolt.Tx) (uint64, error) {
	sum := crc64.New(polynomial)
	err := tx.ForEach(func(name []byte, b *bbolt.Bucket) error {
		if string(name) == string(bucketSeal) {
			return nil
		}
		add(sum, name)
		return addBucket(sum, b)
	})
	return sum.Sum64(), err
}

// addBucket adds a bucket's sequence and its keys and values.
func addBucket(sum hash.Hash64, b *bbolt.Bucket) error {
	add(sum, binary.BigEndian.AppendUint64(nil, b.Sequence()))
	err := b.ForEach(func(k, v []byte) error {
		add(sum, k)
		if v == nil {
			return addBucket(sum, b.Bucket(k))
		}
		add(sum, v)
		return nil
	})
	add(sum, nil)
	return err
}

// add adds a field and its length. The length keeps "ab", "c" and "a", "bc" apart.
func add(sum hash.Hash64, field []byte) {
	var n [4]byte
	binary.BigEndian.PutUint32(n[:], uint32(len(field)))
	sum.Write(n[:])
	sum.Write(field)
}
