package listener

import (
	"context"
	"io"
	"net"
	"net/http"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

// Streams hold connections and no turns: pages are answered beside them, and all end when the
// server stops.
func TestStreamsLeaveTheTurnsToOthers(t *testing.T) {
	ended := make(chan struct{}, maxConnections)
	sent := make(chan struct{}, maxConnections)
	l := openTurns(t, 1, func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path != "/stream" {
			return
		}
		Stream(w, r, func(ctx context.Context, send func(string) error) {
			if err := send("begun\n"); err != nil {
				t.Error(err)
			}
			sent <- struct{}{}
			<-ctx.Done()
		})
		ended <- struct{}{}
	})
	const streams = 3
	for range streams {
		c := dial(t, l, "127.0.0.2")
		if _, err := io.WriteString(c, "GET /stream HTTP/1.1\r\nHost: x\r\n\r\n"); err != nil {
			t.Fatal(err)
		}
		<-sent
		got := make([]byte, 1024)
		text := ""
		for !strings.Contains(text, "begun") { // the header first
			n, err := c.Read(got)
			if err != nil {
				t.Fatal(err)
			}
			text += string(got[:n])
		}
		if status := ask(t, dial(t, l, "127.0.0.3"), "/", ""); status != 200 {
			t.Errorf("a page beside a stream: status %d", status)
		}
	}
	if n := l.open(); n < streams {
		t.Errorf("%d connections are counted, with %d streams", n, streams)
	}
	c := dial(t, l, "127.0.0.4") // a caller who goes away ends its stream
	if _, err := io.WriteString(c, "GET /stream HTTP/1.1\r\nHost: x\r\n\r\n"); err != nil {
		t.Fatal(err)
	}
	<-sent
	_ = c.Close()
	<-ended
}

// No deadline of a request ends a stream, and a stop waits for none.
func TestStopEndsStreams(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ended := make(chan struct{})
		p := pipes{make(chan net.Conn, 1)}
		server := newServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			Stream(w, r, func(ctx context.Context, send func(string) error) {
				defer close(ended)
				select {
				case <-ctx.Done():
					t.Error("the stream ended by itself")
				case <-time.After(2 * trustedTime):
				}
				if err := send("still here"); err != nil {
					t.Error(err)
				}
				<-ctx.Done()
			})
		}))
		done := make(chan error, 1)
		go func() { done <- server.Serve(limit(p)) }()
		client, remote := net.Pipe()
		p.conns <- remote
		go func() {
			_, _ = io.WriteString(client, "GET / HTTP/1.1\r\nHost: x\r\n\r\n")
			_, _ = io.Copy(io.Discard, client)
		}()
		<-time.After(3 * trustedTime)
		start := time.Now()
		if err := server.Shutdown(t.Context()); err != nil {
			t.Errorf("the stop: %v", err)
		}
		<-ended
		if d := time.Since(start); d > stopTime {
			t.Errorf("the stop took %v", d)
		}
		_ = client.Close()
		<-done
	})
}
