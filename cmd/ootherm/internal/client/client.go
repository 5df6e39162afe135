// Package client asks a station for a command: the station that runs, through its
// socket, or one opened over the files where none runs. It also prints the answers as
// tables. It must not know how an answer is computed.
package client

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"net"
	"net/http"
	"net/url"
	"slices"
	"syscall"
	"time"

	"example.com/ootherm/alert/panel"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/daemon"
	"example.com/ootherm/cmd/ootherm/internal/forms"
	"example.com/ootherm/cmd/ootherm/internal/permission"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/cmd/ootherm/internal/problem"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/sensor"
	"example.com/ootherm/thermal/book"
)

// Client asks a station. It is the running one, or one opened from its files until the
// client is closed. Both answer the same way.
type Client struct {
	http     *http.Client
	reader   words.Reader
	profiles []string
	eggG     func(kind string) (low, high float64)
	close    func() error
}

// visit opens a station over its files for one command.
type visit func(context.Context, config.Config, plan.Plan, daemon.Build) (dial func(context.Context) (net.Conn, error), closing func() error, err error)

// Dial connects to the station of a configuration. Where none runs, it opens the files.
func Dial(ctx context.Context, path string, build daemon.Build) (*Client, error) {
	return dialOr(ctx, path, build, daemon.Visit)
}

// DialBook is Dial for a command that reads or writes the book alone: see [daemon.VisitBook].
func DialBook(ctx context.Context, path string, build daemon.Build) (*Client, error) {
	return dialOr(ctx, path, build, daemon.VisitBook)
}

func dialOr(ctx context.Context, path string, build daemon.Build, visit visit) (*Client, error) {
	c, err := config.Load(path, probeconfig.Drivers())
	if err != nil {
		return nil, err
	}
	plan, err := plan.FromConfig(c)
	if err != nil {
		return nil, err
	}
	reader := words.Reader{Units: plan.Units, Place: plan.Location, Today: time.Now}
	if running, err := Running(ctx, c.Station.Data, reader); running != nil || err != nil {
		return running.withPlan(plan), err
	}
	if err := daemon.RefuseMoved(c.Station.Data); err != nil {
		return nil, err
	}
	dial, closing, err := visit(ctx, c, plan, build)
	if errors.Is(err, fs.ErrPermission) {
		err = fmt.Errorf("no station runs, so the command opens the files itself: %w", err)
	}
	if err != nil {
		return nil, err
	}
	return &Client{
		http:   httpClient(func(ctx context.Context, _, _ string) (net.Conn, error) { return dial(ctx) }),
		reader: reader, profiles: plan.ProfileNames(), eggG: plan.EggG, close: closing,
	}, nil
}

// DialRunning connects to the station of a configuration if it runs; otherwise the client
// is nil. Completion uses it, because opening the files takes too long there.
func DialRunning(ctx context.Context, path string) (*Client, error) {
	c, err := config.Load(path, probeconfig.Drivers())
	if err != nil {
		return nil, err
	}
	plan, err := plan.FromConfig(c)
	if err != nil {
		return nil, err
	}
	running, err := Running(ctx, c.Station.Data, words.Reader{Units: plan.Units, Place: plan.Location})
	return running.withPlan(plan), err
}

// withPlan adds what only the configuration knows. It accepts a nil client.
func (c *Client) withPlan(plan plan.Plan) *Client {
	if c != nil {
		c.profiles, c.eggG = plan.ProfileNames(), plan.EggG
	}
	return c
}

// Running connects to the station that runs over a data folder. The client is nil where
// none runs.
func Running(ctx context.Context, data string, reader words.Reader) (*Client, error) {
	socket := daemon.SocketPath(data)
	dial := func(ctx context.Context, _, _ string) (net.Conn, error) {
		return new(net.Dialer).DialContext(ctx, "unix", socket)
	}
	conn, err := dial(ctx, "", "")
	switch {
	case err == nil:
		_ = conn.Close() // the connection only tested that a station listens
		return &Client{http: httpClient(dial), reader: reader, close: func() error { return nil }}, nil
	case errors.Is(err, syscall.EACCES):
		return nil, permission.GroupHint(fmt.Errorf("this user may not ask the running station: %w", err), socket)
	case !errors.Is(err, syscall.ENOENT) && !errors.Is(err, syscall.ECONNREFUSED):
		return nil, fmt.Errorf("asking the running station: %w", err)
	}
	return nil, nil
}

func httpClient(dial func(context.Context, string, string) (net.Conn, error)) *http.Client {
	return &http.Client{Transport: &http.Transport{DialContext: dial}, Timeout: 10 * time.Minute}
}

