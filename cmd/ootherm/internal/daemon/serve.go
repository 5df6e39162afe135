package daemon

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"math"
	"net"
	"os"
	"path/filepath"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/cmd/ootherm/internal/incident"
	"example.com/ootherm/cmd/ootherm/internal/permission"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/station"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/review"
)

// stateSource gives the page and the metrics what the station published last. It gives
// nil before the station is ready.
type stateSource struct{ l *loop }

func (p stateSource) Now() *snapshot.Snapshot {
	if s := p.l.station.Load(); s != nil {
		return s.Now()
	}
	return nil
}

// historySource gives the page the past: readings, windows, alarms, incidents and rehearsals.
type historySource struct {
	loop *loop
	*rehearsals
}

// Readings gives a probe's readings with its corrections applied.
func (p *historySource) Readings(ctx context.Context, probe string, from, to time.Time) iter.Seq2[page.Point, error] {
	return p.points(ctx, func(s *station.Station) iter.Seq2[history.Point, error] { return s.Queries().Readings(probe, from, to) })
}

// Raw gives a probe's readings without corrections.
func (p *historySource) Raw(ctx context.Context, probe string, from, to time.Time) iter.Seq2[page.Point, error] {
	return p.points(ctx, func(s *station.Station) iter.Seq2[history.Point, error] {
		return s.Queries().RawReadings(probe, from, to)
	})
}

func (p *historySource) points(ctx context.Context, of func(*station.Station) iter.Seq2[history.Point, error]) iter.Seq2[page.Point, error] {
	return func(yield func(page.Point, error) bool) {
		s := p.loop.station.Load()
		if s == nil {
			yield(noPoint(), errStarting)
			return
		}
		for x, err := range of(s) {
			if err == nil {
				err = ctx.Err()
			}
			if err != nil {
				yield(noPoint(), err)
				return
			}
			if !yield(page.Point{At: x.At, Celsius: x.Celsius, Humidity: x.Humidity, Cause: string(x.Cause)}, nil) {
				return
			}
		}
	}
}

// Hourly gives what a probe measured in each hour of a span, corrected.
func (p *historySource) Hourly(ctx context.Context, probe string, from, to time.Time) iter.Seq2[page.Hour, error] {
	return func(yield func(page.Hour, error) bool) {
		s := p.loop.station.Load()
		if s == nil {
			yield(page.Hour{}, errStarting)
			return
		}
		for x, err := range s.Queries().Hourly(probe, from, to) {
			if damage := (*history.Damage)(nil); errors.As(err, &damage) {
				continue // a gap; the log and a notice have said so
			}
			if err == nil {
				err = ctx.Err()
			}
			if err != nil {
				yield(page.Hour{}, err)
				return
			}
			h := page.Hour{From: x.From, To: x.To, Mean: x.Celsius.Mean, Least: x.Celsius.Least, Most: x.Celsius.Most, Humidity: x.Humidity.Mean}
			if !yield(h, nil) {
				return
			}
		}
	}
}

// Shown gives the windows that were shown for a clutch, or for all if it is empty.
func (p *historySource) Shown(clutch string) ([]snapshot.Shown, error) {
	s := p.loop.station.Load()
	if s == nil {
		return nil, errStarting
	}
	return s.Queries().ShownWindows(clutch)
}

// Score compares the windows that were shown with the hatches in the book.
func (p *historySource) Score() (snapshot.Score, error) {
	s := p.loop.station.Load()
	if s == nil {
		return snapshot.Score{}, errStarting
	}
	return s.Queries().Score()
}

// Incident summarises a span of time, for one zone, or for all if zone is empty.
func (p *historySource) Incident(ctx context.Context, from, to time.Time, zone string) (snapshot.Incident, error) {
	var x incident.Query
	err := p.loop.do(ctx, func(_ context.Context, s *station.Station) (err error) {
		x, err = s.Retrospect().Incident(from, to, zone)
		return err
	})
	if err != nil {
		return snapshot.Incident{}, err
	}
	return x.Look(ctx)
}

