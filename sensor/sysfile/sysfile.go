// Package sysfile reads the one-value files in which the kernel offers sensors
// (Documentation/ABI/testing/sysfs-bus-iio, sysfs-class-hwmon, sysfs-driver-w1_therm),
// and says what their failures mean.
package sysfile

import (
	"context"
	"errors"
	"io"
	"io/fs"
	"math"
	"os"
	"strconv"
	"strings"
	"syscall"

	"example.com/ootherm/sensor"
)

// Reader reads a whole file; nil stands for the file itself, of which a little more than
// a value is read.
type Reader func(path string) ([]byte, error)

// longest is the most that a value of the kernel's takes: a page of memory, which is
// 16 KiB on some boards (Documentation/filesystems/sysfs).
const longest = 16 << 10

// head reads no more of a file than shows that it is too long.
func head(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, longest+1))
}

// Text is the text of a file without its last newline. A file that takes longer
// than the context is given up on, with an error of [sensor.Leave]. Errors say
// what to do and carry a [sensor.Cause].
func (read Reader) Text(ctx context.Context, path string) (string, error) {
	if err := ctx.Err(); err != nil {
		return "", sensor.Fail(sensor.NoAnswer, "%s: not read: %w", path, err)
	}
	if read == nil {
		read = head
	}
	type answer struct {
		b   []byte
		err error
	}
	c := make(chan answer, 1)
	done := make(chan struct{})
	go func() {
		defer close(done)
		b, err := read(path)
		c <- answer{b, err}
	}()
	var a answer
	select {
	case a = <-c:
	case <-ctx.Done():
		return "", sensor.Leave(done, sensor.Fail(sensor.NoAnswer, "%s: the kernel does not give the value in time: see the probe's wiring: %w", path, ctx.Err()))
	}
	switch {
	case errors.Is(a.err, syscall.EIO):
		return "", sensor.Fail(sensor.BadFrame, "%s: what the part sent failed its check: if it happens often, shorten the cable or add a pull-up resistor: %w", path, a.err)
	case errors.Is(a.err, syscall.ETIMEDOUT):
		return "", sensor.Fail(sensor.NoAnswer, "%s: the part does not answer: see its power and wiring: %w", path, a.err)
	case errors.Is(a.err, fs.ErrNotExist), errors.Is(a.err, syscall.ENODEV):
		return "", sensor.Fail(sensor.NoAnswer, "%s: the kernel no longer offers it: see that the probe is plugged in and its overlay loaded: %w", path, a.err)
	case errors.Is(a.err, fs.ErrPermission):
		return "", sensor.Fail(sensor.NoAnswer, "%s: not allowed: run as a user who may read it: %w", path, a.err)
	case a.err != nil:
		return "", sensor.Fail(sensor.NoAnswer, "%s: the part cannot be read: see its power and wiring: %w", path, a.err)
	case len(a.b) > longest:
		return "", sensor.Fail(sensor.BadFrame, "%s: it is longer than any value of the kernel's, %d bytes: see that it is the file of a probe", path, longest)
	case len(a.b) == 0:
		return "", sensor.Fail(sensor.NoAnswer, "%s: the file is empty: the part did not answer the kernel: see its power and wiring", path)
	}
	text, whole := strings.CutSuffix(string(a.b), "\n")
	if !whole {
		return "", sensor.Fail(sensor.BadFrame, "%s: the value %.40q is cut short: it will be read again", path, a.b)
	}
	return text, nil
}

// Number is the number in a file.
func (read Reader) Number(ctx context.Context, path string) (float64, error) {
	text, err := read.Text(ctx, path)
	if err != nil {
		return math.NaN(), err
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return math.NaN(), sensor.Fail(sensor.BadFrame, "%s: %.40q is not a number: it will be read again", path, text)
	}
	return v, nil
}