// Close ends the client. Everything that a command wrote is durable before.
func (c *Client) Close() error {
	c.http.CloseIdleConnections()
	return c.close()
}

// Reader gives the units and the place of the configuration.
func (c *Client) Reader() words.Reader { return c.reader }

// Now gives the state of the station.
func (c *Client) Now(ctx context.Context) (*snapshot.Snapshot, error) {
	var b bytes.Buffer
	if err := c.Ask(ctx, http.MethodGet, "/api/v1/now", nil, &b); err != nil {
		return nil, err
	}
	n := new(snapshot.Snapshot)
	if err := json.Unmarshal(b.Bytes(), n); err != nil {
		return nil, fmt.Errorf("the station's state: %w", err)
	}
	return n, nil
}

// Note notes entries, one JSON object a line: all or none. The error for invalid entries is
// a [book.Faults].
func (c *Client) Note(ctx context.Context, lines []byte) error {
	return c.Ask(ctx, http.MethodPost, "/api/v1/book", lines, io.Discard)
}

// Act acknowledges or shelves an alarm, or takes a zone out of service or back. quiet is
// how long an alarm is shelved.
func (c *Client) Act(ctx context.Context, a panel.Action, quiet time.Duration) error {
	body, err := json.Marshal(struct {
		Do    string `json:"do"`
		Alarm string `json:"alarm"`
		Zone  string `json:"zone"`
		Who   string `json:"who"`
		For   string `json:"for"`
	}{a.Do, a.Alarm, a.Zone, a.Who, quiet.String()})
	if err != nil {
		return err
	}
	return c.send(ctx, "/api/v1/act", "application/json", body)
}

// SendTest has the station send a test message by a sender.
func (c *Client) SendTest(ctx context.Context, sender string) error {
	body, err := json.Marshal(struct {
		Sender string `json:"sender"`
	}{sender})
	if err != nil {
		return err
	}
	return c.send(ctx, "/api/v1/test-message", "application/json", body)
}

// WriteBook writes the book's entries, one JSON object a line.
func (c *Client) WriteBook(ctx context.Context, w io.Writer) error {
	return c.Ask(ctx, http.MethodGet, "/api/v1/book", nil, w)
}

// Desk gives what a form needs to know about the station: its book, its state, and the time
// of the entry.
func (c *Client) Desk(ctx context.Context, at time.Time) (forms.Desk, error) {
	n, err := c.Now(ctx)
	if err != nil {
		return forms.Desk{}, err
	}
	b, err := c.book(ctx)
	if err != nil {
		return forms.Desk{}, err
	}
	return forms.Desk{Book: b, Now: n, Profiles: c.profiles, EggG: c.eggG, Reader: c.reader, At: at}, nil
}

// book gives the station's book.
func (c *Client) book(ctx context.Context) (*book.Book, error) {
	var lines bytes.Buffer
	if err := c.WriteBook(ctx, &lines); err != nil {
		return nil, err
	}
	entries, err := book.ReadAll(&lines)
	if err != nil {
		return nil, fmt.Errorf("the station's book: %w", err)
	}
	b, err := book.Fold(entries)
	if err != nil {
		return nil, fmt.Errorf("the station's book: %w", err)
	}
	return &b, nil
}

// Score gives how well the windows fitted the eggs that hatched here.
func (c *Client) Score(ctx context.Context) (snapshot.Score, error) {
	var b bytes.Buffer
	if err := c.Ask(ctx, http.MethodGet, "/api/v1/score", nil, &b); err != nil {
		return snapshot.Score{}, err
	}
	var score snapshot.Score
	if err := json.Unmarshal(b.Bytes(), &score); err != nil {
		return snapshot.Score{}, fmt.Errorf("the score: %w", err)
	}
	return score, nil
}

// Backup writes the station's records, as a file that [daemon.Restore] reads.
func (c *Client) Backup(ctx context.Context, w io.Writer) error {
	return c.Ask(ctx, http.MethodGet, "/api/v1/backup", nil, w)
}

// First gives the time of a probe's first reading; ok is false where there is none.
func (c *Client) First(ctx context.Context, probe string) (at time.Time, ok bool, err error) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel() // the answer may be a season long, and only its first reading is used
	q := url.Values{"probe": {probe}, "from": {Earliest.Format(time.RFC3339)}}
	body, answer := io.Pipe()
	defer body.Close()
	go func() { answer.CloseWithError(c.Ask(ctx, http.MethodGet, "/api/v1/readings?"+q.Encode(), nil, answer)) }()
	in := json.NewDecoder(body)
	for range 3 { // { "readings" [
		if _, err := in.Token(); err != nil {
			return time.Time{}, false, err
		}
	}
	if !in.More() {
		return time.Time{}, false, nil
	}
	var p struct {
		At time.Time `json:"at"`
	}
	if err := in.Decode(&p); err != nil {
		return time.Time{}, false, fmt.Errorf("the station's first reading of %s: %w", probe, err)
	}
	return p.At, true, nil
}

