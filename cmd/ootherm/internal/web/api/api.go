// Package api answers programs: the state, readings, the health, the score, and what programs
// send. It must not know how a page looks.
package api

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book/bookfile"
)

// api answers programs.
type Programs struct{ *page.Site }

func (s Programs) ServeNow(w http.ResponseWriter, r *http.Request) {
	n := s.Source.Now()
	if n == nil {
		http.Error(w, "the station has only just started and knows nothing yet; ask again in a few seconds", http.StatusServiceUnavailable)
		return
	}
	body, err := json.Marshal(listed(n))
	if err != nil {
		s.Log.Error("the state could not be written as JSON", "err", err)
		http.Error(w, "the state could not be written as JSON; the station's log says why", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	_, _ = w.Write(append(shortFigures(body), '\n')) // a client that went away needs no answer
}

// listed is the state with an empty list where there is none: a program that
// walks a list should not have to ask whether it is one.
func listed(n *snapshot.Snapshot) snapshot.Snapshot {
	c := *n
	c.Alarms, c.Pending, c.Dams, c.Health.Copies = some(c.Alarms), some(c.Pending), some(c.Dams), some(c.Health.Copies)
	c.Health.Deliveries, c.Health.Silent = some(c.Health.Deliveries), some(c.Health.Silent)
	c.Unplaced = append([]snapshot.Unplaced{}, c.Unplaced...)
	for i := range c.Unplaced {
		c.Unplaced[i].Eggs = some(c.Unplaced[i].Eggs)
	}
	c.Zones = append([]snapshot.Zone{}, c.Zones...)
	for i := range c.Zones {
		z := &c.Zones[i]
		z.SpreadOld = z.SpreadK
		z.Probes = append([]snapshot.Probe{}, z.Probes...)
		for j := range z.Probes {
			if z.Probes[j].Errors == nil {
				z.Probes[j].Errors = map[string]int{}
			}
		}
	}
	c.Boxes = append([]snapshot.Box{}, c.Boxes...)
	for i := range c.Boxes {
		b := &c.Boxes[i]
		b.OffsetOld = b.Offset
		b.Clutches = append([]snapshot.Clutch{}, b.Clutches...)
		for j := range b.Clutches {
			x := &b.Clutches[j]
			x.EquivalentOld = x.EquivalentCelsius
			x.Eggs, x.Because, x.Missing = some(x.Eggs), some(x.Because), some(x.Missing)
			x.Outside = append([]snapshot.Outside{}, x.Outside...)
			for k := range x.Outside {
				x.Outside[k].MostOld, x.Outside[k].Stages = x.Outside[k].Most, some(x.Outside[k].Stages)
			}
		}
	}
	return c
}

func some[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}

// asked is what a request for readings asks for.
type asked struct {
	probe    string
	from, to time.Time
	raw      bool // as the part gave them
}

// parseAsked reads the query of a request for readings. Without `to` it is up to
// now, without `from` the day before `to`.
func parseAsked(query string, at time.Time) (asked, error) {
	v, err := url.ParseQuery(query)
	if err != nil {
		return asked{}, fmt.Errorf("the query cannot be read: %w", err)
	}
	for key, values := range v {
		switch key {
		case "probe", "from", "to", "raw":
		default:
			return asked{}, fmt.Errorf("%q is not known; use probe, from, to and raw", key)
		}
		if len(values) != 1 {
			return asked{}, fmt.Errorf("%s is given %d times; give it once", key, len(values))
		}
	}
	a := asked{probe: v.Get("probe"), to: at}
	if a.probe == "" {
		return asked{}, fmt.Errorf("which probe? add ?probe=NAME; /api/v1/now lists them")
	}
	if raw := v.Get("raw"); v.Has("raw") && raw != "true" && raw != "false" {
		return asked{}, fmt.Errorf("raw=%q is neither true nor false", raw)
	}
	a.raw = v.Get("raw") == "true"
	if v.Has("to") {
		if a.to, err = moment("to", v.Get("to")); err != nil {
			return asked{}, err
		}
	}
	a.from = a.to.Add(-24 * time.Hour)
	if v.Has("from") {
		if a.from, err = moment("from", v.Get("from")); err != nil {
			return asked{}, err
		}
	}
	if !a.from.Before(a.to) {
		return asked{}, fmt.Errorf("from (%s) is not before to (%s)", a.from.Format(time.RFC3339), a.to.Format(time.RFC3339))
	}
	return a, nil
}

func moment(key, text string) (time.Time, error) {
	// A plus sign that was not escaped arrives as a space.
	t, err := time.Parse(time.RFC3339, strings.ReplaceAll(text, " ", "+"))
	if err != nil {
		return time.Time{}, fmt.Errorf("%s=%q is no time; write it like 2026-06-01T08:00:00Z", key, text)
	}
	return t, nil
}

func (s Programs) ServeReadings(w http.ResponseWriter, r *http.Request) {
	a, err := parseAsked(r.URL.RawQuery, s.Clock())
	if err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	out := bufio.NewWriterSize(w, 16<<10)
	var line []byte
	var failed error
	n, total := 0, 0
	past := s.Past.Readings
	if a.raw {
		past = s.Past.Raw
	}
	for p, err := range past(r.Context(), a.probe, a.from, a.to) {
		if err != nil {
			failed = err
			break
		}
		line = line[:0]
		if n == 0 {
			w.Header().Set("Content-Type", "application/json")
			line = append(line, `{"readings":[`...)
		} else {
			line = append(line, ',')
		}
		line = appendPoint(line, p)
		n, total = n+1, total+len(line)
		if _, err := out.Write(line); err != nil {
			return // the client went away
		}
	}
	if failed != nil {
		if r.Context().Err() != nil {
			return // the client went away
		}
		s.Log.Error("readings could not be read", "probe", a.probe, "err", failed)
		if out.Buffered() == total { // nothing has gone out yet
			http.Error(w, "the history could not be read; the station's log says why", http.StatusInternalServerError)
			return
		}
		// Too late for a status: break the connection off, so that nobody takes
		// the part for the whole.
		panic(http.ErrAbortHandler)
	}
	if n == 0 {
		if !slices.Contains(s.probes(), a.probe) {
			http.Error(w, fmt.Sprintf("no probe is called %q; there are %s", a.probe, strings.Join(s.probes(), ", ")), http.StatusNotFound)
			return
		}
		w.Header().Set("Content-Type", "application/json")
		_, _ = out.WriteString(`{"readings":[`)
	}
	_, _ = out.WriteString("]}\n")
	_ = out.Flush() // a client that went away needs no answer
}

// probes are the names of the probes.
func (s Programs) probes() []string {
	n := s.Source.Now()
	if n == nil {
		return nil
	}
	var all []string
	for _, z := range n.Zones {
		for _, p := range z.Probes {
			all = append(all, p.Probe)
		}
	}
	return all
}

func appendPoint(b []byte, p page.Point) []byte {
	b = append(b, `{"at":"`...)
	b = p.At.UTC().AppendFormat(b, time.RFC3339Nano)
	b = append(b, `","temperature_c":`...)
	b = appendNumber(b, p.Celsius)
	b = append(b, `,"relative_humidity":`...)
	b = appendNumber(b, p.Humidity)
	b = append(b, `,"cause":`...)
	if p.Cause == "" {
		return append(b, "null}"...)
	}
	cause, err := json.Marshal(p.Cause)
	if err != nil { // a string always has a JSON form
		return append(b, "null}"...)
	}
	return append(append(b, cause...), '}')
}

func appendNumber(b []byte, v float64) []byte {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return append(b, "null"...)
	}
	return strconv.AppendFloat(b, v, 'f', -1, 64)
}

// book gives the book's entries, all of them.
func (s Programs) ServeBook(w http.ResponseWriter, r *http.Request) {
	b := s.Book.Book()
	if b == nil {
		http.Error(w, "the station is still opening its files; ask again in a minute", http.StatusServiceUnavailable)
		return
	}
	var lines bytes.Buffer
	if err := bookfile.WriteJSON(&lines, b.Arrived()); err != nil {
		s.Log.Error("the book could not be written out", "err", err)
		http.Error(w, "the entries could not be written out; the station's log says why", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/x-ndjson")
	_, _ = w.Write(lines.Bytes()) // a client that went away needs no answer
}

// backup gives the records whole, to a command on the station itself: they hold
// all there is.
func (s Programs) ServeBackup(w http.ResponseWriter, r *http.Request) {
	if !page.BySocket(r) {
		http.Error(w, "ask on the station itself, with ootherm backup", http.StatusForbidden)
		return
	}
	w.Header().Set("Content-Type", "application/octet-stream")
	if err := s.Backup(w); err != nil && r.Context().Err() == nil {
		s.Log.Error("the records could not be written out", "err", err)
		panic(http.ErrAbortHandler) // the part that went out must not pass for the whole
	}
}

// healthz is 200 only while readings are taken and kept.
func (s Programs) ServeHealth(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	status, text := http.StatusOK, ""
	if bad := s.Ill(); len(bad) > 0 {
		status, text = http.StatusServiceUnavailable, "not well: "+strings.Join(bad, "; ")
	} else {
		n := s.Source.Now()
		text = "well: every bus was polled, " + s.Kept(n)
		if mute := unanswered(n); len(mute) > 0 {
			text += "; " + words.Count(len(mute), "probe does not answer: ", "probes do not answer: ") + strings.Join(mute, ", ")
		}
	}
	w.WriteHeader(status)
	_, _ = w.Write([]byte(text + "\n")) // a client that went away needs no answer
}

// unanswered are the probes that give no reading, though their bus was polled.
func unanswered(n *snapshot.Snapshot) []string {
	var all []string
	for _, z := range n.Zones {
		for _, p := range z.Probes {
			if (p.Status == "stale" || p.Status == "missing") && !slices.Contains(all, p.Probe) {
				all = append(all, p.Probe)
			}
		}
	}
	return all
}
