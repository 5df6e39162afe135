package main

import (
	"database/sql"
	"errors"
	"path/filepath"
	"time"

	_ "modernc.org/sqlite"
)

// sqlite keeps readings as integers, by probe and time: hundredths of a kelvin, and of a percent.
type sqlite struct{ db *sql.DB }

func openSQLite(dir string) (store, error) {
	db, err := sql.Open("sqlite", filepath.Join(dir, "readings.sqlite"))
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1)
	for _, q := range []string{
		"PRAGMA journal_mode = WAL", "PRAGMA synchronous = NORMAL",
		"CREATE TABLE readings (probe INTEGER, at INTEGER, celsius INTEGER, humidity INTEGER, PRIMARY KEY (probe, at)) WITHOUT ROWID",
	} {
		if _, err := db.Exec(q); err != nil {
			return nil, errors.Join(err, db.Close())
		}
	}
	return sqlite{db}, nil
}

func (s sqlite) load(day [][]reading) error {
	tx, err := s.db.Begin()
	if err != nil {
		return err
	}
	insert, err := tx.Prepare("INSERT INTO readings VALUES (?, ?, ?, ?)")
	if err != nil {
		return errors.Join(err, tx.Rollback())
	}
	for p, all := range day {
		for _, r := range all {
			if _, err := insert.Exec(p, r.at.UnixMilli(), int64(r.celsius*100+0.5), int64(r.humidity*1e4+0.5)); err != nil {
				return errors.Join(err, tx.Rollback())
			}
		}
	}
	return tx.Commit()
}

func (s sqlite) settle() error {
	_, err := s.db.Exec("PRAGMA wal_checkpoint(TRUNCATE)")
	return err
}

func (s sqlite) scan(probe int, from, to time.Time) (n int, sum float64, err error) {
	rows, err := s.db.Query("SELECT at, celsius, humidity FROM readings WHERE probe = ? AND at >= ? AND at < ?", probe, from.UnixMilli(), to.UnixMilli())
	if err != nil {
		return 0, 0, err
	}
	defer rows.Close()
	for rows.Next() {
		var at, celsius, humidity int64
		if err := rows.Scan(&at, &celsius, &humidity); err != nil {
			return 0, 0, err
		}
		n++
		sum += float64(celsius) / 100
	}
	return n, sum, rows.Err()
}

func (s sqlite) hourly(probe int, from, to time.Time) (hours []hour, err error) {
	rows, err := s.db.Query("SELECT count(*), avg(celsius), min(celsius), max(celsius) FROM readings WHERE probe = ? AND at >= ? AND at < ? GROUP BY at / 3600000", probe, from.UnixMilli(), to.UnixMilli())
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var h hour
		if err := rows.Scan(&h.count, &h.mean, &h.least, &h.most); err != nil {
			return nil, err
		}
		h.mean, h.least, h.most = h.mean/100, h.least/100, h.most/100
		hours = append(hours, h)
	}
	return hours, rows.Err()
}

func (s sqlite) close() error { return s.db.Close() }
