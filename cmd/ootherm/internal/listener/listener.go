// Package listener serves HTTP within limits: connections, header lines, seconds. It owns
// every figure that keeps callers from taking the descriptors and the memory that probes
// and senders need. It must not know what is served and who is trusted.
package listener

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"sync"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/problem"
)

// Limits of the connections. All are our choice. A browser opens six connections to one
// host (common practice), so two browsers of one address fit.
const (
	maxConnections        = 64 // of one listener
	maxNetworkConnections = 48 // of other machines; the rest is kept for this machine
	maxAddressConnections = 16 // of one address of another machine
	maxSocketConnections  = 32 // of commands on this machine
)

// Limits of a request.
const (
	// net/http reads 4 KB more than this. A form that comes back in the address after the
	// passphrase has up to 8 KB (our choice).
	maxHeaderBytes = 8 << 10
	// A browser sends about 20 lines, and 100 is a common default of web servers.
	maxHeaderLines = 100

	headerTime = 5 * time.Second // our choice; a phone sends its headers in one packet
	// A form of somebody who is not trusted yet is a passphrase of a few bytes (our choice).
	formTime = 10 * time.Second
	// A season of readings goes over a slow phone in this time (our choice).
	trustedTime = 5 * time.Minute
	idleTime    = 30 * time.Second // our choice
	stopTime    = 5 * time.Second  // our choice; the unit allows 30 s for the whole stop
)

// Serve answers on listeners, each with its own limits, until the returned function is
// called. That function gives requests under way five seconds to finish. Errors of a
// listener go to failed.
func Serve(ctx context.Context, h http.Handler, failed func(error), listeners ...net.Listener) func() {
	server := newServer(h)
	for _, l := range listeners {
		go func() {
			if err := server.Serve(limit(l)); err != nil && !errors.Is(err, http.ErrServerClosed) {
				failed(fmt.Errorf("serving on %s: %w", l.Addr(), err))
			}
		}()
	}
	return func() {
		ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopTime)
		defer cancel()
		if server.Shutdown(ctx) != nil {
			_ = server.Close() // cuts off requests that take longer
		}
	}
}

func newServer(h http.Handler) *http.Server {
	stopping, stop := context.WithCancel(context.Background())
	server := &http.Server{
		Handler:           problem.ForPrograms(limitHeaderLines(limitComputed(h))),
		ReadHeaderTimeout: headerTime,
		ReadTimeout:       formTime,
		WriteTimeout:      trustedTime,
		IdleTimeout:       idleTime,
		MaxHeaderBytes:    maxHeaderBytes,
		ConnContext: func(ctx context.Context, c net.Conn) context.Context {
			ctx = context.WithValue(ctx, stoppingKey{}, stopping)
			if x, ok := c.(*conn); ok {
				return context.WithValue(ctx, turnsKey{}, x.owner.turns)
			}
			return ctx
		},
		ConnState: func(c net.Conn, state http.ConnState) {
			if x, ok := c.(*conn); ok {
				x.owner.setState(x, state)
			}
		},
	}
	server.RegisterOnShutdown(stop)
	return server
}

// Trust gives a request five minutes instead of ten seconds: its body may be long, and its
// answer may take long to compute. Call it for callers who may read and write.
func Trust(w http.ResponseWriter) {
	// A writer without a deadline, as in a test, has no limit to extend.
	_ = http.NewResponseController(w).SetReadDeadline(time.Now().Add(trustedTime))
}

// limitHeaderLines answers 431 to a request with too many header lines (RFC 6585 section 5).
func limitHeaderLines(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		lines := 0
		for _, values := range r.Header {
			lines += len(values)
		}
		if lines > maxHeaderLines {
			w.Header().Set("Connection", "close")
			http.Error(w, fmt.Sprintf("The request has %d header lines; %d are allowed.", lines, maxHeaderLines), http.StatusRequestHeaderFieldsTooLarge)
			return
		}
		next.ServeHTTP(w, r)
	})
}

// limited is a listener with a limited number of connections. Where a limit is reached, a
// new connection takes the place of the one that waits longest for a request. If none
// waits, the new one is closed.
type limited struct {
	net.Listener
	total int
	local func(netip.Addr) bool // an address of this machine
	turns turns

	mu    sync.Mutex
	conns map[*conn]bool
	waits uint64 // numbers the waits, in their order
}

// conn is a connection that its listener counts.
type conn struct {
	net.Conn
	owner *limited
	from  netip.Addr // invalid for a socket
	wait  uint64     // the number of its wait for a request; zero while it is answered
}

func limit(l net.Listener) *limited {
	x := &limited{Listener: l, total: maxConnections, local: netip.Addr.IsLoopback, turns: make(turns, maxComputed), conns: map[*conn]bool{}}
	if l.Addr().Network() == "unix" {
		x.total = maxSocketConnections
	}
	return x
}

// Accept returns the next connection within the limits.
func (l *limited) Accept() (net.Conn, error) {
	for {
		c, err := l.Listener.Accept()
		if err != nil {
			return nil, err
		}
		x := &conn{Conn: c, owner: l, from: remoteAddress(c)}
		if l.add(x) {
			return x, nil
		}
		_ = c.Close()
	}
}

// remoteAddress returns the address of the other machine, or an invalid one for a socket.
func remoteAddress(c net.Conn) netip.Addr {
	if a, ok := c.RemoteAddr().(*net.TCPAddr); ok {
		return a.AddrPort().Addr().Unmap().WithZone("")
	}
	return netip.Addr{}
}

// network reports whether a connection comes from another machine.
func (l *limited) network(c *conn) bool { return c.from.IsValid() && !l.local(c.from) }

// add counts a connection. It reports false if there is no place for it.
func (l *limited) add(c *conn) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.network(c) {
		if !l.makePlace(maxAddressConnections, func(x *conn) bool { return x.from == c.from }) ||
			!l.makePlace(maxNetworkConnections, l.network) {
			return false
		}
	}
	if !l.makePlace(l.total, func(*conn) bool { return true }) {
		return false
	}
	l.waits++
	c.wait = l.waits
	l.conns[c] = true
	return true
}

// makePlace makes sure that fewer than most of the counted connections are open. It reports
// false if all of them are being answered.
func (l *limited) makePlace(most int, counted func(*conn) bool) bool {
	n := 0
	var longest *conn
	for x := range l.conns {
		if !counted(x) {
			continue
		}
		n++
		if x.wait != 0 && (longest == nil || x.wait < longest.wait) {
			longest = x
		}
	}
	if n < most {
		return true
	}
	if longest == nil {
		return false
	}
	delete(l.conns, longest)
	_ = longest.Conn.Close() // its server sees the end and closes it again
	return true
}

func (l *limited) setState(c *conn, state http.ConnState) {
	l.mu.Lock()
	defer l.mu.Unlock()
	switch state {
	case http.StateIdle:
		l.waits++
		c.wait = l.waits
	case http.StateActive:
		c.wait = 0
	}
}

// Close closes the connection and frees its place.
func (c *conn) Close() error {
	c.owner.mu.Lock()
	delete(c.owner.conns, c)
	c.owner.mu.Unlock()
	return c.Conn.Close()
}

// CloseWrite ends the answer, so that a caller who still sends can read it.
func (c *conn) CloseWrite() error {
	if x, ok := c.Conn.(interface{ CloseWrite() error }); ok {
		return x.CloseWrite()
	}
	return nil
}
