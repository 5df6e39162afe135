// Package dialer connects to other machines within limits: the seconds of a connect and
// the bytes of a reply. It owns these limits and the rule for redirects. It must not know
// what is sent and who asks.
package dialer

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/url"
	"sync/atomic"
	"time"
)

// Limits of a connection. All are our choice.
const (
	MaxMailReply = 64 << 10 // a mail server greets with a few lines; RFC 5321 section 4.5.3.1.5 allows 512 bytes each
	MaxReply     = 1 << 20  // of a webhook, a watcher, a broker
	// Of a device's metrics. The probe refuses a text of over 4 MB before this, and says so.
	MaxMetricsReply = 5 << 20

	maxHeaderBytes = 64 << 10 // of a reply over HTTP
	connectTime    = 10 * time.Second
	keptIdle       = 90 * time.Second // as net/http's own
	maxRedirects   = 10               // as net/http's own
)

// ErrTooLong is the error of a reply that is longer than its limit.
var ErrTooLong = errors.New("the reply is too long")

// Dialer connects to other machines. It is safe for use by several goroutines.
type Dialer struct{ net net.Dialer }

// New makes a dialer. It connects to nothing.
func New() *Dialer { return &Dialer{net.Dialer{Timeout: connectTime}} }

// Dial returns a function that connects. A reply of more bytes than maxReply is
// [ErrTooLong]: the bytes that arrive after the last thing that was sent.
func (d *Dialer) Dial(maxReply int64) func(ctx context.Context, network, address string) (net.Conn, error) {
	return func(ctx context.Context, network, address string) (net.Conn, error) {
		c, err := d.net.DialContext(ctx, network, address)
		if err != nil {
			return nil, err
		}
		return &conn{Conn: c, limit: maxReply}, nil
	}
}

// Client returns an HTTP client with the limits of [Dialer.Dial]. It follows a redirect to
// the same host and port, or from HTTP to HTTPS of that host, and no other.
func (d *Dialer) Client(maxReply int64) *http.Client {
	return &http.Client{
		CheckRedirect: sameHost,
		Transport: &http.Transport{
			Proxy:                  http.ProxyFromEnvironment,
			DialContext:            d.Dial(maxReply),
			TLSHandshakeTimeout:    connectTime,
			MaxResponseHeaderBytes: maxHeaderBytes,
			MaxIdleConnsPerHost:    1, // an idle connection holds a file descriptor
			IdleConnTimeout:        keptIdle,
		},
	}
}

// ClientFor returns a client as [Dialer.Client] does, whose servers are vouched for by what
// roots gives; nil is the system's. It is asked at each connection.
func (d *Dialer) ClientFor(maxReply int64, roots func() (*x509.CertPool, error)) *http.Client {
	client, dial := d.Client(maxReply), d.Dial(maxReply)
	client.Transport.(*http.Transport).DialTLSContext = func(ctx context.Context, network, address string) (net.Conn, error) {
		trusted, err := roots()
		if err != nil {
			return nil, err
		}
		host, _, err := net.SplitHostPort(address)
		if err != nil {
			return nil, err
		}
		conn, err := dial(ctx, network, address)
		if err != nil {
			return nil, err
		}
		secured := tls.Client(conn, &tls.Config{ServerName: host, RootCAs: trusted, MinVersion: tls.VersionTLS12})
		limited, cancel := context.WithTimeout(ctx, connectTime)
		defer cancel()
		if err := secured.HandshakeContext(limited); err != nil {
			return nil, errors.Join(err, conn.Close())
		}
		return secured, nil
	}
	return client
}

func sameHost(to *http.Request, via []*http.Request) error {
	from := via[len(via)-1].URL
	switch {
	case len(via) >= maxRedirects:
		return fmt.Errorf("it redirects more than %d times", maxRedirects)
	case from.Hostname() != to.URL.Hostname() || port(from) != port(to.URL) && !upgrade(from, to.URL):
		return fmt.Errorf("it redirects to another host, %q; write the address of that one if it is right", to.URL.Host)
	}
	return nil
}

// upgrade reports whether a redirect leads from HTTP to HTTPS at their usual ports.
func upgrade(from, to *url.URL) bool { return port(from) == "80" && port(to) == "443" }

func port(u *url.URL) string {
	if p := u.Port(); p != "" {
		return p
	}
	if u.Scheme == "https" {
		return "443"
	}
	return "80"
}

// conn is a connection whose replies are limited.
type conn struct {
	net.Conn
	limit int64
	read  atomic.Int64 // bytes of the present reply
}

// Read reads up to the limit of a reply.
func (c *conn) Read(p []byte) (int, error) {
	left := c.limit - c.read.Load()
	if left <= 0 {
		return 0, fmt.Errorf("%w: over %d KB; see that the address and the port are right", ErrTooLong, c.limit>>10)
	}
	n, err := c.Conn.Read(p[:min(int64(len(p)), left)])
	c.read.Add(int64(n))
	return n, err
}

// Write sends, and what arrives after it is the next reply.
func (c *conn) Write(p []byte) (int, error) {
	c.read.Store(0)
	return c.Conn.Write(p)
}
