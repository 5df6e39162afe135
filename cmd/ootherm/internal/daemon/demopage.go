package daemon

import (
	"context"
	"errors"
	"fmt"
	"math"
	"net"
	"net/http"
	"strings"
	"sync/atomic"

	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"golang.org/x/sys/unix"
)

// listenForDemo listens at an address. Where another program does, the error names a
// free port.
func listenForDemo(ctx context.Context, listen string) (net.Listener, error) {
	var c net.ListenConfig
	l, err := c.Listen(ctx, "tcp", listen)
	if err == nil {
		return l, nil
	}
	if !errors.Is(err, unix.EADDRINUSE) {
		return nil, usererr.Usage(fmt.Errorf("--listen %s: %w; write it like 127.0.0.1:8090", listen, err))
	}
	host, taken, err := net.SplitHostPort(listen)
	if err != nil {
		return nil, usererr.Usage(fmt.Errorf("--listen %s: %w", listen, err))
	}
	free, err := c.Listen(ctx, "tcp", net.JoinHostPort(host, "0"))
	if err != nil {
		return nil, usererr.Usage(fmt.Errorf("port %s is in use; name another one with --listen: %w", taken, err))
	}
	_, port, err := net.SplitHostPort(free.Addr().String())
	other := net.JoinHostPort(host, port)
	return nil, errors.Join(usererr.Usage(fmt.Errorf("port %s is in use; type: ootherm demo --listen %s", taken, other)), err, free.Close())
}

// demoPage is what a demo answers: how far its season is, and then its station. A program
// gets 503 until then.
type demoPage struct {
	share   atomic.Uint64 // of the season that is made, as the bits of a float64
	station atomic.Pointer[readyHandler]
}

// readyHandler is a handler that can answer once ready reports true.
type readyHandler struct {
	http.Handler
	ready func() bool
}

func (p *demoPage) setShare(share float64) { p.share.Store(math.Float64bits(share)) }

// show has a handler answer from when it is ready.
func (p *demoPage) show(h http.Handler, ready func() bool) { p.station.Store(&readyHandler{h, ready}) }

func (p *demoPage) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if h := p.station.Load(); h != nil && h.ready() {
		h.ServeHTTP(w, r)
		return
	}
	w.Header().Set("Cache-Control", "no-store")
	if path := r.URL.Path; path == "/healthz" || path == "/metrics" || strings.HasPrefix(path, "/api/") {
		w.Header().Set("Retry-After", "5")
		http.Error(w, fmt.Sprintf("The demo makes its season, %.0f %%. Ask again in some seconds.", 100*math.Float64frombits(p.share.Load())), http.StatusServiceUnavailable)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Refresh", "1")
	fmt.Fprintf(w, `<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark"><title>Making the season</title></head>
<body><h1>Making the season, %.0f %%</h1>
<p>Half a year of an egg room is being invented. This page reloads by itself.</p></body></html>
`, 100*math.Float64frombits(p.share.Load())) // a client that went away needs no answer
}
