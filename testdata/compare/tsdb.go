package main

import (
	"log/slog"
	"time"

	"github.com/prometheus/prometheus/model/labels"
	"github.com/prometheus/prometheus/tsdb"
	"github.com/prometheus/prometheus/tsdb/chunkenc"
)

// promTSDB keeps a series of temperatures and one of humidities for each probe.
type promTSDB struct{ db *tsdb.DB }

func openTSDB(dir string) (store, error) {
	o := tsdb.DefaultOptions()
	o.RetentionDuration = 0                                   // all is kept
	o.MaxBlockDuration = (31 * 24 * time.Hour).Milliseconds() // as its server sets it for a long retention
	db, err := tsdb.Open(dir, slog.New(slog.DiscardHandler), nil, o, nil)
	if err != nil {
		return nil, err
	}
	return promTSDB{db}, nil
}

func series(name string, probe int) labels.Labels {
	return labels.FromStrings(labels.MetricName, name, "probe", probeName(probe))
}

func (s promTSDB) load(day [][]reading) error {
	a := s.db.Appender(background)
	for p, all := range day {
		celsius, humidity := series("celsius", p), series("humidity", p)
		for _, r := range all {
			if _, err := a.Append(0, celsius, r.at.UnixMilli(), r.celsius); err != nil {
				return err
			}
			if _, err := a.Append(0, humidity, r.at.UnixMilli(), r.humidity); err != nil {
				return err
			}
		}
	}
	if err := a.Commit(); err != nil {
		return err
	}
	return s.db.Compact(background)
}

func (s promTSDB) settle() error { return s.db.Compact(background) }

// each goes through the temperatures and humidities of a probe, as a reader of both does.
func (s promTSDB) each(probe int, from, to time.Time, do func(at int64, celsius float64)) error {
	q, err := s.db.Querier(from.UnixMilli(), to.UnixMilli()-1)
	if err != nil {
		return err
	}
	defer q.Close()
	for _, name := range []string{"celsius", "humidity"} {
		set := q.Select(background, false, nil,
			labels.MustNewMatcher(labels.MatchEqual, labels.MetricName, name), labels.MustNewMatcher(labels.MatchEqual, "probe", probeName(probe)))
		for set.Next() {
			samples := set.At().Iterator(nil)
			for samples.Next() == chunkenc.ValFloat {
				if at, v := samples.At(); name == "celsius" {
					do(at, v)
				}
			}
			if err := samples.Err(); err != nil {
				return err
			}
		}
		if err := set.Err(); err != nil {
			return err
		}
	}
	return nil
}

func (s promTSDB) scan(probe int, from, to time.Time) (n int, sum float64, err error) {
	err = s.each(probe, from, to, func(_ int64, v float64) { n, sum = n+1, sum+v })
	return n, sum, err
}

func (s promTSDB) hourly(probe int, from, to time.Time) (hours []hour, err error) {
	var last int64
	err = s.each(probe, from, to, func(at int64, v float64) { hours = hourOf(hours, &last, at, v) })
	return hours, err
}

func (s promTSDB) close() error { return s.db.Close() }
