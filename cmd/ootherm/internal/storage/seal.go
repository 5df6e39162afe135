package storage

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash"
	"hash/crc64"

	"go.etcd.io/bbolt"
)

// The seal is a small bucket, and so lies in the page that every commit writes
// anew: what the content came to, and in which transaction.
var (
	bucketSeal = []byte("seal")
	keySeal    = []byte("content")
)

var polynomial = crc64.MakeTable(crc64.ECMA)

// Seal is the last thing to do in a transaction that changes the records: it
// writes down what all of their content comes to. The store's own pages carry no
// sum, so that a page that the card never wrote, and that still holds what was
// there before, passes for the present; with a seal the next check sees it.
//
// Once one transaction of a file was sealed all must be: one without is taken
// for damage, and taken back. Seal reads the whole file, so it is meant for the
// small one.
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

// Sealed is the records' file, every change of it sealed. Whoever keeps something
// in it writes through this.
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

// verifySeal sees that the content is what the last transaction sealed, if any
// ever did.
func verifySeal(tx *bbolt.Tx) error {
	b := tx.Bucket(bucketSeal)
	if b == nil {
		return nil
	}
	v := b.Get(keySeal)
	if len(v) != 16 {
		return errors.New("its seal is no seal")
	}
	if n := binary.BigEndian.Uint64(v); n != uint64(tx.ID()) {
		return fmt.Errorf("its seal is of transaction %d, the last was %d", n, tx.ID())
	}
	sum, err := contentSum(tx)
	if err != nil {
		return err
	}
	if binary.BigEndian.Uint64(v[8:]) != sum {
		return errors.New("its content is not what was last written")
	}
	return nil
}

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

// add takes a field and its length, so that two fields are not one.
func add(sum hash.Hash64, field []byte) {
	var n [4]byte
	binary.BigEndian.PutUint32(n[:], uint32(len(field)))
	sum.Write(n[:])
	sum.Write(field)
}
