// Compare measures the history beside the time series database of Prometheus and SQLite, both
// as libraries, and beside a packed file, in one run over the same readings: size, what a day
// writes, load, a season's scan, a day's query and a season's hourly summary. It prints a table
// in Markdown. It is a module of its own, so that the project has none of its dependencies.
//
// Run it on a machine that does nothing else:
//
//	cd testdata/compare && go run . -probes 3 -days 200
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"syscall"
	"time"
)

// reading is a probe's temperature in Celsius and its humidity as a ratio.
type reading struct {
	at                time.Time
	celsius, humidity float64
}

// hour is what the readings of an hour come to.
type hour struct {
	count             int
	mean, least, most float64 // C
}

// store is one way of keeping readings.
type store interface {
	// load adds the readings of a day by probe, in one transaction.
	load(day [][]reading) error
	// settle ends the load: what is kept is in its last form.
	settle() error
	// scan gives how many readings a probe has in a span, and the sum of their temperatures.
	scan(probe int, from, to time.Time) (n int, sum float64, err error)
	hourly(probe int, from, to time.Time) ([]hour, error)
	close() error
}

var began = time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)

const interval = 10 * time.Second

func main() {
	probes := flag.Int("probes", 3, "how many probes")
	days := flag.Int("days", 200, "how many days")
	flag.Parse()
	if err := run(*probes, *days); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// made is what a probe reads on a day: a thermostat's cycle, a course of the day, weather, and
// the noise of the SHT4x (its data sheet's repeatability of 0.04 K and 0.08 %, taken as three
// standard deviations), in steps of 0.01 K and 0.01 %, up to some milliseconds late (our choice).
func made(probe, day int) []reading {
	rng := rand.New(rand.NewPCG(uint64(probe), uint64(day)))
	var all []reading
	for at := time.Duration(day) * 24 * time.Hour; at < time.Duration(day+1)*24*time.Hour; at += interval {
		h := at.Hours()
		celsius := 23 + 0.1*float64(probe) + 0.3*math.Sin(2*math.Pi*h*1.7) + 0.4*math.Sin(2*math.Pi*h/24) + 0.3*math.Sin(2*math.Pi*h/(24*11)) + rng.NormFloat64()*0.04/3
		humidity := 0.6 - 0.03*math.Sin(2*math.Pi*h/24) + rng.NormFloat64()*0.0008/3
		all = append(all, reading{
			began.Add(at + time.Duration(rng.IntN(8))*time.Millisecond), math.Round(celsius*100) / 100, math.Round(humidity*1e4) / 1e4,
		})
	}
	return all
}

// figures are those of one store.
type figures struct {
	bytes            float64 // a reading
	load, scan       float64 // million readings a second
	day, hourly      time.Duration
	n                int
	sum              float64
	hours            []hour
	scanned          time.Duration
	measuredReadings int
	written          int64 // bytes a day of twelve probes
}

func run(probes, days int) (err error) {
	kinds := []struct {
		name string
		open func(dir string) (store, error)
	}{{"ootherm", openHistory}, {"Prometheus TSDB", openTSDB}, {"SQLite", openSQLite}, {"packed, 12 bytes", openPacked}}
	all := make([]figures, len(kinds))
	for i, k := range kinds {
		if all[i], err = measure(k.open, probes, days); err != nil {
			return fmt.Errorf("%s: %w", k.name, err)
		}
		if err := alike(all[0], all[i]); err != nil {
			return fmt.Errorf("%s and %s: %w", kinds[0].name, k.name, err)
		}
		if all[i].written, err = written(k.open, 12); err != nil {
			return fmt.Errorf("%s: %w", k.name, err)
		}
	}
	fmt.Printf("%d probes, %d days, every %s: %d readings\n\n", probes, days, interval, all[0].measuredReadings)
	fmt.Println("| | bytes a reading | written a day by 12 probes, MB | load, M readings/s | scan of a season, M readings/s | a day of a probe | hourly summary of a season |")
	fmt.Println("|---|--:|--:|--:|--:|--:|--:|")
	for i, k := range kinds {
		f := all[i]
		fmt.Printf("| %s | %.2f | %.1f | %.2f | %.1f | %s | %s |\n", k.name, f.bytes, float64(f.written)/1e6, f.load, f.scan, f.day.Round(10*time.Microsecond), f.hourly.Round(100*time.Microsecond))
	}
	fmt.Println()
	for i, k := range kinds[1:] {
		f, own := all[i+1], all[0]
		fmt.Printf("%s against ootherm: bytes %.1f, written %.1f, load 1/%.1f, scan 1/%.2f, day %.1f, hourly summary %.1f\n", k.name,
			f.bytes/own.bytes, float64(f.written)/float64(own.written), own.load/f.load, own.scan/f.scan, float64(f.day)/float64(own.day), float64(f.hourly)/float64(own.hourly))
	}
	return nil
}

func measure(open func(string) (store, error), probes, days int) (f figures, err error) {
	dir, err := os.MkdirTemp("", "compare")
	if err != nil {
		return f, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	s, err := open(dir)
	if err != nil {
		return f, err
	}
	defer func() { err = errors.Join(err, s.close()) }()
	var loading time.Duration
	for day := range days {
		batch := make([][]reading, probes)
		for p := range batch {
			batch[p] = made(p, day)
			f.measuredReadings += len(batch[p])
		}
		start := time.Now()
		if err := s.load(batch); err != nil {
			return f, err
		}
		loading += time.Since(start)
	}
	start := time.Now()
	if err := s.settle(); err != nil {
		return f, err
	}
	loading += time.Since(start)
	f.load = float64(f.measuredReadings) / loading.Seconds() / 1e6
	size, err := sizeOf(dir)
	if err != nil {
		return f, err
	}
	f.bytes = float64(size) / float64(f.measuredReadings)
	end := began.Add(time.Duration(days) * 24 * time.Hour)
	if f.scanned, err = median(func() (err error) { f.n, f.sum, err = s.scan(0, began, end); return err }); err != nil {
		return f, err
	}
	f.scan = float64(f.n) / f.scanned.Seconds() / 1e6
	noon := began.Add(time.Duration(days/2) * 24 * time.Hour)
	if f.day, err = median(func() error { _, _, err := s.scan(0, noon, noon.Add(24*time.Hour)); return err }); err != nil {
		return f, err
	}
	f.hourly, err = median(func() (err error) { f.hours, err = s.hourly(0, began, end); return err })
	return f, err
}

// median is the median time of seven calls, by the processor: other programs change it less than
// the time on the wall.
func median(do func() error) (time.Duration, error) {
	var all []time.Duration
	for range 7 {
		start, err := processorTime()
		if err != nil {
			return 0, err
		}
		if err := do(); err != nil {
			return 0, err
		}
		end, err := processorTime()
		if err != nil {
			return 0, err
		}
		all = append(all, end-start)
	}
	slices.Sort(all)
	return all[len(all)/2], nil
}

// processorTime is what this process took so far.
func processorTime() (time.Duration, error) {
	var u syscall.Rusage
	err := syscall.Getrusage(syscall.RUSAGE_SELF, &u)
	return time.Duration(u.Utime.Nano() + u.Stime.Nano()), err
}

// alike returns an error if two stores do not give the same readings and hours.
func alike(a, b figures) error {
	if a.n != b.n || math.Abs(a.sum-b.sum) > 1e-6*math.Abs(a.sum) {
		return fmt.Errorf("%d readings with the sum %g, and %d with %g", a.n, a.sum, b.n, b.sum)
	}
	if len(a.hours) != len(b.hours) {
		return fmt.Errorf("%d hours and %d", len(a.hours), len(b.hours))
	}
	for i, x := range a.hours {
		y := b.hours[i]
		if x.count != y.count || math.Abs(x.mean-y.mean) > 1e-6 || math.Abs(x.least-y.least) > 1e-6 || math.Abs(x.most-y.most) > 1e-6 {
			return fmt.Errorf("hour %d is %+v and %+v", i, x, y)
		}
	}
	return nil
}

// hourOf adds a temperature to the hours of a span, in order of time.
func hourOf(hours []hour, last *int64, unixMilli int64, celsius float64) []hour {
	if h := unixMilli / time.Hour.Milliseconds(); len(hours) == 0 || h != *last {
		hours = append(hours, hour{least: celsius, most: celsius})
		*last = h
	}
	x := &hours[len(hours)-1]
	x.count++
	x.mean += (celsius - x.mean) / float64(x.count)
	x.least, x.most = min(x.least, celsius), max(x.most, celsius)
	return hours
}

func sizeOf(dir string) (sum int64, err error) {
	err = filepath.WalkDir(dir, func(_ string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		info, err := e.Info()
		if err == nil {
			sum += info.Size()
		}
		return err
	})
	return sum, err
}

// background is the context of all calls: nothing is cancelled.
var background = context.Background()