// Alarms gives the alarms that were active at some time of a span.
func (p *historySource) Alarms(from, to time.Time) ([]snapshot.PastAlarm, error) {
	s := p.loop.station.Load()
	if s == nil {
		return nil, errStarting
	}
	return s.Queries().PastAlarms(from, to)
}

// noPoint returns the point that accompanies an error.
func noPoint() page.Point { return page.Point{Celsius: math.NaN(), Humidity: math.NaN()} }

// commandSink passes the station the entries and actions of people.
type commandSink struct{ l *loop }

// Note adds entries to the book.
func (w commandSink) Note(ctx context.Context, d book.Draft) error {
	return w.l.do(ctx, func(ctx context.Context, s *station.Station) error {
		_, err := s.Note(ctx, d)
		return err
	})
}

// Act acknowledges or shelves an alarm, or takes a zone out of service.
func (w commandSink) Act(ctx context.Context, a page.Action) error {
	return w.l.do(ctx, func(ctx context.Context, s *station.Station) error {
		return s.Act(ctx, panel.Action{Do: a.Do, Alarm: a.Alarm, Zone: a.Zone, Until: s.Time().Add(a.For), Who: a.Who})
	})
}

// Post makes the station keep a message until it is delivered.
func (w commandSink) Post(ctx context.Context, m alert.Message) error {
	return w.l.do(ctx, func(ctx context.Context, s *station.Station) error { return s.Post(ctx, m) })
}

// Book returns the present book, or nil before the station is ready.
func (p stateSource) Book() *book.Book {
	if s := p.l.station.Load(); s != nil {
		return s.Book()
	}
	return nil
}

// Paces returns how long each finished clutch took, by clutch.
func (p stateSource) Paces() map[string]review.Duration {
	if s := p.l.station.Load(); s != nil {
		return s.Queries().Durations()
	}
	return nil
}

// SocketPath returns the path of the socket on which the running station answers commands.
func SocketPath(data string) string { return filepath.Join(data, "ootherm.sock") }

// ListenSocket listens for commands. It removes a socket that a killed station left
// behind. Call it only with the files locked, so that no other station runs.
func ListenSocket(data string) (net.Listener, error) {
	path := SocketPath(data)
	if err := os.Remove(path); err != nil && !errors.Is(err, os.ErrNotExist) {
		return nil, fmt.Errorf("the old command socket: %w", err)
	}
	l, err := net.Listen("unix", path)
	if err != nil {
		return nil, fmt.Errorf("the command socket: %w", err)
	}
	if err := errors.Join(os.Chmod(path, 0o660), permission.Give(path)); err != nil {
		_ = l.Close()
		return nil, fmt.Errorf("the command socket: %w", err)
	}
	return l, nil
}

// pipeListener is an in-process listener. A command uses it to talk to a station that it
// opened itself.
type pipeListener struct {
	conns  chan net.Conn
	closed chan struct{}
}

func newPipeListener() *pipeListener {
	return &pipeListener{conns: make(chan net.Conn), closed: make(chan struct{})}
}

func (p *pipeListener) Accept() (net.Conn, error) {
	select {
	case c := <-p.conns:
		return pipeConn{c}, nil
	case <-p.closed:
		return nil, net.ErrClosed
	}
}

func (p *pipeListener) dial(ctx context.Context) (net.Conn, error) {
	client, server := net.Pipe()
	select {
	case p.conns <- server:
		return client, nil
	case <-ctx.Done():
		return nil, ctx.Err()
	case <-p.closed:
		return nil, net.ErrClosed
	}
}

func (p *pipeListener) Close() error {
	select {
	case <-p.closed:
	default:
		close(p.closed)
	}
	return nil
}

// Addr returns a Unix socket's address, because the page trusts requests from a socket.
func (p *pipeListener) Addr() net.Addr { return &net.UnixAddr{Name: "within", Net: "unix"} }

// pipeConn is the server's end of a pipe. Its local address is that of a Unix socket.
type pipeConn struct{ net.Conn }

func (c pipeConn) LocalAddr() net.Addr { return new(pipeListener).Addr() }
