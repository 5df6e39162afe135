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

// Readings writes a probe's readings as CSV, without those that were not believed. It is the
// form that a replay reads, or a table for a spreadsheet, whose times are those of the station's
// place and whose last column is the zone.
func (c *Client) Readings(ctx context.Context, w io.Writer, probe string, from, to time.Time, table bool) error {
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
	head := []string{"time", "probe", "temperature_c", "relative_humidity"}
	if table {
		head = append(head, "time_zone")
	}
	if err := out.Write(head); err != nil {
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
		row := []string{p.At.Format(time.RFC3339Nano), probe, csvNumber(p.Celsius), csvNumber(p.Humidity)}
		if table {
			row[0] = bookfile.SpreadsheetTime(p.At, c.place())
			row = append(row, bookfile.SpreadsheetZone(p.At, c.place()))
		}
		if err := out.Write(row); err != nil {
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

// place is where the station is.
func (c *Client) place() *time.Location {
	if c.reader.Place == nil {
		return time.UTC
	}
	return c.reader.Place
}
