package daemon

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"math"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/station"
	"example.com/ootherm/cmd/ootherm/internal/web"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/review"
)

// published is what the page and the metrics read. Before the station is there,
// it is nothing.
type published struct{ l *loop }

func (p published) Now() *snapshot.Snapshot {
	if s := p.l.station.Load(); s != nil {
		return s.Now()
	}
	return nil
}

// past gives the page readings as the station corrects them.
type past struct{ loop *loop }

func (p *past) Readings(ctx context.Context, probe string, from, to time.Time) iter.Seq2[web.Point, error] {
	return p.points(ctx, func(s *station.Station) iter.Seq2[history.Point, error] { return s.Readings(probe, from, to) })
}

// Raw gives readings as the part gave them.
func (p *past) Raw(ctx context.Context, probe string, from, to time.Time) iter.Seq2[web.Point, error] {
	return p.points(ctx, func(s *station.Station) iter.Seq2[history.Point, error] { return s.RawReadings(probe, from, to) })
}

func (p *past) points(ctx context.Context, of func(*station.Station) iter.Seq2[history.Point, error]) iter.Seq2[web.Point, error] {
	return func(yield func(web.Point, error) bool) {
		s := p.loop.station.Load()
		if s == nil {
			yield(nothing(), errStarting)
			return
		}
		for x, err := range of(s) {
			if err == nil {
				err = ctx.Err()
			}
			if err != nil {
				yield(nothing(), err)
				return
			}
			if !yield(web.Point{At: x.At, Celsius: x.Celsius, Humidity: x.Humidity, Cause: string(x.Cause)}, nil) {
				return
			}
		}
	}
}

// Shown gives the page the windows that were shown.
func (p *past) Shown(clutch string) ([]snapshot.Shown, error) {
	s := p.loop.station.Load()
	if s == nil {
		return nil, errStarting
	}
	return s.ShownWindows(clutch)
}

// Score is how right the windows were for the eggs that hatched here.
func (p *past) Score() (snapshot.Score, error) {
	all, err := p.Shown("")
	if err != nil {
		return snapshot.Score{}, err
	}
	return station.ScoreBook(*p.loop.station.Load().Book(), all), nil
}

// Incident looks back at a span, of one zone or of all.
func (p *past) Incident(ctx context.Context, from, to time.Time, zone string) (snapshot.Incident, error) {
	var x station.Incident
	err := p.loop.do(ctx, func(_ context.Context, s *station.Station) (err error) {
		x, err = s.Incident(from, to, zone)
		return err
	})
	if err != nil {
		return snapshot.Incident{}, err
	}
	return x.Look(ctx)
}

// Alarms are those that lasted at some time of a span.
func (p *past) Alarms(from, to time.Time) ([]snapshot.PastAlarm, error) {
	s := p.loop.station.Load()
	if s == nil {
		return nil, errStarting
	}
	return s.PastAlarms(from, to)
}

// nothing goes beside an error.
func nothing() web.Point { return web.Point{Celsius: math.NaN(), Humidity: math.NaN()} }

// writer hands the station what people write.
type writer struct{ l *loop }

func (w writer) Note(ctx context.Context, d book.Draft) error {
	return w.l.do(ctx, func(ctx context.Context, s *station.Station) error {
		_, err := s.Note(ctx, d)
		return err
	})
}

func (w writer) Act(ctx context.Context, a web.Action) error {
	return w.l.do(ctx, func(ctx context.Context, s *station.Station) error {
		return s.Act(ctx, panel.Action{Do: a.Do, Alarm: a.Alarm, Zone: a.Zone, Until: s.Time().Add(a.For), Who: a.Who})
	})
}

// Post has the station keep a message of its own until it is delivered.
func (w writer) Post(ctx context.Context, m alert.Message) error {
	return w.l.do(ctx, func(ctx context.Context, s *station.Station) error { return s.Post(ctx, m) })
}

// Book is the book as it stands.
func (p published) Book() *book.Book {
	if s := p.l.station.Load(); s != nil {
		return s.Book()
	}
	return nil
}

// Paces are how long the clutches that are over took, by clutch.
func (p published) Paces() map[string]review.Duration {
	if s := p.l.station.Load(); s != nil {
		return s.Paces()
	}
	return nil
}

// SocketPath is where the running station answers commands.
func SocketPath(data string) string { return filepath.Join(data, "ootherm.sock") }

// ListenSocket listens for commands. What a station that was killed left behind
// is taken away: the files' locks say that no other runs.
func ListenSocket(data string) (net.Listener, error) {
	path := SocketPath(data)
	if err := os.Remove(path); err != nil && !errors.Is(err, os.ErrNotExist) {
		return nil, fmt.Errorf("the old command socket: %w", err)
	}
	l, err := net.Listen("unix", path)
	if err != nil {
		return nil, fmt.Errorf("the command socket: %w", err)
	}
	if err := os.Chmod(path, 0o660); err != nil {
		_ = l.Close()
		return nil, fmt.Errorf("the command socket: %w", err)
	}
	return l, nil
}

// Serve answers on listeners until the context ends, then lets requests under
// way finish for a few seconds.
func Serve(ctx context.Context, h http.Handler, failed func(error), listeners ...net.Listener) func() {
	server := &http.Server{
		Handler:           h,
		ReadHeaderTimeout: 10 * time.Second,
		ReadTimeout:       time.Minute,
		WriteTimeout:      5 * time.Minute, // a season of readings over a slow phone
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    64 << 10,
	}
	for _, l := range listeners {
		go func() {
			if err := server.Serve(l); err != nil && !errors.Is(err, http.ErrServerClosed) {
				failed(fmt.Errorf("serving on %s: %w", l.Addr(), err))
			}
		}()
	}
	return func() {
		ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
		defer cancel()
		if server.Shutdown(ctx) != nil {
			_ = server.Close() // a client that does not let go in time is cut off
		}
	}
}

// pipes is a listener within the program, for a command that serves itself.
type pipes struct {
	ends   chan net.Conn
	closed chan struct{}
}

func newPipes() *pipes { return &pipes{ends: make(chan net.Conn), closed: make(chan struct{})} }

func (p *pipes) Accept() (net.Conn, error) {
	select {
	case c := <-p.ends:
		return within{c}, nil
	case <-p.closed:
		return nil, net.ErrClosed
	}
}

func (p *pipes) dial(ctx context.Context) (net.Conn, error) {
	here, there := net.Pipe()
	select {
	case p.ends <- there:
		return here, nil
	case <-ctx.Done():
		return nil, ctx.Err()
	case <-p.closed:
		return nil, net.ErrClosed
	}
}

func (p *pipes) Close() error {
	select {
	case <-p.closed:
	default:
		close(p.closed)
	}
	return nil
}

// Addr is that of a socket, as which the page trusts it.
func (p *pipes) Addr() net.Addr { return &net.UnixAddr{Name: "within", Net: "unix"} }

// within is an end of a pipe that says it is a socket's.
type within struct{ net.Conn }

func (w within) LocalAddr() net.Addr { return new(pipes).Addr() }
