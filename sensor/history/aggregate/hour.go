package aggregate

import (
	"cmp"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"example.com/ootherm/sensor/history/column"
)

// Hour holds some readings of an hour of uptime. Uptimes do not change when a boot is dated
// again.
type Hour struct {
	index             int64 // which hour of the boot's uptime
	first, last       int64 // uptimes of readings, milliseconds
	measured          int64 // between neighbours of them within the gap limit, milliseconds
	celsius, humidity Statistic
}

// Hours are those of a block of readings, in order. Hours without a reading are left out.
type Hours []Hour

const hourMillis = int64(time.Hour / time.Millisecond)

// Take adds a reading behind the others, at an uptime in milliseconds. Its temperature is
// Celsius; its humidity is a ratio, or NaN. Limit is the longest span between two readings that
// counts as measured.
func (all Hours) Take(up int64, celsius, humidity float64, limit time.Duration) Hours {
	n := len(all)
	if index := up / hourMillis; n == 0 || all[n-1].index != index {
		all = append(all, Hour{index: index, first: up, last: up, celsius: None(), humidity: None()})
		n++
	}
	h := &all[n-1]
	if span := up - h.last; time.Duration(span)*time.Millisecond <= limit {
		h.measured += span
	}
	h.last = up
	h.celsius = h.celsius.plus(one(celsius))
	if !math.IsNaN(humidity) {
		h.humidity = h.humidity.plus(one(humidity))
	}
	return all
}

func one(v float64) Statistic { return Statistic{Count: 1, Mean: v, Least: v, Most: v} }

// Join is the hours of readings and of later ones of the same block.
func Join(before, after Hours, limit time.Duration) Hours {
	if len(before) == 0 || len(after) == 0 {
		return append(slices.Clip(before), after...)
	}
	all := slices.Clone(before)
	if a, b := &all[len(all)-1], after[0]; a.index == b.index {
		if span := b.first - a.last; time.Duration(span)*time.Millisecond <= limit {
			a.measured += span
		}
		a.last, a.measured = b.last, a.measured+b.measured
		a.celsius, a.humidity = a.celsius.plus(b.celsius), a.humidity.plus(b.humidity)
		after = after[1:]
	}
	return append(all, after...)
}

const (
	hoursVersion = 1
	maxHours     = 24 // of a block; a larger count is damage
)

// Encode writes the hours of a block that has so many readings, believed or not. The count
// tells later whether the hours are of all readings of the block.
func Encode(readings uint64, hours Hours) []byte {
	b := binary.AppendUvarint([]byte{hoursVersion}, readings)
	b = binary.AppendUvarint(b, uint64(len(hours)))
	if len(hours) == 0 {
		return b
	}
	for _, of := range hourInts {
		ints := make([]int64, len(hours))
		for i := range hours {
			ints[i] = of.get(&hours[i])
		}
		b = column.AppendInts(b, ints)
	}
	for _, of := range hourFloats {
		floats := make([]float64, len(hours))
		for i := range hours {
			floats[i] = *of(&hours[i])
		}
		b = column.AppendFloats(b, floats)
	}
	return b
}

// hourInts and hourFloats are the columns of stored hours, in their order.
var (
	hourInts = []struct {
		get func(*Hour) int64
		set func(*Hour, int64)
	}{
		{func(h *Hour) int64 { return h.index }, func(h *Hour, v int64) { h.index = v }},
		{func(h *Hour) int64 { return h.first - h.index*hourMillis }, func(h *Hour, v int64) { h.first = h.index*hourMillis + v }},
		{func(h *Hour) int64 { return h.last - h.first }, func(h *Hour, v int64) { h.last = h.first + v }},
		{func(h *Hour) int64 { return h.measured }, func(h *Hour, v int64) { h.measured = v }},
		{func(h *Hour) int64 { return int64(h.celsius.Count) }, func(h *Hour, v int64) { h.celsius.Count = int(v) }},
		{func(h *Hour) int64 { return int64(h.humidity.Count) }, func(h *Hour, v int64) { h.humidity.Count = int(v) }},
	}
	hourFloats = []func(*Hour) *float64{
		func(h *Hour) *float64 { return &h.celsius.Mean },
		func(h *Hour) *float64 { return &h.celsius.Least },
		func(h *Hour) *float64 { return &h.celsius.Most },
		func(h *Hour) *float64 { return &h.humidity.Mean },
		func(h *Hour) *float64 { return &h.humidity.Least },
		func(h *Hour) *float64 { return &h.humidity.Most },
	}
)

// Decode reads what Encode wrote.
func Decode(b []byte) (readings uint64, hours Hours, err error) {
	r := column.Reader{B: b}
	if v := r.Byte(); r.Err == nil && v != hoursVersion {
		return 0, nil, fmt.Errorf("version %d of a block's hours is unknown", v)
	}
	readings = r.Uvarint()
	n := r.Uvarint()
	if r.Err != nil || n > maxHours {
		return 0, nil, errors.New("the count of a block's hours makes no sense")
	}
	if n == 0 {
		return readings, nil, nil
	}
	hours = make(Hours, n)
	ints, floats := make([]int64, n), make([]float64, n)
	for _, of := range hourInts {
		if r.B, err = column.ReadInts(r.B, ints); err != nil {
			return 0, nil, err
		}
		for i := range hours {
			of.set(&hours[i], ints[i])
		}
	}
	for _, of := range hourFloats {
		if r.B, err = column.ReadFloats(r.B, floats, ints); err != nil {
			return 0, nil, err
		}
		for i := range hours {
			*of(&hours[i]) = floats[i]
		}
	}
	if !slices.IsSortedFunc(hours, func(a, b Hour) int { return cmp.Compare(a.index, b.index) }) {
		return 0, nil, errors.New("the hours of a block are out of order")
	}
	return readings, hours, nil
}
