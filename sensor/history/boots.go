package history

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/history/column"
	"example.com/ootherm/sensor/history/stored"
)

// Boot is one run of the machine: its readings lie at Start plus their uptime.
type Boot struct {
	Number       uint32
	ID           string        // what the kernel calls it
	Start        time.Time     // at uptime zero, UTC, to the millisecond
	Bound        time.Duration // how wrong Start may be, either way
	Synchronised bool          // whether Start came from a synchronised clock
}

// boot is a Boot and the last uptime of any reading in it, milliseconds.
type boot struct {
	Boot
	length int64
}

// bootList holds the boots, the oldest first, with the dates that are handed out.
type bootList struct {
	all     []boot
	dated   []Boot          // replaced, never changed
	redated map[uint32]bool // boots whose record is not written yet
}

// find is where a boot lies; numbers ascend.
func (l *bootList) find(number uint32) (int, bool) {
	return slices.BinarySearchFunc(l.all, number, func(b boot, n uint32) int { return int(int64(b.Number) - int64(n)) })
}

// lengthen notes an uptime of a reading in a boot, milliseconds.
func (l *bootList) lengthen(number uint32, up int64) {
	i, ok := l.find(number)
	if !ok || up <= l.all[i].length {
		return
	}
	l.all[i].length = up
	if i < len(l.all)-1 {
		l.updateDates()
	}
}

// adopt makes a record for a boot that has readings and lost its own. It is
// placed after the boot before it.
func (l *bootList) adopt(number uint32) {
	at, ok := l.find(number)
	if ok {
		return
	}
	b := Boot{Number: number, ID: fmt.Sprintf("lost-%d", number), Start: time.UnixMilli(0).UTC(), Bound: math.MaxInt64}
	l.all = slices.Insert(l.all, at, boot{Boot: b})
	l.redated[number] = true
}

// updateDates computes the dates that are handed out, a new slice each time so that a
// reader may keep the old one.
func (l *bootList) updateDates() {
	dated := make([]Boot, len(l.all))
	for i, b := range l.all {
		dated[i] = b.Boot
	}
	end := func(i int) time.Time {
		return dated[i].Start.Add(time.Duration(l.all[i].length) * time.Millisecond)
	}
	var before time.Time // a synchronised boot began then
	for i := len(dated) - 1; i >= 0; i-- {
		b := &dated[i]
		if !b.Synchronised && !before.IsZero() && end(i).After(before) {
			b.Start = b.Start.Add(before.Sub(end(i)))
		}
		if b.Synchronised || !before.IsZero() {
			before = b.Start
		}
	}
	for i := 1; i < len(dated); i++ {
		if e := end(i - 1); dated[i].Start.Before(e) {
			dated[i].Start = e
		}
	}
	l.dated = dated
}

// Begin starts the boot of this id, or goes on with it if it is known already:
// then its date stays as it is until [Store.Date]. The new boot is readable at
// once and durable with the next Flush.
//
// No boot begins before the one before it ended. Where the starts say
// otherwise, an unsynchronised boot gives way to the synchronised ones, and a
// later boot to an earlier; the boots returned here are after this rule.
func (s *Store) Begin(id string, start time.Time, bound time.Duration, synchronised bool) (Boot, error) {
	if id == "" {
		return Boot{}, errors.New("a boot has no id")
	}
	if err := checkDate(start, bound); err != nil {
		return Boot{}, fmt.Errorf("boot %s: %w", id, err)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	l := &s.boots
	for i, b := range l.all {
		if b.ID == id {
			return l.dated[i], nil
		}
	}
	number := uint32(1)
	if n := len(l.all); n > 0 {
		number = l.all[n-1].Number + 1
	}
	l.all = append(l.all, boot{Boot: Boot{number, id, milli(start), bound, synchronised}})
	l.redated[number] = true
	l.updateDates()
	return l.dated[len(l.dated)-1], nil
}

// Date dates a boot again, and with it all its readings and summaries, by one
// record. It is durable with the next Flush.
func (s *Store) Date(number uint32, start time.Time, bound time.Duration, synchronised bool) error {
	if err := checkDate(start, bound); err != nil {
		return fmt.Errorf("boot %d: %w", number, err)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	l := &s.boots
	i, ok := l.find(number)
	if !ok {
		return unknownBoot(number)
	}
	b := &l.all[i]
	b.Start, b.Bound, b.Synchronised = milli(start), bound, synchronised
	l.redated[number] = true
	l.updateDates()
	return nil
}

// Boots are all boots, the oldest first.
func (s *Store) Boots() []Boot {
	s.mu.RLock()
	defer s.mu.RUnlock()
	return slices.Clone(s.boots.dated)
}

// Time is when a stamp was, by what is known of its boot now.
func (s *Store) Time(at sensor.Stamp) (time.Time, error) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	i, ok := s.boots.find(at.Boot)
	if !ok {
		return time.Time{}, unknownBoot(at.Boot)
	}
	return s.boots.dated[i].Start.Add(at.Uptime.Truncate(Resolution)), nil
}

// EndBefore is the last time recorded in the boots before one, zero if there is
// none: that boot cannot have begun earlier.
func (s *Store) EndBefore(number uint32) time.Time {
	s.mu.RLock()
	defer s.mu.RUnlock()
	i, _ := s.boots.find(number)
	if i == 0 {
		return time.Time{}
	}
	return s.boots.dated[i-1].Start.Add(time.Duration(s.boots.all[i-1].length) * time.Millisecond)
}

func unknownBoot(number uint32) error {
	return fmt.Errorf("boot %d was never begun", number)
}

func checkDate(start time.Time, bound time.Duration) error {
	if y := start.Year(); y < 1970 || y > 2200 {
		return fmt.Errorf("cannot have started at %s", start.UTC().Format(time.RFC3339))
	}
	if bound < 0 {
		return fmt.Errorf("the bound of its start is negative (%s)", bound)
	}
	return nil
}

func milli(t time.Time) time.Time { return time.UnixMilli(t.UnixMilli()).UTC() }

const bootVersion = 1

func (b Boot) encode() []byte {
	out := []byte{bootVersion}
	out = binary.AppendUvarint(out, uint64(len(b.ID)))
	out = append(out, b.ID...)
	out = binary.AppendVarint(out, b.Start.UnixMilli())
	out = binary.AppendVarint(out, int64(b.Bound))
	if b.Synchronised {
		out = append(out, 1)
	} else {
		out = append(out, 0)
	}
	return stored.Seal(out, 0)
}

func decodeBoot(k, v []byte) (Boot, error) {
	body, err := stored.Unseal(v)
	if err != nil {
		return Boot{}, err
	}
	if len(k) != 4 {
		return Boot{}, errors.New("a boot's number is not four bytes")
	}
	r := column.Reader{B: body}
	if v := r.Byte(); r.Err == nil && v != bootVersion {
		return Boot{}, fmt.Errorf("boot version %d is unknown", v)
	}
	b := Boot{Number: binary.BigEndian.Uint32(k)}
	b.ID = string(r.Bytes(r.Uvarint()))
	b.Start = time.UnixMilli(r.Varint()).UTC()
	b.Bound = time.Duration(r.Varint())
	b.Synchronised = r.Byte() == 1
	if r.Err != nil {
		return Boot{}, r.Err
	}
	return b, nil
}
