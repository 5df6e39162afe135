package main

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"sort"
	"time"
)

// packed is a file a probe with twelve bytes a reading: Unix milliseconds, and hundredths of a
// kelvin and of a percent. It has no index, no sums and no transactions: the least work there is.
type packed struct{ files []*os.File }

const packedBytes = 12

// maxPackedProbes is how many files are made.
const maxPackedProbes = 64

func openPacked(dir string) (store, error) {
	p := packed{}
	for i := range maxPackedProbes {
		f, err := os.OpenFile(filepath.Join(dir, fmt.Sprint(i)), os.O_CREATE|os.O_RDWR|os.O_APPEND, 0o600)
		if err != nil {
			return nil, errors.Join(err, p.close())
		}
		p.files = append(p.files, f)
	}
	return p, nil
}

func (p packed) load(day [][]reading) error {
	for probe, all := range day {
		b := make([]byte, 0, packedBytes*len(all))
		for _, r := range all {
			b = binary.LittleEndian.AppendUint64(b, uint64(r.at.UnixMilli()))
			b = binary.LittleEndian.AppendUint16(b, uint16(int16(math.Round(r.celsius*100))))
			b = binary.LittleEndian.AppendUint16(b, uint16(math.Round(r.humidity*1e4)))
		}
		if _, err := p.files[probe].Write(b); err != nil {
			return err
		}
	}
	return nil
}

func (p packed) settle() error { return nil }

// each goes through the readings of a probe in a span.
func (p packed) each(probe int, from, to time.Time, do func(at int64, celsius float64)) error {
	f := p.files[probe]
	info, err := f.Stat()
	if err != nil {
		return err
	}
	var failed error
	find := func(t time.Time) int64 {
		return packedBytes * int64(sort.Search(int(info.Size()/packedBytes), func(i int) bool {
			var b [8]byte
			_, err := f.ReadAt(b[:], int64(i)*packedBytes)
			failed = errors.Join(failed, err)
			return int64(binary.LittleEndian.Uint64(b[:])) >= t.UnixMilli()
		}))
	}
	at, end := find(from), find(to)
	for b := make([]byte, 1024*packedBytes); failed == nil && at < end; {
		n, err := f.ReadAt(b[:min(int64(len(b)), end-at)], at)
		if err != nil && !errors.Is(err, io.EOF) {
			return err
		}
		for i := 0; i < n; i += packedBytes {
			do(int64(binary.LittleEndian.Uint64(b[i:])), float64(int16(binary.LittleEndian.Uint16(b[i+8:])))/100)
		}
		at += int64(n)
	}
	return failed
}

func (p packed) scan(probe int, from, to time.Time) (n int, sum float64, err error) {
	err = p.each(probe, from, to, func(_ int64, v float64) { n, sum = n+1, sum+v })
	return n, sum, err
}

func (p packed) hourly(probe int, from, to time.Time) (hours []hour, err error) {
	var last int64
	err = p.each(probe, from, to, func(at int64, v float64) { hours = hourOf(hours, &last, at, v) })
	return hours, err
}

func (p packed) close() (err error) {
	for _, f := range p.files {
		err = errors.Join(err, f.Close())
	}
	return err
}
