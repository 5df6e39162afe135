package client

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"example.com/ootherm/thermal/book/bookfile"
)

// Readings writes a probe's readings as CSV, their times as at writes them. With
// [RecordingTime] it is the form that a replay reads. It leaves out readings that were not
// believed.
func (c *Client) Readings(ctx context.Context, w io.Writer, probe string, from, to time.Time, at func(time.Time) string) error {
	q := url.Values{"probe": {probe}, "from": {from.UTC().Format(time.RFC3339)}, "to": {to.UTC().Format(time.RFC3339)}}
	body, answer := io.Pipe()
	go func() { answer.CloseWithError(c.Ask(ctx, http.MethodGet, "/api/v1/readings?"+q.Encode(), nil, answer)) }()
	defer body.Close()
	in := json.NewDecoder(body)
	for range 3 { // { "readings" [
		if _, err := in.Token(); err != nil {
			return err
		}
	}
	out := csv.NewWriter(w)
	if err := out.Write([]string{"time", "probe", "temperature_c", "relative_humidity"}); err != nil {
		return err
	}
	for in.More() {
		var p struct {
			At       time.Time `json:"at"`
			Celsius  *float64  `json:"temperature_c"`
			Humidity *float64  `json:"relative_humidity"`
			Cause    *string   `json:"cause"`
		}
		if err := in.Decode(&p); err != nil {
			return err
		}
		if p.Cause != nil {
			continue
		}
		if err := out.Write([]string{at(p.At), probe, csvNumber(p.Celsius), csvNumber(p.Humidity)}); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// csvNumber formats a number for CSV; an unknown one is empty.
func csvNumber(v *float64) string {
	if v == nil {
		return ""
	}
	return strconv.FormatFloat(*v, 'f', -1, 64)
}

// SpreadsheetTime writes a time of a table for a spreadsheet.
func (c *Client) SpreadsheetTime(t time.Time) string { return bookfile.SpreadsheetTime(t, c.place()) }

// RecordingTime writes a time of a recording.
func RecordingTime(t time.Time) string { return t.Format(time.RFC3339Nano) }

// place is where the station is.
func (c *Client) place() *time.Location {
	if c.reader.Place == nil {
		return time.UTC
	}
	return c.reader.Place
}