// Ask sends a request and writes the answer. A body holds JSON lines.
func (c *Client) Ask(ctx context.Context, method, path string, body []byte, into io.Writer) error {
	return c.request(ctx, method, path, "application/x-ndjson", body, into)
}

func (c *Client) send(ctx context.Context, path, kind string, body []byte) error {
	return c.request(ctx, http.MethodPost, path, kind, body, io.Discard)
}

func (c *Client) request(ctx context.Context, method, path, kind string, body []byte, into io.Writer) error {
	req, err := http.NewRequestWithContext(ctx, method, "http://localhost"+path, bytes.NewReader(body))
	if err != nil {
		return err
	}
	req.Header.Set("Accept", "application/json, application/problem+json, text/plain, */*;q=0.1")
	if body != nil {
		req.Header.Set("Content-Type", kind)
	}
	resp, err := c.http.Do(req)
	if err != nil {
		return fmt.Errorf("asking the station: %w", err)
	}
	defer resp.Body.Close()
	if resp.StatusCode >= 300 {
		text, _ := io.ReadAll(io.LimitReader(resp.Body, 1<<20)) // a part of the answer is better than none
		if mediaType(resp) == problem.ContentType {
			var faults book.Faults
			said := problem.Details{Faults: &faults}
			if err := json.Unmarshal(text, &said); err == nil && len(faults) > 0 {
				return faults
			} else if err == nil {
				text = []byte(said.Detail)
			}
		}
		refused := usererr.New(refusal(resp, string(text)))
		if resp.StatusCode == http.StatusBadRequest {
			return usererr.Usage(refused)
		}
		return refused
	}
	written := &writeErrors{to: into}
	if _, err := io.Copy(written, resp.Body); written.err != nil {
		return written.err
	} else if err != nil {
		return fmt.Errorf("the station's answer broke off: %w", err)
	}
	return nil
}

// Earliest is the earliest time that a reading or a calibration can have (our choice).
var Earliest = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

// BookOf gives the book of a configuration's station.
func BookOf(ctx context.Context, path string, build daemon.Build) (book.Book, error) {
	c, err := Dial(ctx, path, build)
	if err != nil {
		return book.Book{}, err
	}
	b, err := c.Book(ctx)
	return b, errors.Join(err, c.Close())
}

// Book gives the station's book.
func (c *Client) Book(ctx context.Context) (book.Book, error) {
	var lines bytes.Buffer
	if err := c.WriteBook(ctx, &lines); err != nil {
		return book.Book{}, err
	}
	entries, err := book.ReadAll(&lines)
	if err != nil {
		return book.Book{}, err
	}
	return book.Fold(entries)
}

// Latest gives a probe's last raw reading after a time. It includes readings that are not
// believed: in ice a probe disagrees with its neighbours and jumps. Without a reading the
// measurement is empty and the time is since.
func (c *Client) Latest(ctx context.Context, probe string, since time.Time) (sensor.Measurement, time.Time, error) {
	var b bytes.Buffer
	q := url.Values{"raw": {"true"}, "probe": {probe}, "from": {since.UTC().Add(time.Millisecond).Format(time.RFC3339Nano)}}
	if err := c.Ask(ctx, http.MethodGet, "/api/v1/readings?"+q.Encode(), nil, &b); err != nil {
		return sensor.None(), since, err
	}
	var got struct {
		Readings []struct {
			At       time.Time `json:"at"`
			Celsius  *float64  `json:"temperature_c"`
			Humidity *float64  `json:"relative_humidity"`
		} `json:"readings"`
	}
	if err := json.Unmarshal(b.Bytes(), &got); err != nil {
		return sensor.None(), since, fmt.Errorf("the station's readings: %w", err)
	}
	for _, x := range slices.Backward(got.Readings) {
		if x.Celsius == nil {
			continue
		}
		m := sensor.Measurement{Celsius: *x.Celsius, Humidity: math.NaN()}
		if x.Humidity != nil {
			m.Humidity = *x.Humidity
		}
		return m, x.At, nil
	}
	return sensor.None(), since, nil
}
