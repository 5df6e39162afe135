package main

import (
	"fmt"
	"path/filepath"
	"time"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/history"
	"go.etcd.io/bbolt"
)

// ours is the history of this project.
type ours struct {
	db   *bbolt.DB
	s    *history.Store
	boot uint32
}

func openHistory(dir string) (store, error) {
	db, err := bbolt.Open(filepath.Join(dir, "readings.db"), 0o600, nil)
	if err != nil {
		return nil, err
	}
	s, err := history.Open(db, history.Options{})
	if err != nil {
		return nil, err
	}
	boot, err := s.Begin("compare", began, 0, true)
	return &ours{db, s, boot.Number}, err
}

func probeName(probe int) string { return fmt.Sprintf("probe-%d", probe) }

func (o *ours) load(day [][]reading) error {
	for p, all := range day {
		batch := make([]sensor.Reading, len(all))
		for i, r := range all {
			batch[i] = sensor.Reading{
				Probe: probeName(p), Stamp: sensor.Stamp{Boot: o.boot, Uptime: r.at.Sub(began)},
				Measurement: sensor.Measurement{Celsius: r.celsius, Humidity: r.humidity},
			}
		}
		if err := o.s.Append(batch); err != nil {
			return err
		}
	}
	return o.s.Flush()
}

func (o *ours) settle() error { return nil }

func (o *ours) scan(probe int, from, to time.Time) (n int, sum float64, err error) {
	for values, err := range o.s.Values(probeName(probe), from, to) {
		if err != nil {
			return 0, 0, err
		}
		for _, v := range values {
			n++
			sum += v.Celsius
		}
	}
	return n, sum, nil
}

func (o *ours) hourly(probe int, from, to time.Time) (hours []hour, err error) {
	for x, err := range o.s.Hourly(probeName(probe), from, to) {
		if err != nil {
			return nil, err
		}
		hours = append(hours, hour{x.Celsius.Count, x.Celsius.Mean, x.Celsius.Least, x.Celsius.Most})
	}
	return hours, nil
}

func (o *ours) close() error { return o.db.Close() }
